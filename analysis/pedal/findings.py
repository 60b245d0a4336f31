"""Everything a sweep shows, in one frozen result; `analyse` orders the steps.

1. volts at nominal supply, readings at a rail set aside (travel.at_a_rail)
2. thinned tracks, rest and full levels, segments (travel, segments)
3. twice, the second time with better levels: what is usual between the tracks, what departs
   from it (faults.dropouts, faults.slips), each track measured without that (tracks)
4. the pair, the other faults, then what to do about it all (`decide`)
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from analysis.evidence.claim import Claim, Finding, State
from analysis.evidence.sufficiency import not_enough
from analysis.evidence.sweep import sweep_claims, sweep_findings, sweep_state
from analysis.model.errors import BadParameter, NoPressFound, NoTrack
from analysis.model.recording import Array, Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band import CarAddition, DeadBand, dead_band
from analysis.pedal.faults import Fault, shorted_tracks, wear, wiring
from analysis.pedal.faults import dropouts as dropping
from analysis.pedal.faults import missing as missed
from analysis.pedal.faults import returns as returning
from analysis.pedal.faults import shaft_slip as slipping
from analysis.pedal.faults.dead import Dead, attributable, dead_track_faults, find_dead, rows_of
from analysis.pedal.faults.late import find_late, late_all_along
from analysis.pedal.faults.patches import patch_faults
from analysis.pedal.faults.returns import ReturnTime
from analysis.pedal.faults.settling import settling_faults
from analysis.pedal.pair import EDGES, PairFindings, Way, measure_pair, mismatch_curves, ways
from analysis.pedal.remedies import Remedy, remedies
from analysis.pedal.settings import Setting, reachable, recommend
from analysis.pedal.tracks import (
    TrackFindings,
    clipped_rows,
    find_plateaus,
    judge_levels,
    measure_track,
)
from analysis.pedal.travel import Ends, Thinned, Travel, at_a_rail, find_ends, moving, thin
from analysis.pedal.verdict import Sentence, missing, off_at_rest, play_explains, verdict
from analysis.pedal.withhold_levels import kept
from analysis.signal.floating_inputs import floating_inputs
from analysis.signal.linearity import minimax_line
from analysis.signal.missing_cells import lost_by_track
from analysis.signal.noise import noise_map, own_noise
from analysis.signal.segments import Segment, find_segments
from analysis.signal.smoothing import Mask, bin_means, block_means, filled
from analysis.signal.supply import check_supply, far_off, supply_doubt, with_supply_between

__all__ = ["Findings", "ReturnTime", "Travel", "analyse", "decide"]


@dataclass(frozen=True)
class Findings:
    """Hold what one sweep shows, for faces, reports and exports to read.

    return_limit_s: the limit of 49 CFR 571.124 S5.3 that the parameters chose.
    doubt: one sentence when it could not be told which end is rest, or when the supply cannot
        be what it is said to be; no settings then.
    car: by track, what a key-on log of this very pedal put in place of the assumed allowance.
    car_said: what has to be known of that log together with the values.
    notes: what is missing or weak, one sentence each. verdict: plain sentences, gravest first.
    """

    recording: Recording
    parameters: Parameters
    segments: tuple[Segment, ...]
    travel: Travel
    tracks: Mapping[str, TrackFindings]
    pair: PairFindings | None
    faults: tuple[Fault, ...]
    return_times: tuple[ReturnTime, ...]
    return_limit_s: float
    dead_bands: Mapping[str, DeadBand]
    remedies: Mapping[str, tuple[Remedy, ...]]
    settings: tuple[Setting, ...]
    notes: tuple[str, ...]
    verdict: tuple[str, ...]
    doubt: str | None = None
    car: Mapping[str, CarAddition] = field(default_factory=dict)
    car_said: tuple[Sentence, ...] = ()

    @property
    def sound(self) -> bool:
        """Return whether every claim of the sweep is sound: none contradicted, none open."""
        return self.state == "sound"

    @property
    def state(self) -> State:
        """Return the state of the whole sweep, the same for every sheet."""
        return sweep_state(self.claims, self.graded)

    @cached_property
    def claims(self) -> tuple[Claim, ...]:
        """Return every claim of the sweep with its state and the codes that made it so."""
        return sweep_claims(self.graded)

    @property
    def coded(self) -> tuple[Finding, ...]:
        """Return what was said as data, gravest first."""
        return sweep_findings(self.graded)

    @property
    def gravest(self) -> int:
        """Return the gravity of the gravest sentence, 0 to 3 as of `Fault`."""
        return max((s.gravity for s in self.graded), default=0)

    @cached_property
    def graded(self) -> tuple[Sentence, ...]:
        """Return the verdict, then the notes, then what was said of the log in the car."""
        said = verdict(self.tracks, self.pair, self.faults, self.dead_bands, self.return_times,
                       self.parameters, self.doubt, not_enough(self.segments, self.tracks))
        return (*said, *missing(self.recording, self.tracks, self.faults), *self.car_said)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what has to be known before a value is entered, gravest first.

        Every page, sheet and file that carries the values carries these with them.
        """
        grave = [s for s in self.graded if s.gravity > 0]
        return tuple(s.text for s in sorted(grave, key=lambda s: -s.gravity))


