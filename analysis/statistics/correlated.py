"""A line or a step through readings whose noise remembers: how sure is it really?

Model of block means: y = X b + e, e = white (its own size before and after key-on) plus
flicker (1/f) noise, the flicker being a sum of exponentially forgetting parts with time
constants an octave apart, which is 1/f over the range spanned (a standard construction; see
Keshner 1982, "1/f noise"). The share of flicker, theta, is not known: the restricted likelihood
(Patterson & Thompson 1971) weighs a grid of shares, the flicker being there all along or growing
with the white noise at key-on, and the interval is the mixture of the Student t intervals of all
of them. Batch means alone would be far too sure of themselves here, because 1/f noise never
averages out.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array

_SHARES = np.concatenate([[0.0], np.geomspace(1e-3, 1e4, 36)])
# How likely, beforehand, slow noise that grows at key-on is against one that is there all along.
# Chosen on random cars 3000 to 3499 (tests/studies/key_on_accuracy.py), checked on others.
_GROWING_ODDS = 0.2
# Rounding moves a probability by less than this.
_SURE = 1e-14


@dataclass(frozen=True)
class Fit:
    """Hold one coefficient: value, and limits at the asked confidence."""

    value: float
    low: float
    high: float


def flicker_covariance(time_s: Array, shortest_s: float) -> Array:
    """Return the covariance of unit 1/f noise at the times, shape (n, n).

    shortest_s: the block length; the longest time constant is 64 times the time covered.
    """
    longest = 64.0 * max(float(np.ptp(time_s)), shortest_s)
    octaves = max(1, int(np.ceil(np.log2(longest / shortest_s))))
    lag = np.abs(time_s[:, None] - time_s[None, :])
    result: Array = np.zeros(lag.shape)
    for k in range(octaves + 1):
        result += np.exp(-lag / (shortest_s * 2.0**k))
    return result


def walk_covariance(time_s: Array) -> Array:
    """Return the covariance of a random walk that gains unit variance over the times, (n, n)."""
    since = time_s - time_s.min()
    result: Array = np.minimum(since[:, None], since[None, :]) / max(float(since.max()), 1e-9)
    return result


def fit_coefficient(y: Array, design: Array, time_s: Array, white: Array, which: int,
                    confidence: float, may_walk: bool = False) -> Fit:
    """Return coefficient `which` of y = design @ b with noise that remembers.

    y: (n,), design: (n, p), n >= p + 2; time_s: (n,), s; white: (n,), relative variance of the
    white part of each reading. All shares of flicker enter, weighed by how well they explain y.
    may_walk: the level may wander off as a random walk as well (1/f^2), as over minutes it does.
    """
    n, p_count = design.shape
    root = np.sqrt(white)
    scaled_y, scaled_x = y / root, design / root[:, None]
    block = float(np.median(np.diff(np.sort(time_s)))) if n > 1 else 1.0
    flicker = flicker_covariance(time_s, max(block, 1e-9))
    # Either the slow noise is there all along, or it grows with the white noise at key-on.
    slow = [(flicker / np.outer(root, root), 1.0), (flicker, _GROWING_ODDS)]
    if may_walk:
        # A constant is in every design, so that the walk's own start does not matter.
        slow.append((walk_covariance(time_s) * flicker[0, 0] / np.outer(root, root), 1.0))
    parts = tuple(_weighed(scaled_y, scaled_x, matrix, which) for matrix, _ in slow)
    value, error = (np.concatenate([p[k] for p in parts]) for k in (0, 1))
    likelihood = np.concatenate([p[2] + np.log(odds)
                                 for p, (_, odds) in zip(parts, slow, strict=True)])
    belief = np.exp(likelihood - likelihood.max())
    belief /= belief.sum()
    centre = float(belief @ value)
    mixture = _Mixture(belief, value, error, n - p_count)
    tail = 0.5 * (1.0 - confidence)
    spread = float(np.sqrt(belief @ error**2 + belief @ (value - centre) ** 2))
    return Fit(centre, mixture.quantile(tail, centre, spread),
               mixture.quantile(1.0 - tail, centre, spread))


@dataclass(frozen=True)
class _Mixture:
    """Hold Student t distributions, each with its belief, value and error, all shape (m,)."""

    belief: Array
    value: Array
    error: Array
    freedom: int

    def below(self, level: float) -> float:
        """Return the probability below a level."""
        from scipy.special import stdtr

        return float(self.belief @ stdtr(self.freedom, (level - self.value) / self.error))

    def density(self, level: float) -> float:
        """Return the probability per unit at a level."""
        from scipy.special import gammaln

        half = 0.5 * (self.freedom + 1.0)
        scale = np.exp(gammaln(half) - gammaln(0.5 * self.freedom)) / np.sqrt(
            np.pi * self.freedom)
        t = (level - self.value) / self.error
        return float(scale * np.sum(self.belief / self.error
                                    * (1.0 + t**2 / self.freedom) ** -half))

    def quantile(self, probability: float, centre: float, spread: float) -> float:
        """Return the level with that probability below it, by halving to the last digit."""
        reach = 100.0 * float(np.max(self.error)) + float(np.ptp(self.value))
        low, high = centre - reach, centre + reach
        sure_low, sure_high = self._close_by(probability, low, high, centre, spread)
        for _ in range(60):
            middle = 0.5 * (low + high)
            if middle in (low, high):
                break
            # Beside the close limits it is known without asking: most of the 60 times.
            too_low = middle <= sure_low or (
                middle < sure_high and self.below(middle) < probability)
            low, high = (middle, high) if too_low else (low, middle)
        return 0.5 * (low + high)

    def _close_by(self, probability: float, low: float, high: float, centre: float,
                  spread: float) -> tuple[float, float]:
        """Return levels surely on either side of the quantile; low and high if none are found."""
        from scipy.special import ndtri

        least, most = low, high
        level = centre + spread * float(ndtri(probability))
        for _ in range(12):  # Newton, kept within what is known
            missed = self.below(level) - probability
            if abs(missed) < _SURE:
                break
            least, most = (level, most) if missed < 0.0 else (least, level)
            level -= missed / max(self.density(level), 1e-300)
            if not least < level < most:
                level = 0.5 * (least + most)
        # Beyond what rounding may do to the probability.
        aside = 4.0 * _SURE / max(self.density(level), 1e-300)
        if self.below(level - aside) < probability - _SURE \
                and self.below(level + aside) > probability + _SURE:
            return level - aside, level + aside
        return low, high


def _weighed(y: Array, design: Array, flicker: Array, which: int) -> tuple[Array, Array, Array]:
    """Return coefficient, standard error and log likelihood for every share of flicker.

    y, design, flicker: scaled so that the white part has variance 1 throughout.
    """
    eigen, vectors = np.linalg.eigh(flicker)
    eigen = np.maximum(eigen, 0.0)
    ry, rx = vectors.T @ y, vectors.T @ design
    variance = 1.0 + _SHARES[:, None] * eigen[None, :]
    weight = 1.0 / variance
    normal = np.einsum("gi,ij,ik->gjk", weight, rx, rx)
    inverse = np.linalg.inv(normal)
    beta = np.einsum("gjk,gk->gj", inverse, np.einsum("gi,ij,i->gj", weight, rx, ry))
    residual = ry[None, :] - beta @ rx.T
    rss = np.maximum(np.sum(weight * residual**2, axis=1), 1e-30)
    freedom = y.size - design.shape[1]
    likelihood = -0.5 * (np.sum(np.log(variance), axis=1)
                         + np.linalg.slogdet(normal)[1] + freedom * np.log(rss))
    error = np.sqrt(np.maximum(rss / freedom * inverse[:, which, which], 1e-30))
    return beta[:, which], error, likelihood


def student_interval(values: Array, confidence: float) -> tuple[float, float, float]:
    """Return mean, low and high of a Student t interval of the mean; needs 2 values."""
    from scipy.special import stdtrit

    mean = float(np.mean(values))
    half = float(stdtrit(values.size - 1, 0.5 + 0.5 * confidence)
                 * np.std(values, ddof=1) / np.sqrt(values.size))
    return mean, mean - half, mean + half
