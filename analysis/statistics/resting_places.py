"""Two places where the pedal comes to rest, and how often it may catch; returns that follow suit.

Limits were simulated; tests/analysis/statistics/test_returns_bound_and_trend.py draws its own
samples against them.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array

_COUNTS = (5, 8, 10, 13, 20, 30, 60)
# A gap in the upper half over the whole spread of what lies below it. Normal and uniform samples
# pass it in fewer than one of 100, Student 5 and gamma 2 ones in one of 30, exponential ones in
# one of 12.
_APART = (6.10, 2.77, 2.25, 1.81, 1.32, 1.03, 0.78)
# Correlation of neighbours that independent values pass in one sample of 50.
_CORRELATED = (0.40, 0.47, 0.48, 0.46, 0.40, 0.34, 0.26)


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
    nothing counts, in the same unit.
    """
    if lifts.size < _COUNTS[0]:
        return None
    order = np.sort(lifts)
    gaps = np.diff(order)
    half = lifts.size // 2
    below = np.maximum(order[half:-1] - order[0], 1e-12)
    place = half + int(np.argmax(gaps[half:] / below))
    gap, wide = float(gaps[place]), float(order[place] - order[0])
    above = lifts.size - 1 - place
    if gap <= max(_limit(_APART, lifts.size) * wide, least):
        return None
    apart = float(np.mean(order[place + 1:]) - np.mean(order[: place + 1]))
    return Catch(above, int(lifts.size), apart, share_bound(above, int(lifts.size), 0.95))


def share_bound(seen: int, of: int, confidence: float) -> float:
    """Return the largest share that may lie behind `seen` of `of` (Clopper & Pearson 1934)."""
    from scipy.special import betaincinv

    if not 0 <= seen <= of or of < 1:
        raise BadParameter(f"{seen} of {of} is no share; use 0 to the number seen")
    return 1.0 if seen == of else float(betaincinv(seen + 1, of - seen, confidence))


def effective_number(values: Array) -> float:
    """Return how many independent values these are worth, in order of time.

    n (1 - rho) / (1 + rho) of a sequence in which each follows the last (Bayley & Hammersley
    1946); n while rho is within chance, and below 5 values.
    """
    count = values.size
    off = values - values.mean()
    power = float(off @ off)
    if count < _COUNTS[0] or power <= 0:
        return float(count)
    rho = float(off[1:] @ off[:-1]) / power
    if rho <= _limit(_CORRELATED, count):
        return float(count)
    return max(count * (1.0 - rho) / (1.0 + rho), 1.0)


def _limit(limits: tuple[float, ...], count: int) -> float:
    return float(np.interp(np.log(count), np.log(_COUNTS), limits))
