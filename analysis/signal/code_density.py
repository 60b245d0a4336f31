"""How often each converter code comes: missing and sticky codes (IEEE Std 1241, code density).

An input at rest spreads over a few codes by its noise, and a normal curve says how often each
should come. An input that was moved slowly visits many codes, and each is compared with its
neighbours. DNL = seen/expected - 1, in LSB.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array

MISSING_DNL = -0.9  # IEEE Std 1241: a code narrower than a tenth of the ideal (from memory)
STICKY_DNL = 1.0  # twice as wide as the ideal
# A statement about a code needs this many expected readings: chance alone then misses a code
# once in e^50.
FEWEST_EXPECTED = 50.0
_MOVED_CODES = 64
_NEIGHBOURS = 4
_SIGNIFICANT = 6.0
# A moving input is looked at over so many of its usual codes; less than half a code is a rest.
_STRIDE = 8.0
_LEAST_STRIDE = 0.5
_NOISES = 4.0
# With less noise than this (rms, LSB) a sticky code spoils the very curve it is judged by.
_LEAST_FOR_STICKY = 1.5


@dataclass(frozen=True)
class CodeDensity:
    """Hold which codes came.

    moved: more than 64 codes were visited evenly, so the neighbours are the measure, and only
        readings taken on the way count: where it rests, a code comes often without being wide.
    judged: codes with enough readings for a statement. dnl_worst: largest |DNL| among them.
    """

    lowest: int
    highest: int
    seen: int
    moved: bool
    judged: int
    missing: tuple[int, ...]
    sticky: tuple[int, ...]
    dnl_worst: float


def code_density(codes: NDArray[np.int64]) -> CodeDensity:
    """Return the code density of readings, shape (n,), n >= 1."""
    lowest, highest = int(codes.min()), int(codes.max())
    if highest - lowest >= 1 << 20:
        # Wide converters under a large signal: too few readings per code for any statement.
        return CodeDensity(lowest, highest, int(np.unique(codes).size), True, 0, (), (),
                           float("nan"))
    counts = np.bincount(codes - lowest).astype(np.float64)
    seen = int(np.count_nonzero(counts))
    moved = _moved(codes, counts)
    if moved:
        under_way = codes[_under_way(codes, counts)] - lowest
        counts = np.bincount(under_way, minlength=counts.size).astype(np.float64)
    expected = _from_neighbours(counts) if moved or np.std(codes) > 3.0 else _normal(codes, counts)
    judged = expected >= FEWEST_EXPECTED
    dnl = np.full(counts.size, np.nan)
    dnl[judged] = counts[judged] / expected[judged] - 1.0
    missing = judged & (dnl <= MISSING_DNL)
    with np.errstate(invalid="ignore"):
        sure = counts - expected > _SIGNIFICANT * np.sqrt(expected)
    sticky = judged & (dnl >= STICKY_DNL) & sure & (np.std(codes) >= _LEAST_FOR_STICKY)
    return CodeDensity(
        lowest, highest, seen, moved, int(np.count_nonzero(judged)),
        tuple((np.flatnonzero(missing) + lowest).tolist()),
        tuple((np.flatnonzero(sticky) + lowest).tolist()),
        float(np.nanmax(np.abs(dnl))) if judged.any() else float("nan"))


def _moved(codes: NDArray[np.int64], counts: Array) -> bool:
    """Say whether the input was moved: many codes, and each reading near the one before."""
    if counts.size <= _MOVED_CODES:
        return False
    step = float(np.sqrt(np.mean(np.diff(codes).astype(np.float64) ** 2) / 2.0))
    return step < 0.25 * float(np.std(codes))


def _under_way(codes: NDArray[np.int64], counts: Array) -> NDArray[np.bool_]:
    """Return which readings were taken while the input moved, shape (n,).

    Over the readings that usually make _STRIDE codes, the mean of the later half is then ahead
    of the earlier half's by more than noise makes it, and by a sizeable part of a code.
    """
    half = int(np.ceil(0.5 * _STRIDE * np.median(counts[counts > 0])))
    if 2 * half >= codes.size:
        return np.ones(codes.size, dtype=bool)
    padded = np.pad(codes.astype(np.float64), half, mode="edge")
    total = np.concatenate([[0.0], np.cumsum(padded)])
    place = np.arange(codes.size) + half
    ahead = total[place + half] - total[place]
    behind = total[place] - total[place - half]
    noise = 1.4826 * float(np.median(np.abs(np.diff(codes)))) / 2.0**0.5
    least = _LEAST_STRIDE + _NOISES * noise * (2.0 / half) ** 0.5
    result: NDArray[np.bool_] = np.abs(ahead - behind) / half > least
    return result


def _normal(codes: NDArray[np.int64], counts: Array) -> Array:
    """Return the readings per code that a normal curve of this mean and spread expects."""
    from scipy.special import ndtr

    spread = float(np.std(codes))
    if spread < 0.5:
        # Narrower noise leaves the share of a code to where it lies between two transitions.
        return np.zeros(counts.size)
    middle = float(np.mean(codes)) - float(codes.min())
    edges = np.arange(counts.size + 1) - 0.5
    # The spread of the codes holds their own quantisation, 1/12, which the noise has not.
    own = np.sqrt(max(spread**2 - 1.0 / 12.0, 0.05))
    result: Array = codes.size * np.diff(ndtr((edges - middle) / own))
    return result


def _from_neighbours(counts: Array) -> Array:
    """Return the median of the four codes on either side; 0 where there are not that many."""
    result = np.zeros(counts.size)
    if counts.size > 2 * _NEIGHBOURS:
        windows = np.lib.stride_tricks.sliding_window_view(counts, 2 * _NEIGHBOURS + 1)
        others = np.delete(windows, _NEIGHBOURS, axis=1)
        result[_NEIGHBOURS:-_NEIGHBOURS] = np.median(others, axis=1)
    return result