@dataclass(frozen=True)
class _Look:
    """Hold one look at the recording, with the levels known when it was taken."""

    by_track: Mapping[str, Array]
    trusted: Mapping[str, Mask]
    pedal: Array
    dropouts: list[dropping.Dropout]
    away: Array


def analyse(recording: Recording, parameters: Parameters | None = None) -> Findings:
    """Return the findings of a sweep recording.

    Raises NoTrack without a channel of role "track", SupplyMissing, SweepTooShort with fewer
    than 20 rows, NoPressFound when no track moves like a pedal.
    """
    parameters = parameters or Parameters()
    channels = {c.column: c for c in recording.with_role("track")}
    if not channels:
        raise NoTrack("the recording has no channel of role \"track\"; give at least one channel "
                      "that role in the file's header")
    nominal, step_s = recording.nominal_volts, recording.step_s
    check_supply(recording)
    fed = with_supply_between(recording)
    volts = {name: fed.stated_volts(c) for name, c in channels.items()}
    rails = {name: at_a_rail(v, clipped_rows(channels[name]), nominal, step_s)
             for name, v in volts.items()}
    readable = {name: np.isfinite(volts[name]) & ~rails[name] for name in channels}
    lost = lost_by_track(recording)
    points = thin(recording, volts, readable)
    names = moving(points, nominal)
    alien = floating_inputs({n: points.volts[n] for n in names}, points.times)
    names = tuple(n for n in names if n not in alien)
    dead = find_late(points, names) or find_dead(points, names, readable, nominal)
    names = tuple(n for n in names if n not in late_all_along(dead, points))
    dead_rows = {d.column: rows_of(dead, d.column, points.size, recording.rows)
                 for d in dead if d.column}
    if dead:
        # A track that stands still while another moves is not asked where the pedal is.
        for name, gone in dead_rows.items():
            volts[name] = np.where(gone, np.nan, volts[name])
            readable[name] = readable[name] & ~gone
            rails[name] = rails[name] & ~gone
        points = _without(dead, thin(recording, volts, readable))
    ends, doubt = find_ends(points, names, recording.marks)
    segments = _segments(points, ends)
    slips: tuple[slipping.Slip, ...] = ()
    if len(names) > 1:
        slips = slipping.find_slips(volts, readable, ends, segments, step_s)
    if slips:
        volts = slipping.as_now(volts, slips)
        points = _without(dead, thin(recording, volts, readable))
        ends, doubt = find_ends(points, names, recording.marks)
        segments = _segments(points, ends)
    if not any(s.kind == "press" for s in segments):
        raise NoPressFound("the tracks move but no press of the pedal is seen; press it right "
                           "down and let it come back, three times or more")
    trusted: Mapping[str, Mask] = {n: readable[n] for n in names}
    for second_look in (False, True):
        look = _look(recording, volts, readable, trusted, lost, dead_rows, ends, segments, points)
        same = all(np.array_equal(trusted[n], look.trusted[n]) for n in names)
        trusted = look.trusted
        if look.dropouts and not second_look:
            # What was lost contact is no movement of the pedal: find the segments without it.
            points = _without(dead, thin(recording, {n: volts[n] for n in names}, trusted))
            segments = _segments(points, ends) or segments
        if not (second_look and same):
            flat = {n: find_plateaus(recording, channels[n], volts[n], trusted[n], segments)
                    for n in names}
        levels = {n: judge_levels(flat[n], ends[n]) for n in names}
        ends = {n: levels[n].ends(ends[n]) for n in names}
    noise = _noise_along_travel(look, ends, segments, step_s)
    tracks = {n: measure_track(recording, channels[n], volts[n], trusted[n], noise[n], ends[n],
                               levels[n], parameters.supply_tolerance) for n in names}

    thinned = {n: block_means(volts[n], trusted[n], points.size) for n in names}
    travel = {n: ends[n].percent(thinned[n]) for n in names}
    pedal = _mean(travel)
    way = ways(segments, pedal.size, points.size)
    pair = None
    if len(names) > 1:
        first, second = names[:2]
        pair = measure_pair(tracks[first], tracks[second], thinned, pedal, ends, way, parameters)
        tracks |= {first: _with_linearity(tracks[first], thinned[first], travel[second], way),
                   second: _with_linearity(tracks[second], thinned[second], travel[first], way)}
    returns = returning.return_times(segments, look.pedal, recording.time_s)
    faults = _faults(recording, look, dead, points.size, slips, rails, lost, volts, tracks,
                     travel, way, segments, pair, returns, parameters)
    if far_off(recording):
        # Rails, limits and levels were all judged against a supply that is none.
        feeds = [c.column for c in recording.with_role("supply")]
        faults = tuple(f for f in faults if f.kind == "gap" or f.channel in feeds)
    result = Findings(
        recording, parameters, segments, Travel(look.pedal, look.by_track, trusted), tracks, pair,
        faults, returns, returning.return_limit(parameters), {}, {}, (), (), (),
        supply_doubt(recording) or doubt)
    return decide(result, parameters)


