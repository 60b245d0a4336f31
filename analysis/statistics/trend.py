"""Whether rest moves with the number of the return: Mann-Kendall's test and Theil-Sen's slope.

Both go by rank, so that one return that stuck neither makes nor hides a trend.
Mann 1945; Kendall, Rank Correlation Methods; Sen 1968.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analysis.model.recording import Array


@dataclass(frozen=True)
class Trend:
    """Hold a trend: chance of so much rise without any, slope per return and its upper bound."""

    chance: float
    slope: float
    upper_slope: float


def trend(levels: Array) -> Trend:
    """Return the rising trend of values in order of time.

    levels: shape (n,), n of 3 or more. chance: one-sided, exact without ties up to 60 values,
    else normal with the correction for ties. upper_slope: one-sided at 95 %.
    """
    count = levels.size
    i, j = np.triu_indices(count, 1)
    differ = levels[j] - levels[i]
    score = int(np.sum(np.sign(differ)))
    slopes = np.sort(differ / (j - i))
    _, ties = np.unique(levels, return_counts=True)
    variance = (count * (count - 1) * (2 * count + 5)
                - float(np.sum(ties * (ties - 1) * (2 * ties + 5)))) / 18.0
    rank = 1.645 * np.sqrt(variance)
    upper = slopes[min(int(np.ceil((slopes.size + rank) / 2.0)), slopes.size - 1)]
    return Trend(_chance(score, count, variance, bool(np.any(ties > 1))),
                 float(np.median(slopes)), float(upper))


def _chance(score: int, count: int, variance: float, tied: bool) -> float:
    from scipy.special import ndtr

    if variance <= 0:
        return 1.0
    if tied or count > 60:
        return float(ndtr(-(score - 1) / np.sqrt(variance)))
    pairs = count * (count - 1) // 2
    discordant = (pairs - score) // 2
    return float(_inversions(count)[: discordant + 1].sum())


@lru_cache(maxsize=64)
def _inversions(count: int) -> Array:
    """Return the chance of each number of inversions of a random order of so many values."""
    chances = np.ones(1)
    for size in range(2, count + 1):
        chances = np.convolve(chances, np.full(size, 1.0 / size))
    return chances
