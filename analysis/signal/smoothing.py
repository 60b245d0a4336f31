"""Small tools on rows of readings: runs, blocks, running medians, bins. All vectorised."""

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array

Mask = NDArray[np.bool_]
Rows = NDArray[np.intp]
# Up to so many values a sort is as quick as a partition, and has no order that slows it down: that
# of readings less their median does, tenfold.
SORTED = 2048


def median(values: Array) -> float:
    """Return the median of at least one finite value; numpy's own takes ten times as long on few.

    values: shape (n,), n > 0, no NaN.
    """
    half = values.size // 2
    ordered = values.copy()
    if values.size <= SORTED:
        ordered.sort()
        upper = float(ordered[half])
        return upper if values.size % 2 else (upper + float(ordered[half - 1])) / 2.0
    ordered.partition(half)
    upper = float(ordered[half])
    return upper if values.size % 2 else (upper + float(ordered[:half].max())) / 2.0


def runs(mask: Mask) -> tuple[Rows, Rows]:
    """Return starts and stops (rows [start, stop)) of every run of True in `mask`."""
    padded = np.zeros(mask.size + 2, dtype=np.int8)
    padded[1:-1] = mask
    change = np.diff(padded)
    return np.flatnonzero(change == 1), np.flatnonzero(change == -1)


def filled(values: Array) -> Array:
    """Return `values` with NaN replaced by a straight line between neighbours (ends held).

    All-NaN input comes back as zeros, so that a dead channel does not stop the others.
    """
    good = np.isfinite(values)
    if good.all():
        return values
    if not good.any():
        return np.zeros(values.shape)
    rows = np.arange(values.size)
    result: Array = np.interp(rows, rows[good], values[good])
    return result


def trusted_only(values: Array, trusted: Mask) -> Array:
    """Return `values` with a straight line between neighbours where they are not trusted."""
    return filled(values if trusted.all() else np.where(trusted, values, np.nan))


def block_medians(values: Array, size: int) -> Array:
    """Return the median of every whole block of `size` rows, shape (n // size,)."""
    count = values.size // size
    whole = values[: count * size]
    if size == 1:
        return whole.copy()
    # Of an even number the upper of the two middle values: half a noise off at most, and the
    # mean of both would cost a second pass.
    ordered = np.partition(whole.reshape(count, size), size // 2, axis=1)
    return ordered[:, size // 2].copy()


def block_means(values: Array, trusted: Mask, size: int) -> Array:
    """Return the mean of the trusted rows of every whole block; NaN where none is trusted."""
    count = values.size // size
    if trusted.all():
        means: Array = values[: count * size].reshape(count, size).mean(axis=1)
        return means
    weights = trusted[: count * size].reshape(count, size)
    whole = np.where(weights, values[: count * size].reshape(count, size), 0.0)
    number = weights.sum(axis=1)
    result: Array = np.full(count, np.nan)
    np.divide(whole.sum(axis=1), number, out=result, where=number > 0)
    return result


def running_median(values: Array, width: int) -> Array:
    """Return the running median over an odd `width` of rows, ends padded with the end values.

    values: shape (n,), n > 0, no NaN.
    """
    from scipy.ndimage import median_filter

    result: Array = median_filter(values, size=width, mode="nearest")
    return result


def running_mean(values: Array, width: int) -> Array:
    """Return the running mean over an odd `width` of rows, ends padded with the end values.

    values: shape (n,), n > 0, no NaN.
    """
    from scipy.ndimage import uniform_filter1d

    result: Array = uniform_filter1d(values, width, mode="nearest")
    return result


def bin_means(place: Array, values: Array, edges: Array) -> tuple[Array, Array, Array]:
    """Return mean, standard deviation and number of `values` in each bin of `place`.

    edges: shape (m + 1,), evenly spaced. NaN mean where a bin is empty.
    """
    bins = edges.size - 1
    width = (edges[-1] - edges[0]) / bins
    index = np.floor((place - edges[0]) / width)
    inside = (index >= 0) & (index < bins) & np.isfinite(values)
    which = index[inside].astype(np.intp)
    chosen = values[inside]
    number = np.bincount(which, minlength=bins).astype(np.float64)
    mean: Array = np.full(bins, np.nan)
    np.divide(np.bincount(which, chosen, bins), number, out=mean, where=number > 0)
    spread: Array = np.full(bins, np.nan)
    square = np.bincount(which, (chosen - mean[which]) ** 2, bins)
    np.divide(square, number - 1, out=spread, where=number > 1)
    return mean, np.sqrt(spread), number


def robust_spread(values: Array) -> float:
    """Return 1.4826 * median absolute deviation (the standard deviation of a normal sample).

    values: shape (n,), n > 0, no NaN.
    """
    return 1.4826 * median(np.abs(values - median(values)))