def decide(findings: Findings, parameters: Parameters,
           car: Mapping[str, CarAddition] | None = None,
           car_said: tuple[Sentence, ...] = ()) -> Findings:
    """Return the findings with dead bands, remedies, settings and verdict made anew.

    Nothing is measured again, so this answers at once when a parameter changes. car: what a key-on
    log says that the car adds; None leaves it as it is in these findings, {} takes it back.
    car_said: what has to be known of that log together with the values.
    Raises BadParameter when a target names no track or lies beyond the supply.
    """
    _check_targets(findings, parameters)
    said = findings.car_said if car is None else car_said
    doubt, car = findings.doubt, findings.car if car is None else car
    short = doubt or not_enough(findings.segments, findings.tracks)
    bands = {n: reachable(kept(dead_band(t, parameters, car.get(n)), t, findings.faults, short), t)
             for n, t in findings.tracks.items()}
    aims = _aims(findings.tracks, findings.pair, parameters)
    off = off_at_rest(findings.tracks, findings.pair)
    beside = {} if off is None else {off[0]: findings.tracks[off[1]]}
    mended = {n: remedies(t, bands[n], aims, beside.get(n), n in parameters.target_rest_volts)
              for n, t in findings.tracks.items()}
    settings = recommend(findings.tracks, findings.pair, bands, parameters)
    withheld = doubt or not_enough(findings.segments, findings.tracks)
    if withheld is not None:
        settings = tuple(replace(s, value=float("nan"), why=withheld) for s in settings)
    notes = missing(findings.recording, findings.tracks, findings.faults)
    sentences = verdict(findings.tracks, findings.pair, findings.faults, bands,
                        findings.return_times, parameters, doubt,
                        not_enough(findings.segments, findings.tracks))
    return replace(findings, parameters=parameters, car=car, car_said=said, dead_bands=bands,
                   remedies=mended, settings=settings, notes=tuple(s.text for s in notes),
                   verdict=tuple(s.text for s in sentences),
                   return_limit_s=returning.return_limit(parameters))


def _aims(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
          parameters: Parameters) -> Parameters:
    """Return the parameters; of two like tracks without targets the higher aims at the other.

    Not where play between the two puts it there: that is to be fastened, not turned away.
    """
    off = off_at_rest(tracks, pair)
    if off is None or parameters.target_rest_volts or play_explains(tracks, pair):
        return parameters
    column, other, _ = off
    return replace(parameters, target_rest_volts={column: tracks[other].rest.value})


def _check_targets(findings: Findings, parameters: Parameters) -> None:
    nominal = findings.recording.nominal_volts
    columns = [c.column for c in findings.recording.with_role("track")]
    for name in ("target_rest_volts", "target_full_volts"):
        for column, volts in getattr(parameters, name).items():
            what = name.replace("_volts", "").replace("_", " ")
            if column not in columns:
                raise BadParameter(f"{what} is given for track {column!r}, but the tracks are "
                              f"{', '.join(columns)}; name one of them")
            if not 0.0 < volts < nominal:
                raise BadParameter(
                    f"{what} of track {column!r} is {volts:g} V; use a voltage between "
                    f"0 and the supply of {nominal:g} V"
                )


