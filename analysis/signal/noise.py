"""Noise along travel: what a track does that neither the foot nor its own shape does.

Method: docs/method.md, "One track".
"""

import itertools
from types import EllipsisType

import numpy as np

from analysis.model.recording import Array
from analysis.signal.segments import Segment
from analysis.signal.side_by_side import side_by_side
from analysis.signal.smoothing import Mask, Rows, running_mean, trusted_only

NOISE_BIN_PERCENT = 2.5
BIN_MIDDLES = np.arange(NOISE_BIN_PERCENT / 2, 100.0, NOISE_BIN_PERCENT)
NOISE_WINDOW_S = 0.1
# Rows used for a map of noise; more change nothing but the time it takes.
NOISE_ROWS = 300_000
# Readings beyond this many standard deviations are no noise but lost contact.
NO_NOISE = 4.0
LEAST_ROWS = 8
# Where the pedal moves by more than this (% of travel) within the window, its own bends are
# taken for noise.
SLOW_PERCENT = 15.0


def noise_map(values: Array, trusted: Mask, pedal: Array, segments: tuple[Segment, ...],
              step_s: float) -> Array:
    """Return the noise of `values` in bins of travel (BIN_MIDDLES), in their unit.

    values, trusted, pedal: shape (n,). The noise is the value less its running mean over 0.1 s,
    in slow parts only; per bin 1.907 times the 40 % quantile of its size: of a normal noise 40 %
    lie within 0.5244 standard deviations, and that many are sound readings even where lost
    contact comes at the same place again and again.
    """
    rows, smooth = side_by_side(pedal.size, lambda: _chosen(trusted, pedal, segments, step_s),
                                lambda: _smooth(values, trusted, step_s))
    if rows.size == 0:
        return np.full(BIN_MIDDLES.size, np.nan)
    size = np.abs(_left(values, smooth, rows, step_s))
    return _group_quantile(_place(pedal[rows]), size, BIN_MIDDLES.size, 0.4) / 0.5244


def own_noise(first: Array, second: Array, away: Array, trusted: Mask, pedal: Array,
              segments: tuple[Segment, ...], step_s: float) -> tuple[Array, Array]:
    """Return the noise of either of two tracks in the bins of travel BIN_MIDDLES, in % of travel.

    first, second: shape (n,), travel of the tracks in %; away: shape (n,), their difference less
    what is usual at that travel; trusted: both.
    The foot's trembling is alike in both tracks and what repeats with travel is not in `away`,
    so of the mean products of their ripples only a track's own noise is left:
    var(first) = mean(first * away), var(second) = -mean(second * away).
    """
    bins = BIN_MIDDLES.size
    rows = _chosen(trusted, pedal, segments, step_s)
    if rows.size == 0:
        missing = np.full(bins, np.nan)
        return missing, missing
    a, b, d = side_by_side(pedal.size, *(lambda v=v: _ripple(v, trusted, rows, step_s)
                                         for v in (first, second, away)))
    place = _place(pedal[rows])
    usual = _group_quantile(place, np.abs(d), bins, 0.683)
    with np.errstate(invalid="ignore"):
        keep = np.abs(d) <= NO_NOISE * usual[place]
    place, a, b, d = place[keep], a[keep], b[keep], d[keep]
    number = np.bincount(place, minlength=bins)
    result = []
    for product in (a * d, -b * d):
        total = np.bincount(place, product, bins)
        mean = np.full(bins, np.nan)
        np.divide(total, number, out=mean, where=number >= LEAST_ROWS)
        result.append(np.sqrt(np.maximum(mean, 0.0)))
    return result[0], result[1]


def ripple(values: Array, trusted: Mask, step_s: float) -> Array:
    """Return what is left of the values over their running mean of 0.1 s, (n,); 0 if not trusted.

    values, trusted: shape (n,).
    """
    return np.where(trusted, _left(values, _smooth(values, trusted, step_s), ..., step_s), 0.0)


def _place(pedal: Array) -> Rows:
    last = BIN_MIDDLES.size - 1
    return np.clip((pedal / NOISE_BIN_PERCENT).astype(np.intp), 0, last)


def _chosen(trusted: Mask, pedal: Array, segments: tuple[Segment, ...], step_s: float) -> Rows:
    """Return the trusted rows of slow segments where the pedal really moves slowly."""
    rows = slow_rows(segments, trusted)
    rows = rows[:: rows.size // NOISE_ROWS + 1]
    half = _width(step_s) // 2
    before, after = np.maximum(rows - half, 0), np.minimum(rows + half, pedal.size - 1)
    return rows[np.abs(pedal[after] - pedal[before]) <= SLOW_PERCENT]


def _width(step_s: float) -> int:
    return max(5, round(NOISE_WINDOW_S / step_s) | 1)


def _ripple(values: Array, trusted: Mask, rows: Rows, step_s: float) -> Array:
    """Return what is left of the values over their running mean, at the rows."""
    return _left(values, _smooth(values, trusted, step_s), rows, step_s)


def _smooth(values: Array, trusted: Mask, step_s: float) -> Array:
    return running_mean(trusted_only(values, trusted), _width(step_s))


def _left(values: Array, smooth: Array, rows: "Rows | EllipsisType", step_s: float) -> Array:
    width = _width(step_s)
    result: Array = (values[rows] - smooth[rows]) * np.sqrt(width / (width - 1.0))
    return result


def slow_rows(segments: tuple[Segment, ...], good: Mask) -> Rows:
    """Return the good rows of all segments but the quick lift-offs."""
    slow = np.zeros_like(good)
    for segment in segments:
        if not segment.quick:
            rows = slice(segment.start, segment.stop)
            slow[rows] = good[rows]
    return np.flatnonzero(slow)


def _group_quantile(group: Rows, values: Array, groups: int, share: float) -> Array:
    result: Array = np.full(groups, np.nan)
    # Sorting sixteen-bit numbers takes one pass over the rows.
    ordered = values[np.argsort(group.astype(np.uint16), kind="stable")]
    stops = np.cumsum(np.bincount(group, minlength=groups)).tolist()
    for k, (start, stop) in enumerate(itertools.pairwise([0, *stops])):
        if stop - start >= LEAST_ROWS:
            place = int(share * (stop - start))
            result[k] = np.partition(ordered[start:stop], place)[place]
    return result
