"""Coverage: half of the interval that holds a value as surely as two sigma hold a normal one.

JCGM 101:2008 (propagation of distributions) for a sum of a normal part, parts that lie anywhere
within limits, parts that swing like a sine, and shifts that are equally likely. Where one limit
dominates, twice the root-sum-square would hold all there is (EA-4/02 S9: 1.65 instead of 2).
"""

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np

from analysis.model.recording import Array

# What two standard deviations hold of a normal error.
TWO_SIGMA = 0.9544997361036416
# Half of the grid's points: steps of a thousandth of the reach.
_GRID = 1000
# The sine at evenly spread phases.
_PHASES = np.cos(np.pi * (np.arange(24) + 0.5) / 24.0)
# Reach of the normal part in standard deviations.
_TAIL = 6.0


def half_width(sigma: float, limits: Sequence[float] = (), swings: Sequence[float] = (),
               shifts: Iterable[float] = (0.0,), held: float = TWO_SIGMA) -> float:
    """Return h: sigma z + sum(limit r) + sum(swing w) + shift lies within +-h so probably.

    z normal, each r uniform from -1 to 1, each w the sine of an unknown phase (arc sine
    distribution: JCGM 101:2008, 6.4.6), the shift any of `shifts`, all independent. All 0 or
    more but the shifts, in one unit; 0 < held < 1. NaN where sigma is not known.
    """
    if not math.isfinite(sigma):
        return math.nan
    return _half_width(float(sigma), tuple(float(x) for x in limits if x > 0.0),
                       tuple(float(x) for x in swings if x > 0.0),
                       tuple(float(x) for x in shifts), held)


def standard_deviation(sigma: float, limits: Sequence[float] = (), swings: Sequence[float] = (),
                       shifts: Sequence[float] | Array = (0.0,)) -> float:
    """Return the standard uncertainty of the same sum (JCGM 100:2008, 4.3.7 and 5.1.2)."""
    return math.sqrt(sigma**2 + math.fsum(x * x for x in limits) / 3.0
                     + math.fsum(x * x for x in swings) / 2.0
                     + math.fsum(x * x for x in shifts) / len(shifts))


@lru_cache(maxsize=256)
def _half_width(sigma: float, limits: tuple[float, ...], swings: tuple[float, ...],
                shifts: tuple[float, ...], held: float) -> float:
    from scipy.special import ndtr, ndtri

    moved = np.array(shifts)
    if not limits and not swings and not moved.any():
        return float(ndtri(0.5 + 0.5 * held)) * sigma
    reach = _TAIL * sigma + sum(limits) + sum(swings)
    if reach == 0.0:
        return float(np.quantile(np.abs(moved), held))
    x = np.linspace(-reach, reach, 2 * _GRID + 1)
    step = x[1] - x[0]
    # A part below the grid's step is as good as normal beside the others.
    variance = (sum(a**2 / 3.0 for a in limits if a < 2.0 * step)
                + sum(a**2 / 2.0 for a in swings if a < 2.0 * step))
    below: Array = ndtr(x / max(math.sqrt(sigma**2 + variance), 0.5 * step))
    for limit in (a for a in limits if a >= 2.0 * step):
        below = _spread(x, below, limit)
    for swing in (a for a in swings if a >= 2.0 * step):
        below = np.mean([np.interp(x - swing * at, x, below, 0.0, 1.0) for at in _PHASES], axis=0)
    low, high = 0.0, reach + float(np.max(np.abs(moved)))
    while high - low > 1e-6 * high:
        middle = 0.5 * (low + high)
        inside = np.mean(np.interp(middle - moved, x, below) - np.interp(-middle - moved, x, below))
        low, high = (middle, high) if inside < held else (low, middle)
    return 0.5 * (low + high)


def _spread(x: Array, below: Array, limit: float) -> Array:
    """Return the distribution function after adding a uniform part: its mean over +-limit."""
    area = np.concatenate([[0.0], np.cumsum(0.5 * (below[1:] + below[:-1]) * np.diff(x))])

    def to(at: Array) -> Array:
        # Beyond the grid the function is 0 or 1.
        return np.asarray(np.interp(at, x, area) + np.maximum(at - x[-1], 0.0))

    return (to(x + limit) - to(x - limit)) / (2.0 * limit)
