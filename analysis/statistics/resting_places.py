"""Two places where the pedal comes to rest, and how often it may catch; returns that follow suit.

Limits were simulated; tests/analysis/statistics/test_returns_bound_and_trend.py draws its own
samples against them.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array

_COUNTS = (5, 8, 10, 13, 20, 30, 60)
# A gap, in what such a gap is on average among normal values, over the spread of those below it:
# normal samples pass it, and are better explained by two places, in 10 of 1000 (5 and 8 values) to
# 20 of 1000 (13 and more).
_APART = (15.2, 10.9, 8.3, 6.7, 6.7, 6.3, 6.0)
# Correlation counts from its lower 95 % bound on, one-sided, of a standard error of 1/sqrt(n).
_CORRELATION_SURE = 1.645
# Fewer are no sample to bound anything by; no sequence of 8 or more comes down to them.
_LEAST_EFFECTIVE = 3.0
# Those of the second place scatter by this share of its distance, beside the pedal's own scatter.
_SECOND_SPREAD = 0.2
# A step over what rounding to it hides: no law is denser than one value in a step.
_STEP = 12.0**0.5


@dataclass(frozen=True)
class Catch:
    """Hold a second resting place: returns there, of how many, how far off, its largest share.

    share: upper 95 % bound (Clopper & Pearson 1934).
    """

    times: int
    of: int
    apart: float
    share: float


def find_catch(lifts: Array, least: float = 0.0) -> Catch | None:
    """Return the second resting place above the usual one, or None.

    lifts: shape (n,), towards pressed positive; fewer than 5 tell nothing. least: gap below which
    nothing counts, two steps of rounding, in the same unit. A gap in the upper half must be too
    wide for normal scatter, and two places must explain the values better than any one law does
    (`one_or_two`), so that a law with a long tail is not taken for a catch.
    """
    from scipy.special import ndtri

    count = int(lifts.size)
    if count < _COUNTS[0]:
        return None
    order = np.sort(lifts)
    scores = ndtri((np.arange(1, count + 1) - 0.375) / (count + 0.25))  # Blom 1958.
    best, place = 0.0, count
    for low in range(count - count // 2, count):
        gap = float(order[low] - order[low - 1])
        usual = float((scores[low] - scores[low - 1]) / np.std(scores[:low], ddof=1))
        # Levels alike after rounding may still differ by what it hides.
        spread = max(float(np.std(order[:low], ddof=1)), least / (2.0 * _STEP), 1e-12)
        if gap > least and gap / spread / usual > best:
            best, place = gap / spread / usual, low
    if best <= _limit(_APART, count) or one_or_two(order, least / (2.0 * _STEP)) <= 0:
        return None
    above = count - place
    apart = float(np.mean(order[place:]) - np.mean(order[:place]))
    return Catch(above, count, apart, share_bound(above, count, 0.95))


def one_or_two(order: Array, hidden: float = 0.0) -> float:
    """Return by how much two places explain values better than the best of five single laws.

    order: shape (n,), rising. Difference of log-likelihoods, each law fitted: normal values at
    two places, the upper ones scattering by _SECOND_SPREAD of their distance too, against normal,
    flat, Student 5, gamma 2 and exponential ones. hidden: what rounding hides, a step / sqrt(12).
    """
    hidden = max(hidden, 1e-12)
    return _two_places(order, hidden) - max(
        _normal(order, hidden), _flat(order, hidden), _student(order, hidden),
        _gamma(order, hidden), _exponential(order, hidden))


def _two_places(x: Array, hidden: float) -> float:
    count, best = x.size, -np.inf
    for low in range(count - count // 2, count):
        below, above = x[:low], x[low:]
        variance = max(float(np.var(below)), hidden**2)
        wider = variance + (_SECOND_SPREAD * float(above.mean() - below.mean())) ** 2
        value = (_gauss(below, variance) + _gauss(above, wider)
                 + low * np.log(low / count) + above.size * np.log(above.size / count))
        best = max(best, float(value))
    return best


def _gauss(x: Array, variance: float) -> float:
    off = x - x.mean()
    return float(-0.5 * x.size * np.log(2 * np.pi * variance) - 0.5 * (off @ off) / variance)


def _normal(x: Array, hidden: float) -> float:
    return _gauss(x, max(float(np.var(x)), hidden**2))


def _flat(x: Array, hidden: float) -> float:
    # The ends of a flat law lie outside the furthest values, by their mean distance.
    wide = float(np.ptp(x)) * (x.size + 1) / (x.size - 1)
    return float(-x.size * np.log(max(wide, _STEP * hidden)))


def _student(x: Array, hidden: float) -> float:
    """Return the log-likelihood of Student's law of 5 degrees, fitted by reweighing."""
    from scipy.special import gammaln

    middle, square = float(np.median(x)), max(0.6 * float(np.var(x)), hidden**2)
    for _ in range(25):
        weight = 6.0 / (5.0 + (x - middle) ** 2 / square)
        middle = float(weight @ x / weight.sum())
        square = max(float(np.mean(weight * (x - middle) ** 2)), hidden**2)
    tails = -3.0 * np.sum(np.log1p((x - middle) ** 2 / square / 5.0))
    whole = gammaln(3.0) - gammaln(2.5) - 0.5 * np.log(5.0 * np.pi * square)
    return float(x.size * whole + tails)


def _gamma(x: Array, hidden: float) -> float:
    """Return the log-likelihood of the gamma law of shape 2, its end sought on a grid."""
    ends = float(x[0]) - np.geomspace(0.01, 3.0, 40) * max(float(np.std(x)), hidden)
    off = x[None, :] - ends[:, None]
    scale = np.maximum(off.mean(axis=1) / 2.0, hidden)
    return float(np.max(np.log(off).sum(axis=1) - 2 * x.size * np.log(scale)
                        - off.sum(axis=1) / scale))


def _exponential(x: Array, hidden: float) -> float:
    off = x - x[0]
    scale = max(float(off.sum()) / (x.size - 1), _STEP * hidden)
    return float(-x.size * np.log(scale) - off.sum() / scale)


def share_bound(seen: int, of: int, confidence: float) -> float:
    """Return the largest share that may lie behind `seen` of `of` (Clopper & Pearson 1934)."""
    from scipy.special import betaincinv

    if not 0 <= seen <= of or of < 1:
        raise BadParameter(f"{seen} of {of} is no share; use 0 to the number seen")
    return 1.0 if seen == of else float(betaincinv(seen + 1, of - seen, confidence))


def effective_number(values: Array) -> float:
    """Return how many independent values these are worth at least, in order of time.

    n (1 - rho) / (1 + rho) of a sequence in which each follows the last (Bayley & Hammersley
    1946), rho of neighbours, freed of the lean of short sequences, (1 + 4 rho)/n (Kendall 1954),
    and taken at its lower 95 % bound: n while rho is within chance, and below 5 values. Never
    less than 3.
    """
    count = values.size
    off = values - values.mean()
    power = float(off @ off)
    if count < _COUNTS[0] or power <= 0:
        return float(count)
    rho = float(off[1:] @ off[:-1]) / power
    rho = min(rho + (1.0 + 4.0 * rho) / count, 0.99) - _CORRELATION_SURE / np.sqrt(count)
    worth = count * (1.0 - rho) / (1.0 + rho) if rho > 0 else float(count)
    return float(max(worth, _LEAST_EFFECTIVE))


def _limit(limits: tuple[float, ...], count: int) -> float:
    return float(np.interp(np.log(count), np.log(_COUNTS), limits))
