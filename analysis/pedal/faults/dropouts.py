"""The wiper lets go for a moment: which track, when, how deep.

Method (docs/method.md, "Dropouts"): the difference of the two tracks' travel is compared with
the mismatch usual at that travel and way. Where it departs by more than the noise allows, each
track is held against the course of a foot through the gap: the one that leaves it, and whose
readings break off and come back with corners, is at fault. Where neither does so plainly more than
the other, the loss is told once, as of the pair.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.pedal.pair import MIDDLES, Curves
from analysis.signal.noise import NOISE_BIN_PERCENT
from analysis.signal.segments import Segment
from analysis.signal.side_by_side import in_blocks
from analysis.signal.smoothing import Mask, Rows, filled, running_median, runs

# A departure below this (in % of travel) is never called a dropout, however quiet the track.
LEAST_DEPTH = 3.0
# A departure beyond this is no noise, however worn the place.
SURE_DEPTH = 15.0
# Departure in standard deviations of the local noise: at 6, one in 1e9 readings of a normal
# noise (CHECK_VALUES: 1 - Phi(6) = 9.866e-10).
SIGMAS = 6.0
# A single reading must stand out by this much more: there is no second one to confirm it.
LONE = 5.0 / 3.0
# Two tracks are read one after the other, up to this share of a sampling step apart.
SKEW = 0.25
# Longer than this is not a bounce of the wiper any more.
LONG_S = 0.5
SPIKE_S = 0.08
SHORT_S = 0.15
# A track is named when it broke off so many times as much as the other (common practice, no source;
# measured on two generators: docs/method.md, "Dropouts").
PLAINLY = 2.0
# What both break off by less than this (% of travel) is noise of both.
LEAST_BREAK = 0.5
# No foot takes the pedal this far (% of travel) beyond its stops.
BEYOND_STOPS = 10.0
# No pedal moves faster than this (% of travel a second; a hard lift-off reaches some 1300), so none
# turns a sharper corner than it moves between two readings, even where it meets its stop; and what
# noise and grain may add to that (% of travel).
MOST_SPEED, CORNER_NOISE = 1500.0, 6.0
# Readings on either side of an edge that show whether a track broke off there, and those on either
# side of a gap that tell the course through it.
EDGE, ASIDE = 3, 4
# Of its length so much on either side of a lost contact is not trusted either.
ASIDE_SHARE = 0.4


@dataclass(frozen=True)
class Dropout:
    """Hold one departure of a track: rows [start, stop) and its depth in % of travel.

    column: None where it cannot be told which of the two tracks let go.
    """

    column: str | None
    start: int
    stop: int
    depth: float


def without_spikes(difference: Array, step_s: float) -> Array:
    """Return the thinned difference with NaN where it stands out from both its sides.

    What is usual at a travel is learnt from it, and lost contact is not usual: a point is left
    out that differs from those SPIKE_S before and after by LEAST_DEPTH, the same way.
    """
    wide = max(1, round(SPIKE_S / step_s))
    if difference.size <= 2 * wide:
        return difference
    known = filled(difference)
    before = known - np.r_[np.full(wide, known[0]), known[:-wide]]
    after = known - np.r_[known[wide:], np.full(wide, known[-1])]
    spike = (before * after > 0) & (np.minimum(np.abs(before), np.abs(after)) > LEAST_DEPTH)
    return np.where(spike, np.nan, difference)


def departure(first: Array, second: Array, curves: Curves,
              segments: tuple[Segment, ...]) -> tuple[Array, Array]:
    """Return the pedal's travel, and how far the tracks differ from what is usual there, (n,), %.

    first, second: shape (n,), travel of two tracks in %; the pedal's is their mean.
    Well inside a press or release it is compared with the curve of that way; near a turn, where
    the play between the shafts is being taken up, only what leaves the band between both counts.
    """
    press_curve, release_curve = curves.filled()
    # At its rest and its full level a track is at 0 and 100 % by definition: no mismatch there.
    place = np.concatenate([[0.0], MIDDLES, [100.0]])
    # Both in one search: as the parts of a complex number.
    usual = np.concatenate([[0.0], press_curve + 1j * release_curve, [0.0]])
    play = float(np.max(np.abs(press_curve - release_curve)))
    moves = [s for s in segments if s.kind in ("press", "release")] if play >= 0.7 else []
    # In the order of time, so that those of some rows are found at once.
    starts, stops = [s.start for s in moves], [s.stop for s in moves]
    pedal, away = np.empty(first.size), np.empty(first.size)

    def work(rows: slice) -> None:
        travel, apart, left = pedal[rows], first[rows] - second[rows], away[rows]
        np.add(first[rows], second[rows], out=travel)
        travel /= 2.0
        both = np.interp(travel, place, usual)
        press, release = both.real, both.imag
        np.minimum(press, release, out=left)
        np.clip(apart, left, np.maximum(press, release), out=left)
        np.subtract(apart, left, out=left)
        for segment in moves[bisect_right(stops, rows.start): bisect_left(starts, rows.stop)]:
            part = slice(max(segment.start - rows.start, 0), segment.stop - rows.start)
            begin = (first[segment.start] + second[segment.start]) / 2.0
            taken_up = np.abs(travel[part] - begin) > 1.5 * play + 1.0
            own = press[part] if segment.kind == "press" else release[part]
            left[part] = np.where(taken_up, apart[part] - own, left[part])

    in_blocks(first.size, work)
    return pedal, away


def threshold(pedal: Array, noise: Array) -> Array:
    """Return how large a departure must be, shape (n,), %.

    noise: shape (40,), standard deviation of the difference in bins of travel, %.
    """
    wide = np.fmax(np.fmax(noise, np.r_[noise[1:], np.nan]), np.r_[np.nan, noise[:-1]])
    by_bin: Array = np.clip(SIGMAS * filled(wide), LEAST_DEPTH, SURE_DEPTH)
    limit = np.empty(pedal.size)

    def work(rows: slice) -> None:
        own = limit[rows]
        place = (pedal[rows] / NOISE_BIN_PERCENT).astype(np.intp)
        by_bin.take(place, mode="clip", out=own)
        first, last = max(rows.start - 1, 0), min(rows.stop + 1, pedal.size)
        move = np.diff(pedal[first:last])
        np.abs(move, out=move)
        move *= SKEW
        before = move[: rows.stop - 1 - first]
        own[own.size - before.size:] += before
        after = move[rows.start - first:]
        own[: after.size] += after

    in_blocks(pedal.size, work)
    return limit


def find_dropouts(by_track: Mapping[str, Array], away: Array, limit: Array,
                  step_s: float) -> list[Dropout]:
    """Return the dropouts of a pair of tracks, in order of time.

    by_track: two tracks, shape (n,), % of travel; away, limit: shape (n,), %.
    """
    size = np.abs(away)
    strong = size > limit
    if not strong.any():
        return []
    starts, stops = _grown(strong, size > limit / 2)
    found: list[Dropout] = []
    for start, stop in zip(starts, stops, strict=True):
        depth = float(size[start:stop].max())
        if int(strong[start:stop].sum()) == 1 and depth <= LONE * float(
                limit[start:stop][strong[start:stop]].max()):
            continue
        seconds = (stop - start) * step_s
        if seconds > LONG_S:
            before = float(size[max(0, start - 2)])
            usual = float(np.median(size[start:stop]))
            if usual - before < 0.7 * usual or stop >= size.size - 1:
                continue
        usual = float(np.median(size[start:stop]))
        found += [Dropout(column, int(start), int(stop), depth)
                  for column in _at_fault(by_track, int(start), int(stop), step_s, usual)]
    return found


def find_lone_dropouts(column: str, travel: Array, smooth: Array, noise: float,
                       step_s: float) -> list[Dropout]:
    """Return the dropouts of a track that has no partner, against its own running median.

    travel: shape (n,), %; smooth: shape (n,), the thinned running median, interpolated.
    """
    from scipy.ndimage import maximum_filter1d

    move = running_median(np.abs(np.gradient(smooth)), 3)
    near = max(3, int(0.03 / step_s))
    # Before and after a quick move too: the running median cuts its corner where it meets a stop.
    limit = np.fmax(LEAST_DEPTH, SIGMAS * noise) + near * maximum_filter1d(move, 2 * near + 1)
    size = np.abs(travel - smooth)
    strong = size > limit
    if not strong.any():
        return []
    starts, stops = _grown(strong, size > limit / 2)
    return [Dropout(column, int(i), int(j), float(size[i:j].max()))
            for i, j in zip(starts, stops, strict=True) if (j - i) * step_s <= LONG_S]


def _grown(strong: Mask, weak: Mask) -> tuple[Rows, Rows]:
    """Return the runs of `weak` that hold a `strong` row, those 2 rows apart or less joined."""
    starts, stops = runs(weak | strong)
    total = np.concatenate([[0], np.cumsum(strong)])
    keep = total[stops] > total[starts]
    starts, stops = starts[keep], stops[keep]
    if starts.size > 1:
        apart = starts[1:] - stops[:-1] > 2
        starts = starts[np.r_[True, apart]]
        stops = stops[np.r_[apart, True]]
    return starts, stops


def _at_fault(by_track: Mapping[str, Array], start: int, stop: int, step_s: float,
              usual: float) -> Sequence[str | None]:
    """Return the track (or both) that let go between rows start and stop; [None] when unsure.

    usual: median departure there, %; when neither left its course by a good part of that, the
    tracks only part smoothly (a mismatch) and nobody let go: the list is empty.
    """
    first, second = (_left(travel, start, stop, step_s) for travel in by_track.values())
    # What both do together is the pedal's own movement and cancels here.
    if float(np.median(np.abs(first - second))) < 0.5 * usual:
        return []
    # Beyond its stops no foot takes the pedal: nothing else needs to be asked.
    beyond = [name for name, travel in by_track.items()
              if _beyond(travel[start:stop]) > BEYOND_STOPS]
    if beyond:
        return beyond
    broke, corner = {}, {}
    for name, travel in by_track.items():
        off, corner[name] = _broken_off(travel, start, stop)
        broke[name] = max(_off_course(travel, start, stop, step_s) + off, LEAST_BREAK)
    worst = max(broke, key=lambda name: broke[name])
    if broke[worst] >= PLAINLY * min(broke.values()):
        return [worst]
    # A corner that no foot makes, on both: both let go.
    most = MOST_SPEED * step_s + CORNER_NOISE
    return list(by_track) if min(corner.values()) > most else [None]


def _left(travel: Array, start: int, stop: int, step_s: float) -> Array:
    """Return what a track did beyond the straight way from before to after it, %."""
    last = travel.size - 1
    if (stop - start) * step_s > SHORT_S:
        into = float(travel[min(start + 1, last)] - travel[max(start - 2, 0)])
        out = float(travel[min(stop + 1, last)] - travel[max(stop - 2, 0)])
        return np.array([into - out]) / 2
    before = travel[max(0, start - 4): max(1, start - 1)]
    after = travel[min(stop + 1, last): stop + 4]
    level_before = float(np.median(before)) if start > 0 else float(np.median(after))
    level_after = float(np.median(after)) if stop < last else level_before
    way = np.interp(np.arange(start, stop), [start - 3.0, stop + 2.0], [level_before, level_after])
    return travel[start:stop] - way


def _beyond(travel: Array) -> float:
    """Return how far a track went beyond the stops of the pedal, %."""
    return float(max(-travel.min(), travel.max() - 100.0))


def _off_course(travel: Array, start: int, stop: int, step_s: float) -> float:
    """Return how far a track stayed off the nearest course that a foot may take there, %.

    Courses: straight on from before to after, or bent by the slopes on either side of the gap, seen
    closely or over more readings.
    """
    left = _left(travel, start, stop, step_s)
    best = float(np.median(np.abs(left)))
    if (stop - start) * step_s > SHORT_S:
        return best
    gap = np.arange(start, stop)
    for near in (2, ASIDE):
        rows = np.r_[max(0, start - 1 - near): start - 1,
                     stop + 1: min(travel.size, stop + 1 + near)]
        if rows.size == 2 * near:
            bent = np.polyval(np.polyfit(rows - start, travel[rows], 3), gap - start)
            best = min(best, float(np.median(np.abs(travel[start:stop] - bent))))
    return best


def _broken_off(travel: Array, start: int, stop: int) -> tuple[float, float]:
    """Return how sharply a track broke off and came back at the edges of a gap, %, and its corner.

    The root of the summed squares of third differences there, in which a foot that speeds up evenly
    leaves nothing, and the largest second difference.
    """
    rows = travel[max(0, start - EDGE): stop + EDGE]
    corners = np.abs(np.diff(rows, 2))
    third = np.diff(rows, 3)
    if not third.size:
        return 0.0, 0.0
    # Both edges; over the whole of a long gap noise would add up.
    near = 2 * EDGE
    edges = third if third.size <= 2 * near else np.r_[third[:near], third[-near:]]
    corner = max(float(corners[:near].max()), float(corners[-near:].max()))
    return float(np.sqrt(edges @ edges)), corner


def trusted_without(dropouts: list[Dropout], readable: Mapping[str, Mask],
                    names: Sequence[str]) -> dict[str, Mask]:
    """Return by track, shape (n,), where it is readable and let go of nothing.

    names: the tracks that a dropout of the pair is of. A part of its length on either side is left
    out as well: what stands still leaves its course by little at first.
    """
    result = {n: mask.copy() for n, mask in readable.items()}
    for d in dropouts:
        aside = max(1, int(ASIDE_SHARE * (d.stop - d.start)))
        for name in names if d.column is None else (d.column,):
            result[name][max(0, d.start - aside): d.stop + aside] = False
    return result


def across_unsure(pedal: Array, dropouts: list[Dropout]) -> Array:
    """Return the pedal's travel with a straight line where nobody knows which track to believe.

    pedal: shape (n,), %.
    """
    unsure = [d for d in dropouts if d.column is None]
    if not unsure:
        return pedal
    known = pedal.copy()
    for d in unsure:
        known[max(0, d.start - 1): d.stop + 1] = np.nan
    return filled(known)


def without_parted(dropouts: list[Dropout], apart: Sequence[tuple[int, int]],
                   rails: Mapping[str, Mask]) -> list[Dropout]:
    """Return the dropouts without those where the tracks do not move together; at a rail they stay.

    apart: rows [start, stop) in which nobody knows which track follows the pedal.
    """
    return [d for d in dropouts if not any(a < d.stop and d.start < b for a, b in apart)
            or (d.column is not None and rails[d.column][d.start: d.stop].any())]


def without_rails(dropouts: list[Dropout], rails: Mapping[str, Mask],
                  step_s: float) -> tuple[list[Dropout], dict[str, Mask]]:
    """Return the dropouts that are none of a long stay at a rail, and the stays not in them.

    rails: by track, shape (n,), where it sits at a rail it jumped to.
    """
    kept = []
    alone = {name: mask.copy() for name, mask in rails.items()}
    for d in dropouts:
        names = list(rails) if d.column is None else [d.column]
        at_rail = np.logical_or.reduce([rails[name][d.start: d.stop] for name in names])
        if at_rail.sum() * step_s > LONG_S:
            continue
        for name in names:
            alone[name][max(0, d.start - 3): d.stop + 3] = False
        kept.append(d)
    return kept, alone


def dropout_faults(dropouts: list[Dropout], rails: Mapping[str, Mask], times: Array,
                   pedal: Array, step_s: float) -> list[Fault]:
    """Return one fault per dropout; without a channel where it cannot be told of which track."""
    result = []
    for d in dropouts:
        around = pedal[[max(0, d.start - 2), min(pedal.size - 1, d.stop + 1)]]
        travel = float(np.mean(around))
        end = float(times[min(d.stop, times.size - 1)])
        seconds = (d.stop - d.start) * step_s
        said = Reason("contact lost", {
            "track": d.column, "seconds": seconds, "travel_percent": travel,
            "depth_percent": d.depth, "to": "a rail" if d.column is not None and bool(
                rails[d.column][d.start: d.stop].any()) else None})
        result.append(Fault("dropout", d.column, float(times[d.start]), end, travel, 3, said))
    return result
