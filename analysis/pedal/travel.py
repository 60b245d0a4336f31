"""Travel of the pedal, from its tracks together, each checked by the other.

Method (docs/method.md, "Travel"): readings are thinned to about 100 a second by block medians;
each track is put on 0..100 % between its own rest and full level; where two tracks agree the
pedal is their mean, where they part the one that did not jump is believed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.model.errors import BadRecording, NoPressFound, SweepTooShort
from analysis.model.recording import Array, Mark, Recording
from analysis.pedal.rest_direction import RestEnd, rest_end
from analysis.signal.segments import plateau_level, turning_points
from analysis.signal.side_by_side import by_name
from analysis.signal.smoothing import Mask, block_medians, running_median, runs, trusted_only

THINNED_STEP_S = 0.01
# A track that moves less than this share of its supply is not following the pedal.
MOVES = 0.04
# Tracks further apart than this (in % of travel) are not averaged.
PART = 12.0
# A reading within this share of supply of a rail, reached in one jump, is a lost contact.
RAIL = 0.012
RAIL_JUMP = 0.08
# In more time than this a foot does it too; 0.5 % of it are the rounding of times.
SLOWEST_JUMP_S = 0.02


@dataclass(frozen=True)
class Ends:
    """Hold the two levels of a track in volts at nominal supply: at rest and fully pressed."""

    rest: float
    full: float

    @property
    def span(self) -> float:
        """Return full minus rest in volts; negative for a falling track."""
        return self.full - self.rest

    def percent(self, volts: Array) -> Array:
        """Return travel in %: 0 at rest, 100 at full."""
        result: Array = volts - self.rest
        result *= 100.0 / self.span
        return result


@dataclass(frozen=True)
class Thinned:
    """Hold the thinned tracks that segments are found on.

    size: rows per point. times: shape (m,). volts: by track, shape (m,), short jumps removed.
    dead: by track, shape (m,), where it did not follow the pedal; empty where all did.
    """

    size: int
    times: Array
    volts: Mapping[str, Array]
    dead: Mapping[str, Mask] = field(default_factory=dict)

    def pedal(self, ends: Mapping[str, "Ends"]) -> Array:
        """Return the pedal's travel in %, shape (m,), by these rest and full levels."""
        return pedal_travel({n: e.percent(self.volts[n]) for n, e in ends.items()}, self.dead)


