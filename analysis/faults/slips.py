"""A track shifts against the other and stays there: a shaft that slipped in its coupling."""

from collections.abc import Mapping

import numpy as np

from analysis.faults.fault import Fault
from analysis.recording import Array
from analysis.segments import Segment
from analysis.smoothing import block_medians, robust_spread

# A smaller lasting shift (in % of travel) is not told from the scatter of returns.
LEAST_SHIFT = 1.0
BLOCK_S = 0.1


def find_slips(away: Array, step_s: float) -> list[int]:
    """Return the rows at which the tracks' difference shifted for good, in order.

    away: shape (n,), departure of the difference from the usual, %. The largest excursion of
    the cumulative sum marks the most likely place (CUSUM); it counts when the levels before and
    after differ clearly and most of the shift happens within a second.
    """
    size = max(1, round(BLOCK_S / step_s))
    blocks = block_medians(away, size)
    found: list[int] = []
    _search(blocks, 0, 4, found)
    return sorted(k * size for k in found)


def _search(blocks: Array, origin: int, depth: int, found: list[int]) -> None:
    if depth == 0 or blocks.size < 40:
        return
    total = np.cumsum(blocks - blocks.mean())
    k = int(np.argmax(np.abs(total[:-1]))) + 1
    before, after = blocks[:k], blocks[k:]
    if min(before.size, after.size) < 10:
        return
    shift = abs(float(np.median(after) - np.median(before)))
    spread = max(robust_spread(before), robust_spread(after))
    at_once = abs(float(np.median(after[:6]) - np.median(before[-6:])))
    if shift < max(LEAST_SHIFT, 3.0 * spread) or at_once < 0.6 * shift:
        return
    found.append(origin + k)
    _search(before, origin, depth - 1, found)
    _search(after, origin + k, depth - 1, found)


def slip_faults(rows: list[int], by_track: Mapping[str, Array], away: Array, times: Array,
                pedal: Array, segments: tuple[Segment, ...], step_s: float) -> list[Fault]:
    """Return one fault per slip, on the track whose rest and full levels moved."""
    result = []
    wide = max(3, int(1.0 / step_s))
    for row in rows:
        shift = {name: _shift(travel, row, segments) for name, travel in by_track.items()}
        column = max(shift, key=lambda name: abs(shift[name]))
        size = abs(float(np.median(away[row: row + wide])
                         - np.median(away[max(0, row - wide): row])))
        travel = float(pedal[row])
        result.append(Fault(
            "step", column, float(times[row]), float(times[row]), travel, 3,
            f"track {column} shifts against the other by {size:.1f} % of travel at "
            f"{times[row]:.1f} s and stays there: look for a loose shaft or coupling"))
    return result


def _shift(travel: Array, row: int, segments: tuple[Segment, ...]) -> float:
    """Return by how much a track's plateaus moved at `row`, in % of travel."""
    shifts = []
    for kind in ("rest", "hold"):
        before: list[float] = []
        after: list[float] = []
        for s in segments:
            if s.kind != kind or s.stop - s.start < 3:
                continue
            middle = float(np.median(travel[s.start: s.stop]))
            (before if s.stop <= row else after).append(middle)
        if before and after:
            shifts.append(float(np.median(after) - np.median(before)))
    return float(np.mean(shifts)) if shifts else 0.0
