"""Two places where the pedal comes to rest, and how often it may catch; returns that follow suit.

Limits were simulated; tests/analysis/statistics/test_two_resting_places.py draws its own samples
against them.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array
from analysis.statistics.one_or_two_places import one_law, scaled, two_places

_FEWEST = 5
# How likely two places must be against normal, flat, Student 5, gamma 2 and exponential readings,
# as logarithms. More is asked of fewer readings than the usual sweep has, where chance looks like
# anything, and of more, which tell more. How many of each are taken for a catch, and how many
# catches are found: docs/method_deadband.md.
_ASKED = np.array([-0.65, -1.15, -1.15, -1.15, -1.65])
_USUAL, _FEWER, _MORE = 13, 2.0, 0.5
# Correlation counts from its lower 90 % bound on, one-sided, of a standard error of 1/sqrt(n).
_CORRELATION_SURE = 1.282
# Fewer are no sample to bound anything by; no sequence of 8 or more comes down to them.
_LEAST_EFFECTIVE = 3.0
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
    nothing counts, two steps of rounding, in the same unit. Two places must explain the levels
    better than every one of five single laws does, so that a law with a long tail is not taken
    for a catch.
    """
    count = int(lifts.size)
    if count < _FEWEST:
        return None
    order = np.sort(lifts)
    x, hidden = scaled(order, least / (2.0 * _STEP))
    numbers, likely = two_places(x, hidden)
    above = int(numbers[np.argmax(likely)])
    place = count - above
    if order[place] - order[place - 1] <= least or for_two_places(x, hidden, likely) <= 0.0:
        return None
    apart = float(np.mean(order[place:]) - np.mean(order[:place]))
    return Catch(above, count, apart, share_bound(above, count, 0.95))


def for_two_places(x: Array, hidden: float, likely: Array) -> float:
    """Return by how much two places are more likely than is asked over each single law, as a log.

    x, hidden: of one_or_two_places.scaled; likely: of two_places there.
    """
    top = float(likely.max())
    two = top + float(np.log(np.sum(np.exp(likely - top))))
    off_usual = float(np.log(x.size / _USUAL))
    more = min(_MORE * off_usual, 1.0) if off_usual > 0 else -_FEWER * off_usual
    return two - float(np.max(one_law(x, hidden) + _ASKED)) - more


def share_bound(seen: int, of: int, confidence: float) -> float:
    """Return the largest share that may lie behind `seen` of `of` (Clopper & Pearson 1934)."""
    from scipy.special import betaincinv

    if not 0 <= seen <= of or of < 1:
        raise BadParameter("more seen than there are", seen=seen, of=of)
    return 1.0 if seen == of else float(betaincinv(seen + 1, of - seen, confidence))


def effective_number(values: Array) -> float:
    """Return how many independent values these are worth at least, in order of time.

    n (1 - rho) / (1 + rho) of a sequence in which each follows the last (Bayley & Hammersley
    1946), rho of neighbours, freed of the lean of short sequences, (1 + 4 rho)/n (Kendall 1954),
    and taken at its lower 90 % bound: n while rho is within chance, and below 5 values. Never
    less than 3.
    """
    count = values.size
    off = values - values.mean()
    power = float(off @ off)
    if count < _FEWEST or power <= 0:
        return float(count)
    rho = float(off[1:] @ off[:-1]) / power
    rho = min(rho + (1.0 + 4.0 * rho) / count, 0.99) - _CORRELATION_SURE / np.sqrt(count)
    worth = count * (1.0 - rho) / (1.0 + rho) if rho > 0 else float(count)
    return float(max(worth, _LEAST_EFFECTIVE))