def _without(dead: tuple[Dead, ...], points: Thinned) -> Thinned:
    """Return the thinned tracks with the stretches in which one did not follow."""
    if not dead:
        return points
    named = [d for d in dead if d.column]
    masks = {d.column: np.zeros(points.times.size, dtype=bool) for d in named}
    for each in named:
        masks[each.column][each.start: each.stop] = True
    return replace(points, dead=masks)


def _segments(points: Thinned, ends: Mapping[str, Ends]) -> tuple[Segment, ...]:
    return find_segments(points.pedal(ends), points.times, points.size)


def _look(recording: Recording, volts: Mapping[str, Array], readable: Mapping[str, Mask],
          trusted: Mapping[str, Mask], lost: Mapping[str, Mask], dead_rows: Mapping[str, Mask],
          ends: Mapping[str, Ends], segments: tuple[Segment, ...], points: Thinned) -> _Look:
    """Return what departs from the usual, seen with the levels and trust of the last look."""
    names = list(ends)
    step_s = recording.step_s
    by_track = {n: ends[n].percent(filled(volts[n])) for n in names}
    if len(names) == 1:
        return _lone_look(recording, by_track[names[0]], readable, names[0], ends, segments,
                          points)
    a, b = names[:2]
    judged = dict(zip((a, b), missed.judged_together(
        (trusted[a], trusted[b]), (volts[a], volts[b]), (lost[a], lost[b])), strict=True))
    thinned = {n: ends[n].percent(block_means(filled(volts[n]), judged[n], points.size))
               for n in (a, b)}
    pedal_points = _mean(thinned)
    way = ways(segments, pedal_points.size, points.size)
    apart = dropping.without_spikes(thinned[a] - thinned[b], step_s * points.size)
    curves = mismatch_curves(pedal_points, apart, way)
    difference = by_track[a] - by_track[b]
    pedal = (by_track[a] + by_track[b]) / 2
    away = dropping.departure(pedal, difference, curves, segments)
    noise = noise_map(away, judged[a] & judged[b], pedal, segments, step_s)
    away = missed.departure_of_read(away, (by_track[a], by_track[b]), (volts[a], volts[b]),
                                    (lost[a], lost[b]))
    for gone in dead_rows.values():
        # A dead track differs from the pedal all the time, and no contact of the other is lost.
        away[gone] = 0.0
    found = dropping.find_dropouts({a: by_track[a], b: by_track[b]}, away,
                                   dropping.threshold(pedal, noise), step_s)
    better = dropping.trusted_without(found, {n: readable[n] for n in names}, (a, b))
    pedal = np.where(better[a] & better[b], pedal, np.where(better[a], by_track[a], by_track[b]))
    pedal = dropping.across_unsure(pedal, found)
    return _Look(by_track, better, pedal, found, away)


def _lone_look(recording: Recording, travel: Array, readable: Mapping[str, Mask], name: str,
               ends: Mapping[str, Ends], segments: tuple[Segment, ...],
               points: Thinned) -> _Look:
    smooth = np.interp(recording.time_s, points.times, ends[name].percent(points.volts[name]))
    noise = noise_map(travel, readable[name], smooth, segments, recording.step_s)
    usual = float(np.nanmedian(noise)) if np.isfinite(noise).any() else 0.0
    found = dropping.find_lone_dropouts(name, travel, smooth, usual, recording.step_s)
    better = dropping.trusted_without(found, {name: readable[name]}, (name,))
    pedal = np.where(better[name], travel, smooth)
    return _Look({name: travel}, better, pedal, found, travel - smooth)


