"""A sweep as it was read and followed: tracks, segments, and what departs from the usual.

`follow` orders the steps:
1. volts at nominal supply, readings at a rail set aside, tracks that stand still left out
2. rest and full levels, segments; a track that slipped on its shaft put back
3. twice, the second time with better levels: what is usual between the tracks, what departs
   from it (faults.dropouts), and the levels measured without that
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.model.between import Between, go_on
from analysis.model.errors import NoPressFound, NoTrack
from analysis.model.recording import Array, Recording
from analysis.pedal.faults import dropouts as dropping
from analysis.pedal.faults import missing as missed
from analysis.pedal.faults import shaft_slip as slipping
from analysis.pedal.faults.dead import Dead, find_dead, rows_of
from analysis.pedal.faults.late import find_late, late_all_along
from analysis.pedal.pair import mismatch_curves, ways
from analysis.pedal.rest_direction import RestEnd
from analysis.pedal.tracks import (
    Levels,
    Plateaus,
    clipped_rows,
    find_plateaus,
    judge_levels,
)
from analysis.pedal.travel import Ends, Thinned, at_a_rail, find_ends, moving, thin
from analysis.signal.floating_inputs import floating_inputs
from analysis.signal.missing_cells import lost_rows
from analysis.signal.noise import noise_map
from analysis.signal.one_after_other import delays_s, in_step
from analysis.signal.segments import Segment, find_segments
from analysis.signal.side_by_side import by_name, side_by_side
from analysis.signal.smoothing import Mask, block_means, filled
from analysis.signal.supply import check_supply, with_supply_between


@dataclass(frozen=True)
class Reading:
    """Hold the tracks of a sweep as they were read.

    volts: by track, shape (n,), at nominal supply; NaN where a track did not follow the pedal.
    readable, rails, lost: by track, shape (n,), where a reading counts, where it sits at a rail it
    jumped to, where it is missing although the board sent a row. names: the tracks that move like
    a pedal. dead, dead_rows: stretches in which one did not follow. points: the thinned tracks.
    slips: turns of a track on its shaft, which `volts` no longer have.
    """

    recording: Recording
    volts: Mapping[str, Array]
    readable: Mapping[str, Mask]
    rails: Mapping[str, Mask]
    lost: Mapping[str, Mask]
    names: tuple[str, ...]
    dead: tuple[Dead, ...]
    dead_rows: Mapping[str, Mask]
    points: Thinned
    slips: tuple[slipping.Slip, ...] = ()

    def thinned(self, volts: Mapping[str, Array], trusted: Mapping[str, Mask]) -> Thinned:
        """Return these tracks thinned, without the stretches in which one did not follow."""
        points = thin(self.recording, volts, trusted)
        named = [d for d in self.dead if d.column]
        if not self.dead:
            return points
        masks = {d.column: np.zeros(points.times.size, dtype=bool) for d in named}
        for each in named:
            masks[each.column][each.start: each.stop] = True
        return replace(points, dead=masks)


@dataclass(frozen=True)
class Course:
    """Hold where the pedal was: levels by track, segments, and how it is known which is rest."""

    points: Thinned
    ends: Mapping[str, Ends]
    segments: tuple[Segment, ...]
    known: RestEnd

    @property
    def rest_shown(self) -> bool:
        """Return whether prompts or quick lift-offs show which end is rest.

        Else it is only assumed that the recording starts and ends there.
        """
        return self.known.prompted or (
            self.known.fell_faster and any(s.quick for s in self.segments))


@dataclass(frozen=True)
class Look:
    """Hold one look at the recording, with the levels known when it was taken.

    by_track: travel in % by each track, shape (n,). trusted: by track, where its reading shows the
    pedal. pedal: travel in % of the pedal, (n,). away: departure from the usual difference, (n,).
    """

    by_track: Mapping[str, Array]
    trusted: Mapping[str, Mask]
    pedal: Array
    dropouts: list[dropping.Dropout]
    away: Array
    noise: Array


@dataclass(frozen=True)
class Seen:
    """Hold a sweep followed to its end: reading, course, the last look, and the levels."""

    reading: Reading
    course: Course
    look: Look
    levels: Mapping[str, Levels] = field(default_factory=dict)


def follow(recording: Recording, between: Between = go_on) -> Seen:
    """Return the sweep as read and followed.

    between: called between the parts of the work; what it raises ends it there.
    Raises NoTrack without a channel of role "track", SupplyMissing, SweepTooShort with fewer
    than 20 rows, NoPressFound when no track moves like a pedal.
    """
    reading = _read(recording)
    between(0.25)
    course = _course(reading)
    between(0.45)
    if len(reading.names) > 1:
        slips = slipping.find_slips(reading.volts, reading.readable, course.ends, course.segments,
                                    recording.step_s)
        if slips:
            volts = slipping.as_now(reading.volts, slips)
            reading = replace(reading, volts=volts, slips=slips,
                              points=reading.thinned(volts, reading.readable))
            course = _course(reading)
    if not any(s.kind == "press" for s in course.segments):
        raise NoPressFound("tracks move without a press")
    return _look_twice(reading, course, between)


def mean_travel(travel: Mapping[str, Array]) -> Array:
    """Return the mean of the first two tracks, or the one that is trusted; shape (m,)."""
    if len(travel) == 1:
        return filled(*travel.values())
    a, b = list(travel.values())[:2]
    result: Array = np.where(np.isfinite(a), np.where(np.isfinite(b), (a + b) / 2, a), b)
    return filled(result)


def _read(recording: Recording) -> Reading:
    channels = {c.column: c for c in recording.with_role("track")}
    if not channels:
        raise NoTrack("sweep without track")
    nominal, rows = recording.nominal_volts, recording.rows
    _, step_s, fed = side_by_side(rows, lambda: check_supply(recording), lambda: recording.step_s,
                                  lambda: with_supply_between(recording))

    def read(name: str) -> tuple[Array, Mask, Mask, Mask]:
        channel = channels[name]
        volts = fed.stated_volts(channel)
        at_rail = at_a_rail(volts, clipped_rows(channel), nominal, step_s)
        return (volts, at_rail, np.isfinite(volts) & ~at_rail,
                lost_rows(np.isfinite(channel.readings), recording.time_s, step_s))

    made = by_name(rows, channels, read)
    volts = {name: each[0] for name, each in made.items()}
    rails = {name: each[1] for name, each in made.items()}
    readable = {name: each[2] for name, each in made.items()}
    lost = {name: each[3] for name, each in made.items()}
    points = thin(recording, volts, readable)
    names = moving(points, nominal)
    if delays_s(recording):
        volts = in_step(recording, volts, points.times, {n: points.volts[n] for n in names})
        points = thin(recording, volts, readable)
    alien = floating_inputs({n: points.volts[n] for n in names}, points.times)
    names = tuple(n for n in names if n not in alien)
    dead = find_late(points, names) or find_dead(points, names, readable, nominal)
    names = tuple(n for n in names if n not in late_all_along(dead, points))
    dead_rows = {d.column: rows_of(dead, d.column, points.size, recording.rows)
                 for d in dead if d.column}
    reading = Reading(recording, volts, readable, rails, lost, names, dead, dead_rows, points)
    if not dead:
        return reading
    # A track that stands still while another moves is not asked where the pedal is.
    for name, gone in dead_rows.items():
        volts[name] = np.where(gone, np.nan, volts[name])
        readable[name] = readable[name] & ~gone
        rails[name] = rails[name] & ~gone
    return replace(reading, points=reading.thinned(volts, readable))


def _course(reading: Reading) -> Course:
    points = reading.points
    ends, known = find_ends(points, reading.names, reading.recording.marks)
    return Course(points, ends, _segments(points, ends), known)


def _segments(points: Thinned, ends: Mapping[str, Ends]) -> tuple[Segment, ...]:
    return find_segments(points.pedal(ends), points.times, points.size)


def _look_twice(reading: Reading, course: Course, between: Between) -> Seen:
    names, volts = reading.names, reading.volts
    trusted: Mapping[str, Mask] = {n: reading.readable[n] for n in names}
    for second_look in (False, True):
        between(0.75 if second_look else 0.5)
        look = _look(reading, trusted, course)
        same = all(np.array_equal(trusted[n], look.trusted[n]) for n in names)
        trusted = look.trusted
        if look.dropouts and not second_look:
            # What was lost contact is no movement of the pedal: find the segments without it.
            points = reading.thinned({n: volts[n] for n in names}, trusted)
            segments = _segments(points, course.ends) or course.segments
            course = replace(course, points=points, segments=segments)
        if not (second_look and same):
            flat = _plateaus(reading, trusted, course.segments)
        levels = {n: judge_levels(flat[n], course.ends[n]) for n in names}
        course = replace(course, ends={n: levels[n].ends(course.ends[n]) for n in names})
    return Seen(reading, course, look, levels)


def _plateaus(reading: Reading, trusted: Mapping[str, Mask],
              segments: tuple[Segment, ...]) -> dict[str, Plateaus]:
    recording = reading.recording
    return by_name(recording.rows, reading.names, lambda n: find_plateaus(
        recording, recording.channel(n), reading.volts[n], trusted[n], segments))


def _look(reading: Reading, trusted: Mapping[str, Mask], course: Course) -> Look:
    """Return what departs from the usual, seen with the levels and trust of the last look."""
    volts, lost, ends, segments = reading.volts, reading.lost, course.ends, course.segments
    names, size = list(ends), course.points.size
    step_s, rows = reading.recording.step_s, reading.recording.rows
    known = by_name(rows, names, lambda n: filled(volts[n]))
    by_track = by_name(rows, names, lambda n: ends[n].percent(known[n]))
    if len(names) == 1:
        return _lone_look(reading, names[0], by_track[names[0]], course)
    a, b = names[:2]
    judged = dict(zip((a, b), missed.judged_together(
        (trusted[a], trusted[b]), (volts[a], volts[b]), (lost[a], lost[b])), strict=True))
    thinned = by_name(rows, (a, b),
                      lambda n: ends[n].percent(block_means(known[n], judged[n], size)))
    pedal_points = mean_travel(thinned)
    way = ways(segments, pedal_points.size, size)
    apart = dropping.without_spikes(thinned[a] - thinned[b], step_s * size)
    curves = mismatch_curves(pedal_points, apart, way)
    pedal, away = dropping.departure(by_track[a], by_track[b], curves, segments)
    noise = noise_map(away, judged[a] & judged[b], pedal, segments, step_s)
    away = missed.departure_of_read(away, (by_track[a], by_track[b]), (volts[a], volts[b]),
                                    (lost[a], lost[b]))
    for gone in reading.dead_rows.values():
        # A dead track differs from the pedal all the time, and no contact of the other is lost.
        away[gone] = 0.0
    found = dropping.find_dropouts({a: by_track[a], b: by_track[b]}, away,
                                   dropping.threshold(pedal, noise), step_s)
    better = dropping.trusted_without(found, {n: reading.readable[n] for n in names}, (a, b))
    if not (better[a].all() and better[b].all()):
        pedal = np.where(better[a] & better[b], pedal,
                         np.where(better[a], by_track[a], by_track[b]))
    pedal = dropping.across_unsure(pedal, found)
    return Look(by_track, better, pedal, found, away, noise)


def _lone_look(reading: Reading, name: str, travel: Array, course: Course) -> Look:
    recording, points, readable = reading.recording, course.points, reading.readable[name]
    smooth = np.interp(recording.time_s, points.times,
                       course.ends[name].percent(points.volts[name]))
    noise = noise_map(travel, readable, smooth, course.segments, recording.step_s)
    usual = float(np.nanmedian(noise)) if np.isfinite(noise).any() else 0.0
    found = dropping.find_lone_dropouts(name, travel, smooth, usual, recording.step_s)
    better = dropping.trusted_without(found, {name: readable}, (name,))
    pedal = np.where(better[name], travel, smooth)
    return Look({name: travel}, better, pedal, found, travel - smooth, noise)
