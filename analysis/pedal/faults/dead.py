"""A track that stands still while the pedal moves: dead from some time on, or for a while.

A press is seen on one track only. The one that stood still is the one that did not follow: a wiper
that moves by a third of its travel and stays there was moved, by a foot that pressed or let go,
while no foot can hold one of two wipers on a shaft. What moves and comes back at once is no move
here but a lost contact, and what goes from one level to another between two readings is no move
either.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.pedal.travel import Thinned
from analysis.signal.side_by_side import by_name
from analysis.signal.smoothing import Mask, running_median, runs

# The other track moves by at least this share of its span, and this one by no more than that: a
# dead wiper may creep, wander or leak a little of the motion (common practice, no source).
MOVES, STILL = 0.20, 0.06
# Of a move by most of the travel a dead wiper may leak this share; tapers differ by less.
LEAKS, MOST = 0.30, 0.60
# Where both tracks stood still while the other moved, within so many seconds of one another, only
# the one that did so this many times as long is named: else nobody knows
# which of them follows the pedal.
NEAR_S, PLAINLY = 4.0, 3.0
# Lengths of time within which the move is looked for, and the time before and after it that shows
# that it stayed; a quick lift-off takes a tenth of a second, a slow press two.
LENGTHS_S = (0.3, 0.6, 1.2, 2.4)
STAYS_S = 0.3
# More than this share of the move in one step between two points is a jump and not a foot.
JUMP = 0.6
# Of a window at least this share must have been read on both tracks.
LEAST_READ = 0.8
# Faults that the comparison of two tracks shows, or a travel taken from both: at a place of travel
# or all along, and at their own time.
BY_PLACE = frozenset({"noise", "flat spot", "step", "mismatch", "not settled"})
BY_TIME = frozenset({"no return", "slow return", "foot at rest"})
# Quieter than the pedal's own tremor: of that size a move says nothing.
LEAST_SHARE_OF_SUPPLY = 0.04


@dataclass(frozen=True)
class Dead:
    """Hold one stretch in which a track stood still while another moved.

    start, stop: points [start, stop) of the thinned grid. level_volts: where it stood. beside: the
    track that moved; moved: by which share of its span. late_s: it moved too, but so many seconds
    late (faults.late); sluggish: as behind a slow filter, and that is its time constant.
    """

    column: str
    start: int
    stop: int
    level_volts: float
    beside: str
    moved: float
    late_s: float = 0.0
    sluggish: bool = False


def find_dead(points: Thinned, names: tuple[str, ...], read: Mapping[str, Mask],
              nominal: float) -> tuple[Dead, ...]:
    """Return the stretches in which one of the tracks stood still while another moved.

    read: by track, shape (rows,), its readings that are no loss: what was not read stood not still.
    """
    if len(names) < 2 or points.times.size < 20:
        return ()
    step = float(np.median(np.diff(points.times)))
    if not step > 0.0:
        return ()  # rows without a time of their own tell nothing of how long
    spans = {n: _span(points.volts[n]) for n in names}
    whole = points.times.size * points.size
    known: dict[str, Mask] = {
        n: np.asarray(read[n][:whole].reshape(-1, points.size).any(axis=1)) for n in names}
    stays = max(2, round(STAYS_S / step))
    moves = by_name(whole, names, lambda n: _Moves(
        running_median(points.volts[n], stays | 1),
        np.abs(np.diff(points.volts[n], prepend=points.volts[n][0])), spans[n]))

    def of(column: str) -> list[Dead]:
        marked = np.zeros(points.times.size, dtype=bool)
        moved, beside = 0.0, ""
        for other in names:
            if other == column or spans[other] < LEAST_SHARE_OF_SUPPLY * nominal:
                continue
            for length in LENGTHS_S:
                found, most = _apart(points.volts[column], spans[column], moves[other],
                                     known[column] & known[other],
                                     max(1, round(length / step)), stays)
                marked |= found
                if most > moved:
                    moved, beside = most, other
        return _joined(column, marked, points.volts[column], spans[column], beside,
                       moved) if marked.any() else []

    found = [d for each in by_name(whole, names, of).values() for d in each]
    return _attributed(sorted(found, key=lambda d: d.start), step)


def _attributed(found: list[Dead], step_s: float) -> tuple[Dead, ...]:
    """Return the stretches with the track that each is of; "" where both may be the dead one."""
    reach = NEAR_S / step_s
    length = {c: sum(d.stop - d.start for d in found if d.column == c)
              for c in {d.column for d in found}}
    mutual = [d for d in found if any(
        o.column != d.column and o.start - reach < d.stop and d.start - reach < o.stop
        for o in found)]
    if not mutual:
        return tuple(found)
    most = max(length, key=lambda c: length[c])
    if all(length[most] >= PLAINLY * length[c] for c in length if c != most):
        # The other stood still while this one came back to life: no fault of its own.
        return tuple(d for d in found if d.column == most or d not in mutual)
    return tuple(replace(d, column="") for d in found)


def rows_of(dead: tuple[Dead, ...], column: str, size: int, rows: int) -> Mask:
    """Return which rows of the recording lie in a dead stretch of that track, shape (rows,)."""
    mask: Mask = np.zeros(rows, dtype=bool)
    for each in dead:
        if each.column == column:
            stop = rows if (each.stop + 1) * size >= rows - size else each.stop * size
            mask[each.start * size: stop] = True
    return mask


def dead_track_faults(dead: tuple[Dead, ...], times: Array, pedal_percent: Array,
                      size: int) -> list[Fault]:
    """Return one fault per dead stretch.

    times, pedal_percent: shape (n,), of the recording's rows; size: rows per point.
    """
    result = []
    for each in dead:
        if not each.column:
            continue
        first = min(each.start * size, times.size - 1)
        last = min(each.stop * size, times.size - 1)
        if each.late_s:
            result.append(_late_fault(each, times, float(pedal_percent[first]), first, last))
            continue
        result.append(Fault(
            "dead track", each.column, float(times[first]), float(times[last]),
            float(pedal_percent[first]), 3,
            Reason("stands still", {
                "track": each.column, "volts": each.level_volts, "time_s": float(times[first]),
                "end_s": float(times[last]), "beside": each.beside,
                "moved": min(each.moved, 1.0)})))
    apart = [d for d in dead if not d.column]
    if apart:
        first = min(apart[0].start * size, times.size - 1)
        last = min(max(d.stop for d in apart) * size, times.size - 1)
        result.append(Fault(
            "dead track", None, float(times[first]), float(times[last]),
            float(pedal_percent[first]), 3,
            Reason("not together", {"time_s": float(times[first])})))
    return result


def attributable(faults: list[Fault]) -> list[Fault]:
    """Return the faults without those that rest on two tracks that do not move together.

    Nobody knows their track, and what is told of the pair once is not told again.
    """
    apart = [f for f in faults if f.kind == "dead track" and f.channel is None]
    if not apart:
        return faults
    return [f for f in faults if f.kind not in BY_PLACE and not (
        f.kind in BY_TIME and any(a.time_s <= f.end_s and f.time_s <= a.end_s for a in apart))]


def _late_fault(late: Dead, times: Array, travel: float, first: int, last: int) -> Fault:
    return Fault(
        "late track", late.column, float(times[first]), float(times[last]), travel, 3,
        Reason("follows late", {
            "track": late.column, "beside": late.beside, "late_s": late.late_s,
            "filter": late.sluggish, "time_s": float(times[first])}))


def _span(values: Array) -> float:
    low, high = np.quantile(values, [0.005, 0.995])
    return float(high - low)


@dataclass(frozen=True)
class _Moves:
    """Hold what a track does: its level over STAYS_S, its steps, both shape (m,); its span."""

    level: Array
    steps: Array
    span: float


def _apart(still: Array, span: float, moves: _Moves, known: Mask, width: int,
           stays: int) -> tuple[Mask, float]:
    """Return the points of windows in which one track stood still and the other moved for good.

    The largest share of its span by which it moved comes with them.
    """
    from scipy.ndimage import maximum_filter1d, minimum_filter1d, uniform_filter1d

    n = still.size
    whole = width + 2 * stays
    marked: Mask = np.zeros(n, dtype=bool)
    if n < whole + 2:
        return marked, 0.0
    before = moves.level[stays // 2: n - whole + stays // 2 + 1]
    after = moves.level[whole - stays + stays // 2: whole - stays + stays // 2 + before.size]
    net = np.abs(after - before)
    net /= max(moves.span, 1e-12)
    # From its first point to its last a track that stands still moves no further than its extremes
    # are apart: most windows are no candidates, and most recordings have none.
    shift, span = whole // 2, max(span, 1e-12)
    ends = np.abs(still[whole - 1: whole - 1 + before.size] - still[: before.size])
    ends /= span
    found = (net >= MOVES) & ((ends <= STILL) | ((net >= MOST) & (ends <= LEAKS * net)))
    if not found.any():
        return marked, 0.0
    # Extremes over each whole window, by its first point.
    high = maximum_filter1d(still, whole, mode="nearest")[shift: shift + before.size]
    low = minimum_filter1d(still, whole, mode="nearest")[shift: shift + before.size]
    jump = maximum_filter1d(moves.steps, whole, mode="nearest")[shift: shift + before.size]
    jump /= max(moves.span, 1e-12)
    share = uniform_filter1d(known.astype(float), whole, mode="nearest")
    found &= share[shift: shift + before.size] >= LEAST_READ
    still_by = (high - low) / span
    found &= (still_by <= STILL) | ((net >= MOST) & (still_by <= LEAKS * net))
    found &= jump <= JUMP * net
    if not found.any():
        return marked, 0.0
    for start, stop in zip(*runs(found), strict=True):
        marked[start: stop - 1 + whole] = True
    return marked, float(net[found].max())


def _joined(column: str, marked: Mask, values: Array, span: float, beside: str,
            moved: float) -> list[Dead]:
    """Return the marked stretches, joined where the track stood still between two of them."""
    starts, stops = (list(map(int, each)) for each in runs(marked))
    pieces = [(starts[0], stops[0])]
    for start, stop in zip(starts[1:], stops[1:], strict=True):
        between = values[pieces[-1][0]: stop]
        if float(np.ptp(between)) <= 1.5 * STILL * span:
            pieces[-1] = (pieces[-1][0], stop)
        else:
            pieces.append((start, stop))
    result = []
    for first, last in pieces:
        level = float(np.median(values[first:last]))
        near = np.abs(values - level) <= STILL * span
        # As long as it stands there before and after, nobody knows that it follows.
        start, stop = first, last
        while start > 0 and near[start - 1]:
            start -= 1
        while stop < values.size and near[stop]:
            stop += 1
        result.append(Dead(column, start, stop, level, beside, moved))
    return result