def _faults(recording: Recording, look: _Look, dead: tuple[Dead, ...], size: int,
            slips: tuple[slipping.Slip, ...], rails: Mapping[str, Mask],
            lost: Mapping[str, Mask], volts: Mapping[str, Array],
            tracks: Mapping[str, TrackFindings], travel: Mapping[str, Array], way: Way,
            segments: tuple[Segment, ...], pair: PairFindings | None,
            returns: tuple[ReturnTime, ...], parameters: Parameters) -> tuple[Fault, ...]:
    """Return all faults, gravest first, then in order of time."""
    times, nominal, step_s = recording.time_s, recording.nominal_volts, recording.step_s
    # A stay at a rail is part of the dropout around it, and told once; a long one is no dropout.
    apart = [(d.start * size, d.stop * size) for d in dead if not d.column]
    short, alone = dropping.without_rails(
        dropping.without_parted(look.dropouts, apart, rails), rails, step_s)
    found = dropping.dropout_faults(short, rails, times, look.pedal, step_s)
    found += missed.missing_faults(lost, times, look.pedal, segments)
    found += missed.uneven_faults(recording)
    found += missed.supply_missing(recording, lost, look.pedal)
    for name, values in volts.items():
        if name not in tracks and any(d.column == name for d in dead):
            continue
        if name not in tracks:
            found.append(wiring.dead_faults(name, values, nominal, times))
            continue
        found += wiring.rail_faults(name, alone[name], values, nominal, times, look.pedal,
                                    len(volts) == 1)
        clipping = wiring.clipping_faults(recording.channel(name), look.trusted[name], times,
                                          look.pedal, len(volts) == 1)
        found += clipping
    found += slipping.slip_faults(slips, times, look.pedal)
    found += settling_faults(segments, look.pedal, times)
    found += dead_track_faults(dead, times, look.pedal, size)
    pair_names = [] if pair is None else [pair.first, pair.second]
    clipped = [f for f in found if f.kind == "clipping"]
    known = {f.channel for f in clipped}
    flat = [f for f in wear.flat_faults({n: tracks[n] for n in pair_names}, travel, way, times,
                                        look.pedal, segments)
            if not (f.kind == "clipping" and f.channel in known)]
    if pair is not None:
        read = {n: np.isfinite(volts[n]) & ~rails[n] for n in pair_names}
        patches = patch_faults({n: look.by_track[n] for n in pair_names}, read, times, segments)
        flat += [p for p in patches if not wear.told(p, clipped + flat)]
    found += flat
    found += wear.noise_faults(tracks, times, look.pedal, segments, clipped + flat)
    found += shorted_tracks.copy_faults(tracks, volts, look.trusted, look.pedal, segments, times)
    found += wiring.supply_faults(recording)
    found += wiring.gap_faults(recording)
    found += returning.return_faults(segments, look.pedal, times, returns,
                                     returning.return_limit(parameters),
                                     np.logical_or.reduce(list(look.trusted.values())))
    if pair is not None and pair.mismatch_max_percent.value > parameters.mismatch_limit_percent:
        found.append(Fault(
            "mismatch", None, float(times[0]), float(times[-1]),
            pair.mismatch_at_travel_percent, 2,
            f"the tracks differ by {pair.mismatch_max_percent.value:.1f} % of travel at "
            f"{pair.mismatch_at_travel_percent:z.0f} % of travel, more than the limit of "
            f"{parameters.mismatch_limit_percent:g} %"))
    return tuple(sorted(attributable(found), key=lambda f: (-f.gravity, f.time_s)))


def _noise_along_travel(look: _Look, ends: Mapping[str, Ends], segments: tuple[Segment, ...],
                        step_s: float) -> dict[str, Array]:
    """Return every track's noise in bins of travel, volts: the first two by one another."""
    percent: dict[str, Array] = {}
    names = list(look.by_track)
    if len(names) > 1:
        a, b = names[:2]
        own = own_noise(look.by_track[a], look.by_track[b], look.away,
                        look.trusted[a] & look.trusted[b], look.pedal, segments, step_s)
        percent = dict(zip((a, b), own, strict=True))
    for name in names[len(percent):]:
        percent[name] = noise_map(look.by_track[name], look.trusted[name], look.pedal, segments,
                                  step_s)
    return {n: noise * abs(ends[n].span) / 100.0 for n, noise in percent.items()}


def _with_linearity(track: TrackFindings, own: Array, other: Array, way: Way) -> TrackFindings:
    moves = (way != 0) & np.isfinite(own) & np.isfinite(other)
    mean, _, number = bin_means(other[moves], own[moves], EDGES)
    seen = number >= 4
    if seen.sum() < 10:
        return track
    middles = (EDGES[:-1] + EDGES[1:]) / 2
    _, _, deviation = minimax_line(middles[seen], mean[seen])
    return replace(track, linearity_percent=100.0 * deviation / track.nominal_volts)


def _mean(travel: Mapping[str, Array]) -> Array:
    """Return the mean of the first two tracks, or the one that is trusted; shape (m,)."""
    if len(travel) == 1:
        return filled(*travel.values())
    a, b = list(travel.values())[:2]
    result: Array = np.where(np.isfinite(a), np.where(np.isfinite(b), (a + b) / 2, a), b)
    return filled(result)
