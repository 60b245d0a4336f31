"""Rest, press, hold, release, found from the signal; marks are not needed.

Method (docs/method.md, "Segments"): the pedal's travel is followed from extreme to extreme; a
turn counts when the travel comes back by more than TURN. Each way up is a press, each way down
a release; what lies between, near the level of the valley or the peak, is rest or hold.
"""

import itertools
from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array
from analysis.signal.smoothing import Mask, median, robust_spread

# A change of direction counts when it undoes this share of travel: more than a trembling foot,
# less than half a press, so that a return that sticks half-way still ends its press.
TURN = 30.0
# Values looked at together: few after a turn, as a signal that only trembles turns at once again.
_FEW, _MANY = 128, 1024
# Within this share of travel of a plateau's level the pedal counts as being there.
NEAR = 2.5
# A pedal that was let go is at its quickest when it leaves the hold, or falls by most of its
# travel at once; a foot that leads it back starts gently (common practice, no source).
LEAVES_FROM, LEAVES_TO, LEAVES_SECONDS = 3.0, 25.0, 0.12
FALLS, FALLS_SECONDS = 60.0, 0.25
# A sluggish pedal that was let go crawls at the end: half of its fall takes less than this share
# of the time, where a foot takes about half of it.
CRAWLS = 0.28
# A hand that leads the pedal back may stop on the way: still for so long, and then on at a speed
# that no crawl has (common practice, no source).
PAUSE_S, PAUSE_PERCENT, GOES_ON_PERCENT_PER_S = 0.3, 1.5, 25.0


@dataclass(frozen=True)
class Segment:
    """Hold one stretch of the recording: rows [start, stop), times in seconds.

    kind: "rest", "press", "hold" or "release". quick: True for a release that was let go
    rather than led back. hung: for one that fell as if let go, stood still on its way and went on:
    a hand that caught it, or a pedal that hangs. peak_percent: for press, hold and release, the
    travel of its peak.
    """

    kind: str
    start: int
    stop: int
    start_s: float
    end_s: float
    quick: bool = False
    peak_percent: float = float("nan")
    hung: bool = False


def turning_points(travel: Array, turn: float = TURN) -> list[tuple[int, bool]]:
    """Return the extremes of `travel` as (index, is_peak), alternating.

    An extreme is confirmed once travel has come back from it by more than `turn`. The first
    extreme is the end from which the first confirmed move starts.
    """
    points: list[tuple[int, bool]] = []
    low = high = at = 0
    wide = _FEW
    rising: bool | None = None
    while at < travel.size:
        block = travel[at: at + wide]
        falls = rises = block.size
        if rising is not False:
            tops = np.maximum(np.maximum.accumulate(block), travel[high])
            falls = _first(tops - block > turn)
        if rising is not True:
            bottoms = np.minimum(np.minimum.accumulate(block), travel[low])
            rises = _first(block - bottoms > turn)
        seen = block[: min(falls, rises) + 1]
        if rising is not False and tops[seen.size - 1] > travel[high]:
            high = at + int(np.argmax(seen))
        if rising is not True and bottoms[seen.size - 1] < travel[low]:
            low = at + int(np.argmin(seen))
        if falls == rises:  # neither came
            at += block.size
            wide = min(2 * wide, _MANY)
            continue
        points.append((high, True) if falls < rises else (low, False))
        rising = rises < falls
        low = high = at = at + seen.size - 1
        wide = _FEW
    if rising is True:
        points.append((high, True))
    elif rising is False:
        points.append((low, False))
    return points


def _first(mask: Mask) -> int:
    """Return the place of the first True; the size where there is none."""
    place = int(np.argmax(mask))
    return place if mask[place] else mask.size