def thin(recording: Recording, volts: Mapping[str, Array], trusted: Mapping[str, Mask]) -> Thinned:
    """Return block medians of the tracks at about 100 points a second.

    Raises SweepTooShort with fewer than 20 rows, BadRecording when time stands still.
    """
    if recording.rows < 20:
        raise SweepTooShort("sweep too short", rows=recording.rows)
    step = recording.step_s
    if not step > 0:
        raise BadRecording(
            "time stands still", rows=recording.rows, time_s=float(recording.time_s[0]))
    size = max(1, round(THINNED_STEP_S / step))
    size = min(size, recording.rows // 10)
    width = 5 if step <= THINNED_STEP_S else 3
    points = by_name(recording.rows, volts, lambda name: running_median(
        block_medians(trusted_only(volts[name], trusted[name]), size), width))
    # Times never go back, so each block's median is its middle one.
    whole = recording.rows // size * size
    return Thinned(size, recording.time_s[size // 2: whole: size].copy(), points)


def at_a_rail(volts: Array, at_end: Mask, nominal: float, step_s: float) -> Mask:
    """Return where a track sits at a rail it reached or left in one jump: lost contact.

    volts: shape (n,), at nominal supply; at_end: shape (n,), where the converter reads its end
    (a supply above the reference cannot be read further).
    A wiper that lifts goes to a rail between two readings; a foot cannot. With fewer than 50
    readings a second the two cannot be told apart, so nothing is marked. The jump is that from
    the last reading or to the next: rows between two readings at the rail are at it too.
    """
    marked = np.zeros(volts.shape, dtype=bool)
    if not step_s < SLOWEST_JUMP_S:
        return marked
    rail = volts < RAIL * nominal
    rail |= volts > (1.0 - RAIL) * nominal
    rail |= at_end
    known = np.isfinite(volts)
    rail &= known
    if not rail.any():
        return marked
    rows = np.flatnonzero(known)
    jumps = np.abs(np.diff(volts[rows])) > RAIL_JUMP * nominal
    jumps &= np.diff(rows) * step_s < 1.005 * SLOWEST_JUMP_S
    jumps = np.r_[False, jumps, False]
    for start, stop in zip(*runs(rail[rows]), strict=True):
        if jumps[start] or jumps[stop]:
            marked[rows[start]: rows[stop - 1] + 1] = True
    return marked


def moving(points: Thinned, nominal: float) -> tuple[str, ...]:
    """Return the names of the tracks that follow a pedal, in order."""
    ends = {name: np.quantile(values, [0.02, 0.98]) for name, values in points.volts.items()}
    return tuple(n for n, (low, high) in ends.items() if high - low > MOVES * nominal)


def find_ends(points: Thinned, names: tuple[str, ...],
              marks: tuple[Mark, ...]) -> tuple[dict[str, Ends], RestEnd]:
    """Return each track's rest and full level, and how it is known which of them is rest.

    First by quantiles, then by its own plateaus. Raises NoPressFound when no track moves.
    """
    extremes = {n: np.quantile(points.volts[n], [0.02, 0.98]).tolist() for n in names}
    low, high = ({n: each[k] for n, each in extremes.items()} for k in range(2))
    if not names or any(high[n] <= low[n] for n in names):
        raise NoPressFound("no track moved")
    first = points.volts[names[0]]
    middle = first - first.mean()
    same = {n: bool(middle @ points.volts[n] >= 0) for n in names}
    # All tracks turned the way of the first one, on 0..1.
    together = np.mean(
        [_unit(points.volts[n], low[n], high[n], same[n]) for n in names], axis=0)
    known = rest_end(together, points.times, marks, points.size)
    if not known.low:
        same = {n: not way for n, way in same.items()}
    ends = {n: Ends(low[n], high[n]) if same[n] else Ends(high[n], low[n]) for n in names}
    return refine_ends(points, ends), known


def refine_ends(points: Thinned, ends: Mapping[str, Ends]) -> dict[str, Ends]:
    """Return the ends again, each the median of the plateaus between turning points."""
    pedal = points.pedal(ends)
    turns = turning_points(pedal)
    result = {}
    for name, end in ends.items():
        own = end.percent(points.volts[name])
        levels: dict[bool, list[float]] = {False: [], True: []}
        for k, (index, peak) in enumerate(turns):
            start = (turns[k - 1][0] + index) // 2 if k else 0
            stop = (index + turns[k + 1][0]) // 2 if k + 1 < len(turns) else own.size
            if stop > start:
                levels[peak].append(plateau_level(own[start:stop], peak))
        rest = float(np.median(levels[False])) if levels[False] else 0.0
        tops = np.array(levels[True]) if levels[True] else np.array([100.0])
        full = float(np.median(tops[tops >= 0.85 * tops.max()]))
        if full - rest < 20.0:
            rest, full = 0.0, 100.0
        unit = end.span / 100.0
        result[name] = Ends(end.rest + rest * unit, end.rest + full * unit)
    return result


def pedal_travel(by_track: Mapping[str, Array],
                 dead: Mapping[str, Mask] | None = None) -> Array:
    """Return the pedal's travel in %, shape (m,), from one or more tracks in %.

    dead: by track, shape (m,), where it did not follow the pedal and is not asked.

    With more than two tracks, their median. With two: their mean where they agree; where they
    part by more than PART, the track that jumped less on the way in (or out) is believed.
    """
    pedal = _of_all(list(by_track.values()))
    for name, mask in (dead or {}).items():
        others = [v for n, v in by_track.items() if n != name]
        if name in by_track and others and mask.any():
            pedal = np.where(mask, _of_all(others), pedal)
    return pedal


def _of_all(tracks: list[Array]) -> Array:
    if len(tracks) == 1:
        return tracks[0]
    if len(tracks) > 2:
        middle: Array = np.median(np.array(tracks), axis=0)
        return middle
    a, b = tracks
    pedal: Array = (a + b) / 2
    starts, stops = runs(np.abs(a - b) > PART)
    for start, stop in zip(starts, stops, strict=True):
        edge = start if start > 0 else stop
        if edge >= a.size:
            continue
        lo, hi = max(0, edge - 3), min(a.size - 1, edge + 2)
        jump_a, jump_b = abs(a[hi] - a[lo]), abs(b[hi] - b[lo])
        if max(jump_a, jump_b) > 2 * min(jump_a, jump_b) + 3.0:
            pedal[start:stop] = (b if jump_a > jump_b else a)[start:stop]
    return pedal


def _unit(values: Array, low: float, high: float, same: bool) -> Array:
    result: Array = (values - low) / (high - low)
    return result if same else 1.0 - result
