"""How likely readings are with two places to rest at, and with one law: place and scale unknown.

Place and scale are integrated out, evenly in the place and in the logarithm of the scale, so that
the ratio of two laws follows no unit (Jeffreys, Theory of Probability: Bayes factors; Kass &
Raftery 1995). No test of a given false alarm finds more of the catches that the mixture is made
of (Neyman and Pearson's lemma). Checked: tests/analysis/statistics/test_two_resting_places.py.
"""

from functools import lru_cache

import numpy as np

from analysis.model.recording import Array

# Two places: how far apart, in scatters of the lower one; how much wider the upper one scatters,
# as a share of that; how often the pedal catches. All of them alike beforehand.
_APART = np.geomspace(3.5, 80.0, 11)
_WIDER = np.array([0.0, 0.2, 0.5])
_SHARES = np.array([0.04, 0.08, 0.15, 0.25, 0.4])
# Logarithms of 1/scale, for readings whose distance from the median is 1 (root mean square).
_FINE = np.linspace(np.log(0.3), np.log(120.0), 160)
_SCALES = np.linspace(np.log(0.15), np.log(3.0), 30)
_PLACES = np.linspace(-1.2, 1.2, 31)
# How far the law's end may lie below the least reading.
_ENDS = np.geomspace(0.003, 4.0, 36)
# No more ways to part readings than the widest gaps between them are tried.
_WAYS = 48
# A step over what rounding to it hides: no law is denser than one reading in a step.
_STEP = 12.0**0.5


def scaled(order: Array, hidden: float) -> tuple[Array, float]:
    """Return rising readings from their median in units of their spread, and what is hidden."""
    off = order - np.median(order)
    spread = max(float(np.mean(off**2)) ** 0.5, hidden, 1e-12)
    return off / spread, max(hidden / spread, 1e-6)


def two_places(x: Array, hidden: float) -> tuple[Array, Array]:
    """Return how many readings may lie at the upper place, and the log-likelihood of each.

    x: shape (n,), rising, from `scaled`; hidden: what rounding hides, in the same unit. Both
    shape (n // 2,), at most half of the readings above.
    """
    count = x.size
    above = np.arange(1, count // 2 + 1)
    if above.size > _WAYS:
        above = np.sort(above[np.argsort(-np.diff(x)[count - 1 - above])[:_WAYS]])
    below = count - above
    sums, squares = np.cumsum(x), np.cumsum(x * x)
    low, high = sums[below - 1] / below, (sums[-1] - sums[below - 1]) / above
    around = squares[below - 1] - below * low**2
    around_high = squares[-1] - squares[below - 1] - above * high**2
    wide = 1.0 + (_WIDER[:, None] * _APART[None, :]) ** 2  # (wider, apart): variance above.
    weight = above[:, None, None] / wide
    total = below[:, None, None] + weight
    between = below[:, None, None] * weight / total
    inside = np.maximum(around[:, None, None] + around_high[:, None, None] / wide, 0.0)
    sharp = np.exp(_FINE)
    seen = np.maximum(high - low, 0.0)[:, None, None, None] * sharp
    # A scale below what rounding hides tells nothing.
    power = (count - 1) * _FINE - 1e6 * (sharp > 1.0 / hidden) - 0.5 * (
        inside[..., None] * sharp**2
        + between[..., None] * (seen - _APART[None, None, :, None]) ** 2)
    each = (_log_sum(power, -1) - 0.5 * above[:, None, None] * np.log(wide) - 0.5 * np.log(total))
    share = _log_sum(above[:, None] * np.log(_SHARES) + below[:, None] * np.log1p(-_SHARES), -1)
    result: Array = (_log_sum(each.reshape(above.size, -1), -1) - np.log(wide.size)
                     + share - np.log(_SHARES.size) + np.log(_FINE[1] - _FINE[0])
                     - 0.5 * (count - 1) * np.log(2.0 * np.pi))
    return above.astype(np.float64), result


def one_law(x: Array, hidden: float) -> Array:
    """Return the log-likelihoods of normal, flat, Student 5, gamma 2 and exponential readings.

    x, hidden: as in `two_places`. Shape (5,). Normal, flat and exponential by formula, the others
    summed over a grid.
    """
    from scipy.special import gammaln

    n = x.size
    square = float(np.sum((x - x.mean()) ** 2)) + n * hidden**2
    normal = (gammaln((n - 1) / 2.0) - np.log(2.0) - 0.5 * np.log(n)
              - 0.5 * (n - 1) * np.log(np.pi * square))
    wide = max(float(x[-1] - x[0]), _STEP * hidden)
    flat = -np.log(n * (n - 1.0)) - (n - 1) * np.log(wide)
    crowd = max(float(np.sum(x - x[0])), n * _STEP * hidden)
    exponential = gammaln(n - 1) - np.log(n) - (n - 1) * np.log(crowd)
    logs = _SCALES[np.log(hidden) <= _SCALES]
    z = (x - _PLACES[:, None, None]) / np.exp(logs)[:, None]
    student = (_log_sum((-3.0 * np.log1p(z * z / 5.0).sum(axis=2) - n * logs).ravel(), 0)
               + n * _student_height() + np.log(_PLACES[1] - _PLACES[0])
               + np.log(_SCALES[1] - _SCALES[0]))
    ends = np.maximum(_ENDS, hidden)[:, None]
    off = x - x[0] + ends
    gamma = (_log_sum(np.log(off).sum(axis=1) - 2 * n * np.log(off.sum(axis=1))
                      + np.log(ends[:, 0]), 0)
             + gammaln(2 * n) + np.log(np.log(_ENDS[1] / _ENDS[0])))
    return np.array([normal, flat, student, gamma, exponential])


@lru_cache(maxsize=1)
def _student_height() -> float:
    from scipy.special import gammaln

    return float(gammaln(3.0) - gammaln(2.5) - 0.5 * np.log(5.0 * np.pi))


def _log_sum(logs: Array, axis: int) -> Array:
    """Return the logarithm of the sum of exponentials along an axis."""
    top = logs.max(axis=axis, keepdims=True)
    result: Array = np.log(np.exp(logs - top).sum(axis=axis)) + np.squeeze(top, axis=axis)
    return result