def find_segments(travel: Array, times: Array, rows_per_point: int) -> tuple[Segment, ...]:
    """Return the segments of a recording, in order of time.

    travel: shape (m,), pedal travel in % on a thinned grid, times: shape (m,), seconds.
    rows_per_point: rows of the recording per point of the grid.
    """
    points = turning_points(travel)
    if len(points) < 2:
        return ()
    near = max(NEAR, 4.0 * robust_spread(np.diff(travel)))
    middles = _middles(travel, [place for place, _ in points])
    bounds = [0, *middles, travel.size]
    levels = [plateau_level(travel[bounds[k]: bounds[k + 1]], peak)
              for k, (_, peak) in enumerate(points)]

    pieces: list[tuple[str, int, int, bool, float]] = []
    hung: set[tuple[str, int]] = set()
    begin = 0
    for k, middle in enumerate(middles):
        up = not points[k][1]
        leave, reach = levels[k], levels[k + 1]
        before = travel[bounds[k]: middle + 1]
        still = np.abs(before - leave) <= near
        start = bounds[k] + (int(np.flatnonzero(still)[-1]) if still.any() else 0)
        after = travel[middle: bounds[k + 2]]
        arrived = after >= reach - near if up else after <= reach + near
        stop = middle + (int(np.argmax(arrived)) if arrived.any() else after.size - 1)
        start = max(start, begin)
        peak = reach if up else leave
        pieces.append(("rest" if up else "hold", begin, start, False, np.nan if up else leave))
        way = travel[start: stop + 1], times[start: stop + 1]
        pauses = not up and _pauses(*way)
        quick = not up and not pauses and _falls_quickly(*way)
        pieces.append(("press" if up else "release", start, stop, quick, peak))
        if pauses and _leaves_quickly(*way):
            hung.add(("release", start))
        begin = stop
    kind, peak = ("hold", levels[-1]) if points[-1][1] else ("rest", np.nan)
    pieces.append((kind, begin, travel.size, False, peak))

    ends = np.append(times, times[-1])
    return tuple(
        Segment(kind, start * rows_per_point, stop * rows_per_point,
                float(times[start]), float(ends[stop]), quick, float(peak),
                (kind, start) in hung)
        for kind, start, stop, quick, peak in pieces if stop > start)


def _middles(travel: Array, turns: list[int]) -> list[int]:
    """Return where each way up or down passes the middle between its two ends."""
    found = []
    for i, j in itertools.pairwise(turns):
        half = (travel[i] + travel[j]) / 2
        beyond = travel[i: j + 1] > half if travel[j] > travel[i] else travel[i: j + 1] < half
        found.append(i + int(np.argmax(beyond)))
    return found


def plateau_level(values: Array, peak: bool) -> float:
    """Return the level of the plateau in a valley or on a peak: the median of its end values.

    values: shape (m,), m > 0, travel in % between two moves.
    """
    place = int((0.9 if peak else 0.1) * (values.size - 1))
    edge = float(np.partition(values, place)[place])
    near = values[np.abs(values - edge) <= 5.0]
    return median(near) if near.size else edge


def _pauses(travel: Array, times: Array) -> bool:
    """Return whether a fall stands still on its way and then goes on: a hand that led it back.

    For PAUSE_S within PAUSE_PERCENT, above a tenth of the fall, with as much again below it.
    """
    whole = float(travel[0] - travel[-1])
    if travel.size < 8 or whole <= 0:
        return False
    step = median(np.diff(times))
    width = max(2, round(PAUSE_S / max(step, 1e-9)))
    if travel.size <= width + 2:
        return False
    moved = travel[:-width] - travel[width:]
    here = travel[:-width]
    top, bottom = travel[0] - 0.1 * whole, travel[-1] + 0.1 * whole
    still = (np.abs(moved) <= PAUSE_PERCENT) & (here < top) & (here > bottom)
    if not still.any():
        return False
    # Gone on: after the pause it falls again, faster than what only crawls.
    last = int(np.flatnonzero(still)[-1]) + width
    later = travel[last:]
    quickest = float(np.max(later[:-1] - later[1:], initial=0.0)) / max(step, 1e-9)
    return bool(later[0] - later[-1] >= 0.1 * whole and quickest >= GOES_ON_PERCENT_PER_S)


def _falls_quickly(travel: Array, times: Array) -> bool:
    """Return whether a fall leaves as of a pedal let go, or falls so, or crawls at its end."""
    if travel.size < 2:
        return False
    later = np.interp(times + FALLS_SECONDS, times, travel)
    if _leaves_quickly(travel, times) or float(np.max(travel - later)) >= FALLS:
        return True
    fallen = travel[0] - travel
    whole = float(fallen[-1])
    half, most = int(np.argmax(fallen >= whole / 2)), int(np.argmax(fallen >= 0.95 * whole))
    return bool(times[half] - times[0] <= CRAWLS * (times[most] - times[0]))


def _leaves_quickly(travel: Array, times: Array) -> bool:
    fallen = travel[0] - travel
    gone = np.flatnonzero(fallen >= LEAVES_TO)
    if not gone.size:
        return False
    still = np.flatnonzero(fallen[: gone[0]] <= LEAVES_FROM)
    left = times[still[-1]] if still.size else times[0]
    return bool(times[gone[0]] - left <= LEAVES_SECONDS)
