"""Everything a sweep shows, in one frozen result; `analyse` orders the steps.

1. the sweep read and followed: levels, segments, what departs from the usual (sweep_course)
2. each track measured without that (tracks), then the pair
3. the faults (sweep_faults), then what to do about it all (`decide`)
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from analysis.evidence.claim import Claim, State
from analysis.evidence.sufficiency import not_enough
from analysis.evidence.sweep import sweep_claims, sweep_findings, sweep_state
from analysis.model.between import Between, go_on
from analysis.model.errors import BadParameter
from analysis.model.finding import Finding, Reason
from analysis.model.pedal_kind import RheostatInput, with_kind
from analysis.model.recording import Array, Recording
from analysis.parameters import Parameters
from analysis.pedal.at_controller import InputReach, at_controller, reaches
from analysis.pedal.beside import (
    direction_findings,
    lead_findings,
    switch_findings,
    third_findings,
)
from analysis.pedal.dead_band import CarAddition, DeadBand, dead_band
from analysis.pedal.direction import measure_direction
from analysis.pedal.faults import Fault
from analysis.pedal.faults import returns as returning
from analysis.pedal.faults.returns import ReturnTime
from analysis.pedal.faults.swept import Measured
from analysis.pedal.notes import assumed_resistor, missing, rest_assumed
from analysis.pedal.of_its_kind import of_its_kind, targets_on_its_scale
from analysis.pedal.pair import EDGES, PairFindings, Way, measure_pair, ways
from analysis.pedal.remedies import Remedy, remedies
from analysis.pedal.response import Response, begins, responses
from analysis.pedal.rest_direction import CONTRADICTED
from analysis.pedal.rest_wanted import wanted_at_the_other_end
from analysis.pedal.sensor_limits import hall_findings, outside_findings
from analysis.pedal.settings import Setting, reachable, recommend
from analysis.pedal.sweep_course import Seen, follow, mean_travel
from analysis.pedal.sweep_faults import sweep_faults
from analysis.pedal.switch import SwitchFindings, measure_switches
from analysis.pedal.tracks import TrackFindings, measure_track
from analysis.pedal.verdict import off_at_rest, play_explains, verdict
from analysis.pedal.warmth_line import MeasuredDrift
from analysis.pedal.withhold_levels import kept
from analysis.signal.linearity import minimax_line
from analysis.signal.noise import noise_map, own_noise
from analysis.signal.segments import Segment
from analysis.signal.side_by_side import by_name
from analysis.signal.smoothing import bin_means, block_means
from analysis.signal.supply import supply_doubt

__all__ = ["Findings", "ReturnTime", "analyse", "decide"]

# How much of the work of a long sweep is done after its parts: followed, measured, faults found.
FOLLOWED, MEASURED, JUDGED = 0.67, 0.78, 0.97


@dataclass(frozen=True)
class Findings:
    """Hold what one sweep shows, for faces, reports and exports to read.

    return_limit_s: the limit of 49 CFR 571.124 S5.3 that the parameters chose.
    doubt: why it could not be told which end is rest, or that the supply cannot be what it is said
        to be; no settings then. rest_shown: prompts or quick lift-offs show which end is rest.
    car: by track, what a key-on log of this very pedal put in place of the assumed allowance.
    car_said: what has to be known of that log together with the values.
    as_recorded: the recording before a parameter said of what kind the pedal is.
    at_controller: the tracks as the controller reads them by what is stated of it; dead bands,
        remedies and settings are of these. reaches: what its input may do beyond that.
    pedal_percent: where the pedal stood at every row, % of travel, shape (n,).
    warmth: the drift with temperature that a warm log of this pedal measured.
    responses: the demand along travel that the values give. third: each further track beside the
        first and the second. switches: what each channel of role "switch" does.
    notes: what is missing or weak. verdict: what it means, gravest first.
    """

    recording: Recording
    parameters: Parameters
    segments: tuple[Segment, ...]
    tracks: Mapping[str, TrackFindings]
    pair: PairFindings | None
    faults: tuple[Fault, ...]
    return_times: tuple[ReturnTime, ...]
    return_limit_s: float
    dead_bands: Mapping[str, DeadBand]
    remedies: Mapping[str, tuple[Remedy, ...]]
    settings: tuple[Setting, ...]
    notes: tuple[Finding, ...]
    verdict: tuple[Finding, ...]
    doubt: Reason | None = None
    rest_shown: bool = True
    car: Mapping[str, CarAddition] = field(default_factory=dict)
    car_said: tuple[Finding, ...] = ()
    as_recorded: Recording | None = None
    at_controller: Mapping[str, TrackFindings] = field(default_factory=dict)
    reaches: Mapping[str, InputReach] = field(default_factory=dict)
    responses: Mapping[str, Response] = field(default_factory=dict)
    third: tuple[PairFindings, ...] = ()
    switches: Mapping[str, SwitchFindings] = field(default_factory=dict)
    pedal_percent: Array | None = field(default=None, repr=False)
    warmth: MeasuredDrift | None = None

    @property
    def read_there(self) -> Mapping[str, TrackFindings]:
        """Return the tracks as the controller reads them; those of the bench before `decide`."""
        return self.at_controller or self.tracks

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
    def graded(self) -> tuple[Finding, ...]:
        """Return the verdict, then the notes, then what was said of the log in the car."""
        return (*self.verdict, *self.notes, *self.car_said)

    @property
    def warnings(self) -> tuple[Finding, ...]:
        """Return what has to be known before a value is entered, gravest first.

        Every page, sheet and file that carries the values carries these with them.
        """
        return tuple(sorted((f for f in self.graded if f.gravity > 0), key=lambda f: -f.gravity))


def analyse(recording: Recording, parameters: Parameters | None = None,
            between: Between = go_on) -> Findings:
    """Return the findings of a sweep recording.

    between: called between the parts of the work; what it raises ends it there.
    Raises NoTrack without a channel of role "track", SupplyMissing, SweepTooShort with fewer
    than 20 rows, NoPressFound when no track moves like a pedal.
    """
    parameters, as_recorded = parameters or Parameters(), recording
    recording = _stated(recording, parameters)
    seen = follow(recording, lambda share: between(FOLLOWED * share))
    measured = _measure(seen, targets_on_its_scale(parameters, recording.ohms_per_volt))
    between(MEASURED)
    faults = sweep_faults(seen, measured, parameters)
    between(JUDGED)
    result = Findings(
        recording, parameters, seen.course.segments, measured.tracks, measured.pair, faults,
        measured.returns, returning.return_limit(parameters), {}, {}, (), (), (),
        supply_doubt(recording) or seen.course.known.doubt, as_recorded=as_recorded,
        third=measured.third,
        switches=measure_switches(recording, seen.look.pedal, seen.course.segments),
        pedal_percent=seen.look.pedal, rest_shown=seen.course.rest_shown)
    return decide(result, parameters)


def _measure(seen: Seen, parameters: Parameters) -> Measured:
    """Return every track, the pair, and the returns of a sweep that was followed."""
    reading, course, look = seen.reading, seen.course, seen.look
    recording, names, size = reading.recording, reading.names, course.points.size
    noise = _noise_along_travel(seen)
    tracks = by_name(recording.rows, names, lambda n: measure_track(
        recording, recording.channel(n), reading.volts[n], look.trusted[n], noise[n],
        course.ends[n], seen.levels[n], parameters.supply_tolerance))
    thinned = by_name(recording.rows, names,
                      lambda n: block_means(reading.volts[n], look.trusted[n], size))
    travel = {n: course.ends[n].percent(thinned[n]) for n in names}
    pedal = mean_travel(travel)
    way = ways(course.segments, pedal.size, size)
    pair, third = None, []
    if len(names) > 1:
        first, second = names[:2]
        pair = measure_pair(tracks[first], tracks[second], thinned, pedal, course.ends, way,
                            parameters)
        third = [measure_pair(tracks[n], tracks[other], thinned, pedal, course.ends, way,
                              parameters) for other in names[2:] for n in (first, second)]
        tracks |= {first: _with_linearity(tracks[first], thinned[first], travel[second], way),
                   second: _with_linearity(tracks[second], thinned[second], travel[first], way)}
    returns = returning.return_times(course.segments, look.pedal, recording.time_s)
    return Measured(tracks, pair, travel, way, returns, tuple(third))


def decide(findings: Findings, parameters: Parameters,
           car: Mapping[str, CarAddition] | None = None,
           car_said: tuple[Finding, ...] = ()) -> Findings:
    """Return the findings with dead bands, remedies, settings and verdict made anew.

    Nothing is measured again, so this answers at once when a parameter changes. car: what a key-on
    log says that the car adds; None leaves it as it is in these findings, {} takes it back.
    car_said: what has to be known of that log together with the values.
    Raises BadParameter when a target names no track or lies beyond the supply.
    """
    findings = _of_kind(findings, parameters)
    said = findings.car_said if car is None else car_said
    car = findings.car if car is None else car
    rheostat = findings.recording.rheostat
    of_kind = replace(targets_on_its_scale(parameters, findings.recording.ohms_per_volt),
                      pedal_kind=findings.recording.pedal.kind)
    if rheostat is not None:
        of_kind = replace(
            of_kind, track_ohms=rheostat.full_ohms, rheostat_known_ohms=rheostat.known_ohms,
            rheostat_series_ohms=rheostat.series_ohms)
    _check_targets(findings, of_kind)
    doubt = _doubt(findings, of_kind)
    short = doubt or not_enough(findings.segments, findings.tracks)
    there, reach = at_controller(findings.tracks, of_kind), reaches(findings.tracks, of_kind)
    bands = {n: reachable(kept(dead_band(t, of_kind, car.get(n), reach.get(n),
                                         findings.warmth), t, findings.faults, short), t)
             for n, t in there.items()}
    aims = _aims(there, findings.pair, of_kind)
    off = off_at_rest(findings.tracks, findings.pair)
    beside = {} if off is None else {off[0]: there[off[1]]}
    repaired = {n: remedies(t, bands[n], aims, beside.get(n), n in parameters.target_rest_volts,
                            there)
                for n, t in there.items()}
    settings = recommend(there, findings.pair, bands, of_kind, reach)
    withheld = doubt or not_enough(findings.segments, findings.tracks)
    if withheld is not None:
        settings = tuple(replace(s, value=float("nan"), why=withheld) for s in settings)
    meant = verdict(findings.tracks, findings.pair, findings.faults, bands,
                    findings.return_times, of_kind, doubt,
                    not_enough(findings.segments, findings.tracks))
    answers = responses(findings.tracks, settings, of_kind)
    if withheld is None:
        outside = tuple(outside_findings(findings.tracks, of_kind))
        # What a dead band costs means nothing of levels that cannot be.
        untold = {f.channel for f in outside}
        meant = tuple(f for f in meant
                      if not (f.code == "costly dead band" and f.channel in untold))
        meant = tuple(sorted((
            *outside, *meant, *hall_findings(findings.tracks, of_kind),
            *lead_findings(bands, settings, of_kind, findings.recording.nominal_volts),
            *direction_findings(measure_direction(
                findings.recording, findings.pedal_percent, findings.segments,
                of_kind.direction_closed)),
            *third_findings(findings.pair, findings.third, of_kind, findings.faults),
            *switch_findings(findings.switches, bands, begins(findings.tracks, bands, of_kind))),
            key=lambda f: -f.gravity))
    return of_its_kind(replace(
        findings, parameters=parameters, doubt=doubt, car=car, car_said=said, dead_bands=bands,
        remedies=repaired, settings=settings, verdict=meant, at_controller=there, reaches=reach,
        responses=answers,
        notes=(*missing(findings.recording, findings.tracks, findings.faults),
               *assumed_resistor(findings.as_recorded or findings.recording, findings.recording,
                                 parameters),
               *(() if doubt is not None or findings.rest_shown
                 else rest_assumed(findings.tracks, of_kind))),
        return_limit_s=returning.return_limit(parameters)))


def _stated(recording: Recording, parameters: Parameters) -> Recording:
    """Return the recording of the kind of pedal that the parameters state, or its header."""
    return with_kind(recording, parameters.pedal_kind, parameters.pedal_use, RheostatInput(
        parameters.rheostat_known_ohms, parameters.rheostat_series_ohms, parameters.track_ohms),
        parameters.rheostat_known_stated)


def _doubt(findings: Findings, parameters: Parameters) -> Reason | None:
    """Return why no levels can be given: as measured, or by a wanted rest that contradicts them."""
    seen = None if findings.doubt is None or findings.doubt.code == CONTRADICTED else findings.doubt
    if seen is not None or findings.rest_shown:
        return seen
    return wanted_at_the_other_end(findings.tracks, parameters.target_rest_volts)


def _of_kind(findings: Findings, parameters: Parameters) -> Findings:
    """Return the findings of the kind of pedal that the parameters state; each fault knows it.

    Measured anew only where the kind changes what a reading means.
    """
    before = findings.as_recorded or findings.recording
    recording = _stated(before, parameters)
    now = findings.recording
    if (recording.pedal, recording.rheostat) == (now.pedal, now.rheostat):
        recording = now
    elif (recording.pedal.kind, recording.rheostat) != (now.pedal.kind, now.rheostat):
        anew = analyse(recording, replace(parameters, target_rest_volts={}, target_full_volts={}))
        findings = replace(anew, car=findings.car, car_said=findings.car_said)
    kind = recording.pedal.kind
    faults = tuple(replace(f, why=Reason(f.why.code, {**f.why.values, "pedal": kind}))
                   for f in findings.faults)
    return replace(findings, recording=recording, faults=faults, as_recorded=before)


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
            if column not in columns:
                raise BadParameter(
                    "target of no track", name=name, column=column, tracks=tuple(columns))
            if not 0.0 < volts < nominal:
                per_volt = findings.recording.ohms_per_volt
                if per_volt is not None:
                    raise BadParameter("target beyond rheostat", name=name, column=column,
                                       ohms=per_volt * volts, most_ohms=per_volt * nominal)
                raise BadParameter(
                    "target beyond supply", name=name, column=column, volts=volts,
                    supply_volts=nominal)


def _noise_along_travel(seen: Seen) -> dict[str, Array]:
    """Return every track's noise in bins of travel, volts: the first two by one another."""
    look, segments, step_s = seen.look, seen.course.segments, seen.reading.recording.step_s
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
    return {n: noise * abs(seen.course.ends[n].span) / 100.0 for n, noise in percent.items()}


def _with_linearity(track: TrackFindings, own: Array, other: Array, way: Way) -> TrackFindings:
    moves = (way != 0) & np.isfinite(own) & np.isfinite(other)
    mean, _, number = bin_means(other[moves], own[moves], EDGES)
    seen = number >= 4
    if seen.sum() < 10:
        return track
    middles = (EDGES[:-1] + EDGES[1:]) / 2
    _, _, deviation = minimax_line(middles[seen], mean[seen])
    return replace(track, linearity_percent=100.0 * deviation / track.nominal_volts)
