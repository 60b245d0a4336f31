"""Readings that are not there: a cell left blank, "OL", "n/a". Which track, where, when.

What a logger writes so when a wiper lifts is a loss of contact like any other. A column that its
logger records less often than there are rows is none.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array, Recording
from analysis.pedal.faults.fault import Fault
from analysis.pedal.tracks import full_presses
from analysis.signal.missing_cells import judge_blanks, lost_rows
from analysis.signal.segments import Segment
from analysis.signal.smoothing import Mask, filled, runs

# A foot that turns between two readings goes beyond them by an eighth of its second difference
# at most (a parabola); twice that of what four readings span.
TURN_SHARE = 0.25
# Losses of all tracks that come back at one place of travel know where the pedal is: a lead.
ONE_PLACE, OFTEN = 15.0, 3
# Below this share of nominal a supply is none (recording.stated_volts). Missing for this share of
# the rows, or for so long at once, it may have done anything (common practice, no source).
NO_SUPPLY, MUCH_SHARE, MUCH_S = 0.1, 0.02, 0.5


def judged_together(trusted: tuple[Mask, Mask], volts: tuple[Array, Array],
                    lost: tuple[Mask, Mask]) -> tuple[Mask, Mask]:
    """Return where either of two tracks is known well enough to be compared, shape (n,) each.

    trusted, volts, lost: shape (n,) each. As trusted, unless the two are hardly ever read in one
    row (alternate rows, two clocks): then also between two trusted readings of their own.
    """
    fewest = min(int(mask.sum()) for mask in trusted)
    if 2 * int((trusted[0] & trusted[1]).sum()) >= fewest:
        return trusted
    first, second = (_between(*each) for each in zip(trusted, volts, lost, strict=True))
    return first, second


def _between(trusted: Mask, volts: Array, lost: Mask) -> Mask:
    rows = np.flatnonzero(np.isfinite(volts))
    if rows.size < 2:
        return trusted
    after = np.clip(np.searchsorted(rows, np.arange(volts.size), side="right"), 1, rows.size - 1)
    sound = trusted[rows[after - 1]] & trusted[rows[after]]
    result: Mask = trusted | (~np.isfinite(volts) & ~lost & sound)
    return result


def departure_of_read(away: Array, travel: tuple[Array, Array], volts: tuple[Array, Array],
                      lost: tuple[Mask, Mask]) -> Array:
    """Return the departure of two tracks in %, shape (n,); 0 where a reading was lost.

    away, travel, volts, lost: shape (n,) each; away and travel in %, without NaN. Each track
    is judged at its own readings against all the other may have done between two of its own:
    a straight line across a quick foot departs, and is no reading. In rows of none, it follows
    from those around.
    """
    first, second = (np.isfinite(v) for v in volts)
    if first.all() and second.all():
        return away
    gone = lost[0] | lost[1]
    below, above = _leeway(travel[0], first)
    by_second = _shrunk(away, below, above, second, gone)
    below, above = _leeway(travel[1], second)
    by_first = _shrunk(away, above, below, first, gone)
    result = np.where(np.abs(by_first) >= np.abs(by_second), by_first, by_second)
    result[gone] = 0.0
    # What is drawn from one track's readings ends where the other's say that it is over.
    size = np.abs(away)
    return np.clip(result, -size, size)


def _leeway(travel: Array, read: Mask) -> tuple[Array, Array]:
    """Return how far a track may lie below and above its line between its readings, shape (n,).

    A foot on its way stays between the two readings; one that turns goes beyond by a part of
    what the track moves around there.
    """
    rows = np.flatnonzero(read)
    if rows.size < 2:
        return np.zeros(travel.size), np.zeros(travel.size)
    known = travel[rows]
    low, high = np.minimum(known[:-1], known[1:]), np.maximum(known[:-1], known[1:])
    wide_low = np.minimum(np.minimum(np.r_[low[0], low[:-1]], low), np.r_[low[1:], low[-1]])
    wide_high = np.maximum(np.maximum(np.r_[high[0], high[:-1]], high), np.r_[high[1:], high[-1]])
    turn = TURN_SHARE * (wide_high - wide_low)
    way = np.clip(np.searchsorted(rows, np.arange(travel.size), side="right") - 1, 0, low.size - 1)
    blank = ~read
    return (np.where(blank, np.maximum(travel - (low - turn)[way], 0.0), 0.0),
            np.where(blank, np.maximum((high + turn)[way] - travel, 0.0), 0.0))


def _shrunk(away: Array, less: Array, more: Array, read: Mask, gone: Mask) -> Array:
    """Return what of `away` remains if it may be that much less or more, at the rows read."""
    left = np.where(away > 0, np.maximum(away - less, 0.0), np.minimum(away + more, 0.0))
    left[gone] = 0.0
    return filled(np.where(read, left, np.nan))


def uneven_faults(recording: Recording) -> list[Fault]:
    """Return one fault per track whose blanks cannot be told from losses."""
    times = recording.time_s
    return [Fault("no reading", c.column, float(times[0]), float(times[-1]), float("nan"), 1,
                  Reason("recorded unevenly", {"track": c.column}))
            for c in recording.with_role("track")
            if judge_blanks(np.isfinite(c.readings), times, recording.step_s)[1]]


def missing_faults(lost: Mapping[str, Mask], times: Array, pedal: Array,
                   segments: tuple[Segment, ...]) -> list[Fault]:
    """Return one fault per track for what is lost off rest, one for what is lost at rest.

    lost: by track, shape (n,); pedal: travel in %, shape (n,). Off rest it weighs what a dropout
    does. What all tracks lose at once is the recording's loss and told once, as a gap.
    """
    if not any(mask.any() for mask in lost.values()):
        return []
    at_rest = _rows_of([s for s in segments if s.kind == "rest"], times.size)
    still = at_rest | _rows_of(full_presses(segments), times.size)
    read = [mask for mask in lost.values() if not mask.all()]
    # A single track's losses are its own, and so are those of the last that is alive.
    every = (np.logical_and.reduce(read) if len(read) > 1
             else np.zeros(times.size, dtype=bool))
    found = []
    for name, mask in lost.items():
        own = mask.copy()
        for start, stop in zip(*runs(mask), strict=True):
            # The cells of one lost line do not all end at the same row.
            if 2 * int(every[start:stop].sum()) >= stop - start:
                own[start:stop] = False
        if own.all():
            continue  # A track that was never read is told as dead (wiring.dead_faults).
        found += [
            _fault("no reading", name, part, times, pedal, gravity, "track")
            for part, gravity in ((own & ~at_rest, 3), (own & at_rest, 2)) if part.any()]
    if every.any():
        found.append(_fault("gap", None, every, times, pedal,
                            _gravity_of_all(every, pedal, still), "every track"))
    return found


def supply_missing(recording: Recording, lost: Mapping[str, Mask], pedal: Array) -> list[Fault]:
    """Return where the supply alone gives no reading: no ratio, so nothing of the tracks, there.

    lost: by track, shape (n,); pedal: travel in %, shape (n,). A reading below a tenth of nominal
    is none either. Where much is missing, what rests on it was not seen ("supply lost").
    """
    feed = recording.supply
    if feed is None:
        return []
    times = recording.time_s
    own = lost_rows(np.isfinite(feed.readings), times, recording.step_s)
    volts = recording.supply_volts()
    if volts is not None:
        own |= volts <= NO_SUPPLY * recording.nominal_volts
    own &= ~np.logical_and.reduce(list(lost.values()))
    if not own.any():
        return []
    starts, stops = runs(own)
    longest = int((stops - starts).max()) * recording.step_s
    much = float(own.mean()) >= MUCH_SHARE or longest >= MUCH_S
    return [_fault("supply lost" if much else "no reading", feed.column, own, times, pedal, 1,
                   "supply")]


def _rows_of(segments: Sequence[Segment], size: int) -> Mask:
    rows = np.zeros(size, dtype=bool)
    for segment in segments:
        rows[segment.start: segment.stop] = True
    return rows


def _gravity_of_all(every: Mask, pedal: Array, still: Mask) -> int:
    """Return 1 for a hole in the log, 3 where it comes back whenever the pedal is at one place.

    still: shape (n,), where the pedal is at rest or held at full: holes fall there by chance.
    """
    starts, _ = runs(every & ~still)
    if starts.size < OFTEN:
        return 1
    return 3 if float(np.ptp(pedal[starts])) <= ONE_PLACE else 1


def _fault(kind: str, name: str | None, mask: Mask, times: Array, pedal: Array, gravity: int,
           what: str) -> Fault:
    """Return one fault over all runs of the mask; its time is that of the longest.

    what: gives no reading: "track", "every track" or "supply".
    """
    starts, stops = runs(mask)
    ends = times[np.minimum(stops, times.size - 1)]
    seconds = ends - times[starts]
    worst = int(np.argmax(seconds))
    low, high = np.quantile(pedal[mask], [0.05, 0.95])
    rows = int(mask.sum())
    begin = float(times[starts[worst]])
    return Fault(kind, name, begin, float(ends[worst]), float(np.median(pedal[mask])), gravity,
                 Reason("readings missing", {
                     "what": what, "track": name, "rows": rows, "times": int(starts.size),
                     "longest_s": float(seconds[worst]), "longest_at_s": begin,
                     "first_s": float(times[starts[0]]), "last_s": float(ends[-1]),
                     "lowest_percent": float(low), "highest_percent": float(high)}))
