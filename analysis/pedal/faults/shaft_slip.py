"""A track shifts against the other and stays there: a shaft that slipped in its coupling.

The plateaus tell: from one rest or hold to the next the tracks' difference changes, and all
later ones keep the change. The readings before it are then brought to where the track is now,
so that one slip is not told again as scatter, mismatch and returns that did not come back.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.pedal.travel import Ends
from analysis.signal.segments import Segment
from analysis.signal.side_by_side import by_name, side_by_side
from analysis.signal.smoothing import Mask, median

# A smaller lasting shift (in % of travel) is not told from the scatter of returns.
LEAST_SHIFT = 1.0
SPREADS = 5.0
LEAST_SPREAD = 0.1
MOST_SLIPS = 4
JUMP_S = 0.05


@dataclass(frozen=True)
class Slip:
    """Hold one slip: on which track, after which row, by how many volts and % of travel."""

    column: str
    row: int
    volts: float
    percent: float


@dataclass(frozen=True)
class _Level:
    """Hold the levels of both tracks on one plateau, % of travel, and its rows."""

    rest: bool
    start: int
    stop: int
    first: float
    second: float


def find_slips(volts: Mapping[str, Array], trusted: Mapping[str, Mask],
               ends: Mapping[str, Ends], segments: tuple[Segment, ...],
               step_s: float) -> tuple[Slip, ...]:
    """Return the slips of a pair of tracks, in order of time.

    volts, trusted: by track, shape (n,); ends: of two tracks.
    """
    names = list(ends)[:2]
    travel = by_name(volts[names[0]].size, names, lambda n: ends[n].percent(volts[n]))
    levels = _levels(travel, trusted, segments, step_s)
    found: list[Slip] = []
    _search(levels, names, travel, trusted, ends, step_s, found)
    return tuple(sorted(found, key=lambda s: s.row))


def as_now(volts: Mapping[str, Array], slips: tuple[Slip, ...]) -> dict[str, Array]:
    """Return the readings with those before each slip brought to where the track is now."""
    result = dict(volts)
    for slip in slips:
        values = result[slip.column].copy()
        values[: slip.row] += slip.volts
        result[slip.column] = values
    return result


def slip_faults(slips: tuple[Slip, ...], times: Array, pedal: Array) -> list[Fault]:
    """Return one fault per slip."""
    return [Fault(
        "step", s.column, float(times[s.row]), float(times[s.row]), float(pedal[s.row]), 3,
        Reason("shifts", {"track": s.column, "percent": abs(s.percent),
                          "time_s": float(times[s.row])})) for s in slips]


def _levels(travel: Mapping[str, Array], trusted: Mapping[str, Mask],
            segments: tuple[Segment, ...], step_s: float) -> list[_Level]:
    """Return the plateaus; one in which a track slips is split there by its two halves."""
    a, b = travel.values()
    good = np.logical_and(*(trusted[n] for n in travel))
    found = []
    for s in segments:
        if s.kind not in ("rest", "hold") or (s.stop - s.start) * step_s < 0.2:
            continue
        quarter = (s.stop - s.start) // 4
        middle = (s.start + s.stop) // 2
        for start, stop in ((s.start + quarter // 2, middle), (middle, s.stop - quarter // 2)):
            rows = slice(start, stop)
            keep = good[rows]
            count = int(np.count_nonzero(keep))
            if count >= 3:
                found.append((s.kind == "rest", rows, None if count == keep.size else keep))
    if not found:
        return []
    levels = side_by_side(good.size, *(
        lambda track=track: [median(track[rows] if keep is None else track[rows][keep])
                             for _, rows, keep in found] for track in (a, b)))
    return [_Level(rest, rows.start, rows.stop, first, second)
            for (rest, rows, _), first, second in zip(found, *levels, strict=True)]


def _search(levels: list[_Level], names: list[str], travel: Mapping[str, Array],
            trusted: Mapping[str, Mask], ends: Mapping[str, Ends], step_s: float,
            found: list[Slip]) -> None:
    best = _best_split(levels)
    if best is None or len(found) >= MOST_SLIPS:
        return
    k, shift = best
    before, after = levels[:k], levels[k:]
    own = [_shift([(p.rest, p.first) for p in before], [(p.rest, p.first) for p in after]),
           _shift([(p.rest, p.second) for p in before], [(p.rest, p.second) for p in after])]
    which = int(abs(own[1]) > abs(own[0]))
    # shift is that of first less second; stated for the track that moved.
    percent = shift if which == 0 else -shift
    name = names[which]
    start, stop = before[-1].start, after[0].stop
    row = start + _jump(travel[name][start:stop], travel[names[1 - which]][start:stop],
                        trusted[name][start:stop], percent, step_s)
    found.append(Slip(name, row, percent * ends[name].span / 100.0, percent))
    for part in (before, after):
        _search(part, names, travel, trusted, ends, step_s, found)


def _best_split(levels: list[_Level]) -> tuple[int, float] | None:
    """Return before which plateau the difference changed for good, and by how much; or None."""
    best, strength = None, 1.0
    difference = [(p.rest, p.first - p.second) for p in levels]
    for k in _likely_splits(difference):
        before, after = difference[:k], difference[k:]
        if min(len(before), len(after)) < 2:
            continue
        shift = _shift(before, after)
        limit = max(LEAST_SHIFT, SPREADS * max(_spread(before), _spread(after), LEAST_SPREAD))
        if abs(shift) / limit > strength:
            best, strength = (k, shift), abs(shift) / limit
    return best


def _likely_splits(difference: list[tuple[bool, float]]) -> range:
    """Return the splits around the one where the means before and after differ most."""
    count = len(difference)
    if count < 4:
        return range(0)
    rest = np.array([kind for kind, _ in difference])
    values = np.array([v for _, v in difference])
    for kind in (rest, ~rest):
        if kind.any():
            values[kind] -= np.mean(values[kind])
    k = np.arange(1, count)
    contrast = np.abs(np.cumsum(values)[:-1] - k / count * values.sum())
    most = int(k[np.argmax(contrast / np.sqrt(k * (count - k)))])
    return range(max(1, most - 3), min(count, most + 4))


def _shift(before: list[tuple[bool, float]], after: list[tuple[bool, float]]) -> float:
    """Return the change from before to after, rests and holds apart; 0 when they contradict."""
    changes = []
    for rest in (True, False):
        x = [v for kind, v in before if kind is rest]
        y = [v for kind, v in after if kind is rest]
        if x and y:
            changes.append(float(np.median(y) - np.median(x)))
    if not changes:
        return 0.0
    if len(changes) == 2 and (changes[0] * changes[1] <= 0
                              or min(map(abs, changes)) < 0.5 * max(map(abs, changes))):
        return 0.0
    return float(np.mean(changes))


def _spread(levels: list[tuple[bool, float]]) -> float:
    """Return the pooled standard deviation of rests and of holds about their own medians."""
    squares, degrees = 0.0, 0
    for rest in (True, False):
        values = np.array([v for kind, v in levels if kind is rest])
        if values.size > 1:
            squares += float(np.sum((values - np.median(values)) ** 2))
            degrees += values.size - 1
    return float(np.sqrt(squares / degrees)) if degrees else 0.0


def _jump(own: Array, other: Array, trusted: Mask, percent: float, step_s: float) -> int:
    """Return at which row between two plateaus the difference makes most of its change."""
    difference = np.where(trusted, own - other, np.nan)
    good = np.isfinite(difference)
    if good.sum() < 3:
        return int(difference.size // 2)
    rows = np.arange(difference.size)
    difference = np.interp(rows, rows[good], difference[good])
    wide = max(1, min(round(JUMP_S / step_s), difference.size // 4))
    total = np.concatenate([[0.0], np.cumsum(difference)])
    k = np.arange(wide, difference.size - wide + 1)
    change = (total[k + wide] - total[k] - total[k] + total[k - wide]) / wide
    return int(k[np.argmax(change * np.sign(percent))])
