"""The bound on later returns that holds for every law of a stated set, not for the normal alone.

bound = max + c S, c the worst over the laws of the set. It follows the scale and the place of any
law, so only its shape matters. S weighs the far values and a lean towards pressed: with
max - median in its place a normal pedal pays a tenth more at 20 returns (docs/method_deadband.md,
"Returns"). `tests/studies/make_bound_table.py` simulates c.
Kind of bound: predictive pivots (Lawless & Fredette 2005; Hahn & Meeker, Statistical Intervals).
"""

from functools import lru_cache

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array
from analysis.statistics import bound_table as table

# Normal scatter; normal, Student 5, gamma 2 or exponential; these, Student 3, lognormal or Weibull
# 0.7.
LAWS = ("even", "stick", "wide")
# Factors fall to 0; the logarithm is taken a little above it, so that it stays smooth.
_LIFT = 0.1
# How much values count that crowd at their low end, as those of a pedal that sticks do. Chosen,
# like the powers of S, for what the four laws cost at 13 and 20 returns (bound_limits.py).
LEAN = 0.7
# Linear interpolation between the nodes of the table, and its simulation, move c by less.
TABLE_ERROR = 0.04


@lru_cache(maxsize=256)
def returns_factor(returns: float, later: int, confidence: float, laws: str) -> float:
    """Return c: max + c S holds all of `later` values with that confidence; S: `lean_scale`.

    returns: values behind max and S, 3 or more (fewer: inf; above 200 as for 200). later: 1
    to a million. laws: "stick" or "wide" of `LAWS`. Interpolated evenly in log n, log m and
    log risk, right to TABLE_ERROR; a risk below the table's is followed on in a straight line.
    Raises BadParameter on another word.
    """
    if laws not in ("stick", "wide"):
        raise BadParameter("unknown laws", laws=laws)
    if returns < table.RETURNS[0]:
        return float("inf")
    whole = np.log(np.array(table.STICK if laws == "stick" else table.WIDE) + _LIFT)
    # The table keeps rows of `later` behind each other within a block of `returns`.
    whole = whole.reshape(len(table.RETURNS), len(table.LATER), len(table.RISKS))
    by_risk = _between(np.log(returns), np.log(table.RETURNS), whole)
    by_risk = _between(np.log(later), np.log(table.LATER), by_risk)
    risk = -np.log(1.0 - confidence)
    risks = -np.log(table.RISKS)
    value = float(_between(risk, risks, by_risk))
    if risk > risks[-1]:
        steep = (by_risk[-1] - by_risk[-2]) / (risks[-1] - risks[-2])
        value = float(by_risk[-1] + steep * (risk - risks[-1]))
    return max(float(np.exp(value)) - _LIFT, 0.0)


def reach_factor(readings: int, confidence: float, laws: str) -> float:
    """Return c: max + c S lies above 95 % of all values of any law of the set, so surely.

    readings: 3 or more (fewer: inf; above 200 as for 200); confidence: between 0 and 0.9995,
    above as there. A tolerance bound (ISO 16269-6), 0 where the largest does by itself.
    Raises BadParameter on another word than "stick" or "wide".
    """
    if laws not in ("stick", "wide"):
        raise BadParameter("unknown laws", laws=laws)
    if readings < table.RETURNS[0]:
        return float("inf")
    rows = np.array(table.STICK_REACH if laws == "stick" else table.WIDE_REACH)
    by_sure = _between(np.log(readings), np.log(table.RETURNS), rows)
    return max(float(_between(-np.log1p(-min(confidence, table.SURE[-1])),
                              -np.log1p(-np.array(table.SURE)), by_sure)), 0.0)


def scale_doubt(readings: int, laws: str) -> float:
    """Return the standard uncertainty of the logarithm of a scatter from so many readings.

    laws: a word of `LAWS`, the worst of the set. Normal: sqrt(trigamma((n - 1)/2))/2, that of a
    chi variable. Else sqrt((kurtosis - 1)/(4 n)) with the kurtosis 9 of the exponential and of
    Student 5, and 29 of the wide set, which holds it up to 60 readings (simulated). Fewer than 2
    readings: inf.
    """
    from scipy.special import polygamma

    if readings < 2:
        return float("inf")
    if laws == "even":
        return float(np.sqrt(polygamma(1, (readings - 1) / 2.0)) / 2.0)
    return float(np.sqrt((2.0 if laws == "stick" else 7.0) / readings))


def lean_scale(values: Array, least: float = 0.0) -> float:
    """Return S, the scale of values with the far ones and a lean upwards weighed in.

    values: shape (n,), n of 3 or more. M4 sqrt(M4/M2) (s/(mean - least))^0.7: with d from the
    median, M2 and M4 are the roots of the means of d^2 and d^4; s is the standard deviation.
    least: of S, s and mean - least value, in the same unit: what rounding hides.
    """
    off = values - np.median(values)
    square, fourth = float(np.mean(off**2)) ** 0.5, float(np.mean(off**4)) ** 0.25
    if square <= 0:
        return least
    crowded = max(float(np.mean(values) - values.min()), least)
    lean = max(float(np.std(values, ddof=1)), least) / crowded
    return float(max(fourth * (fourth / square) ** 0.5 * lean**LEAN, least))


def returns_bound(lifts: Array, later: int, confidence: float, laws: str, hidden: float,
                  effective: float | None = None) -> tuple[float, float]:
    """Return the bound on `later` lifts, in the unit of `lifts`, and the factor c behind it.

    lifts: shape (n,), towards pressed positive. hidden: what rounding hides, the least that S is
    taken for. effective: how many independent ones they are worth.
    """
    factor = returns_factor(effective or float(lifts.size), later, confidence, laws)
    return float(lifts.max()) + factor * lean_scale(lifts, hidden), factor


def _between(at: float, nodes: Array, values: Array) -> Array:
    """Return values at a place along their first axis, linear between the nodes."""
    at = min(max(at, float(nodes[0])), float(nodes[-1]))
    k = int(np.clip(np.searchsorted(nodes, at) - 1, 0, len(nodes) - 2))
    share = (at - nodes[k]) / (nodes[k + 1] - nodes[k])
    result: Array = (1.0 - share) * values[k] + share * values[k + 1]
    return result
