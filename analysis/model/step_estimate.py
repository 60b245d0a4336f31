"""The step of a converter, found from readings in volts that lie on its grid."""

import numpy as np
from numpy.typing import NDArray

LEAST_LEVELS = 12
# Readings on a grid lie this close to it, root mean square, in steps; any readings at all lie
# 1 / sqrt(12) = 0.29 from one. Rounding to half a step more still leaves 0.15.
ON_GRID = 0.17
# Of the grid's levels between the lowest and the highest reading, at least this share was seen.
SEEN = 0.3
# A slow log jumps over most levels. So close to a grid twelve levels do not come by chance: each
# has at most a chance of 0.05 * sqrt(12) = 0.17, all of them 1e-9. But decimals finer than 14 bits
# are what was printed, and no converter's step.
EXACT = 0.05
MOST_STEPS = 2.0**14


def grid_step(readings: NDArray[np.float64]) -> float:
    """Return the step of the grid that readings lie on, in their unit; NaN when they lie on none.

    readings: shape (n,), NaN where missing. A small gap between neighbouring levels is the
    first guess; a straight line of the levels on their numbers makes it exact, also where the
    log was rounded to decimals. Decimals coarser than the converter are the step themselves.
    """
    levels = np.unique(readings[np.isfinite(readings)])
    if levels.size < LEAST_LEVELS:
        return float("nan")
    # What is one level may differ in the last bits of the arithmetic that made it.
    apart = np.diff(levels) > 1e-9 * float(np.abs(levels).max())
    levels = levels[np.r_[True, apart]]
    gaps = np.diff(levels)
    if gaps.size < LEAST_LEVELS:
        return float("nan")
    # A gap that is there: half way between two there may be none to take the mean of.
    small = float(np.quantile(gaps, 0.25, method="lower"))
    step = float(np.mean(gaps[np.abs(gaps - small) <= small / 2]))
    numbers, left = gaps, gaps
    for _ in range(4):
        numbers = np.cumsum(np.r_[0.0, np.maximum(np.rint(gaps / step), 1.0)])
        middle = numbers - numbers.mean()
        step = float(middle @ levels) / float(middle @ middle)
        left = (levels - levels.mean() - step * middle) / step
    seen = levels.size / (float(numbers[-1]) + 1.0)
    off = float(np.sqrt(np.mean(left**2)))
    plain = off <= EXACT and float(numbers[-1]) <= MOST_STEPS
    return step if plain or (off <= ON_GRID and seen >= SEEN) else float("nan")
