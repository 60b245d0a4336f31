"""Order the steps from a key-on log to its findings."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from analysis.key_on import supply
from analysis.key_on.alias import alias_findings, slow_swings
from analysis.key_on.allowance import more_cycles
from analysis.key_on.brake import brake_events
from analysis.key_on.car import additions, contactor_of, hiding, hindrances
from analysis.key_on.direction import both_closed, direction_notes
from analysis.key_on.kind import as_judged, kind_findings
from analysis.key_on.measured import Measured
from analysis.key_on.notes import log_notes, returns_note
from analysis.key_on.opening import SUPPLY_CLIPPED, gravest_first
from analysis.key_on.presses import NOT_DRIVEN, Driven
from analysis.key_on.rests import moved_findings
from analysis.key_on.results import BrakeEvent, CommonMode, KeyOnFindings, TrackKeyOn
from analysis.key_on.strays import stray_findings
from analysis.key_on.verdict import judge, passed
from analysis.model.errors import NoTrack, SweepTooShort
from analysis.model.finding import Reason
from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band import CarAddition, DeadBand
from analysis.pedal.direction import measure_direction
from analysis.pedal.findings import Findings, decide
from analysis.pedal.of_its_kind import marked, marked_findings, marks_of
from analysis.pedal.settings import Setting


def analyse_key_on(recording: Recording, parameters: Parameters | None = None,
                   settings: Sequence[Setting] = (), sweep: Findings | None = None,
                   contactor: str | None = None,
                   driven: Driven = NOT_DRIVEN) -> KeyOnFindings:
    """Return what key-on does to the rest readings, the verdict, and the proof.

    settings: values in the controller (`start_of_travel`, `release`, `full_travel`, `rest` per
    track); a track without any is judged by those of the sweep. sweep: findings of the same pedal
    on the bench; with it directions and travel are known and the settings are issued anew with
    what this car adds. contactor: "open" or "closed" at these key-ons, None as the log's header
    says. driven: where a foot was asked for, and where the wheels turned.
    Raises NoTrack, NoKeyOn and SweepTooShort.
    """
    _refuse(recording)
    if parameters is None:
        parameters = sweep.parameters if sweep is not None else Parameters()
    judged = _judged_by(settings, sweep)
    as_logged, recording = recording, as_judged(recording, parameters, sweep)
    log = Measured(recording, parameters, judged, sweep, driven)
    direction = measure_direction(recording, None, (), parameters.direction_closed)
    proofs = {f.column: log.proof(f) for f in log.facts}
    tracks = {f.column: log.track(f, proofs[f.column].reach_volts) for f in log.facts}
    forbidding = () if sweep is None else tuple(f for f in sweep.graded if f.gravity >= 2)
    # Levels stated by a clipped supply are not to be set against the sweep's.
    moved = () if any(f.code == SUPPLY_CLIPPED for f in log.found) else moved_findings(
        tracks, log.times.found_by == "mark")
    known = gravest_first((*log.found, *moved,
                           *kind_findings(as_logged, recording, parameters, sweep),
                           *both_closed(direction),
                           *stray_findings(log.strays, parameters),
                           *alias_findings(tracks.values(), 1.0 / log.whole.step_s,
                                           slow_swings(log.log, log.settled, tracks))))
    verdict = judge(log.seen, log.judged, log.facts, log.limits, log.unread, known)
    common = _common(log, tracks)
    closed, unknown = contactor_of(recording, contactor)
    hindered = hindrances(recording, closed, log.unread, known, verdict.applied)
    returns = {f.column: log.returns(f) for f in log.facts}
    hidden = hiding(hindered, known)
    car = additions(tracks, parameters, hindered, known, log.lifts_logged, returns)
    brakes = _brakes(log)
    notes = _notes(log, sweep, car, (
        *direction_notes(direction, recording, log.cycles, parameters.direction_closed),
        *([] if brakes is not None else [Reason("brake not told")])))
    bands, issued = _issued(sweep, car, parameters)
    kept = issued if bands else judged
    marks = marks_of(recording)
    return KeyOnFindings(
        recording, parameters, closed, car, log.cycles, log.presses,
        {n: replace(t, lift_basis=marked(t.lift_basis, marks)) for n, t in tracks.items()},
        common, verdict,
        {n: replace(p, why=marked(p.why, marks)) for n, p in proofs.items()},
        brakes or (), more_cycles(log.lifts_logged, parameters),
        bands, kept, bool(bands), None if sweep is None else sweep.recording, forbidding,
        passed(kept, verdict, tracks), log.unread, log.key_on_hours,
        tuple(marked(n, marks) for n in (*notes, *([unknown] if unknown else []))),
        marked_findings(known, marks), {} if hidden else returns, hidden)


def _judged_by(settings: Sequence[Setting], sweep: Findings | None) -> tuple[Setting, ...]:
    """Return the values in the controller; the sweep's for a track of which none was entered."""
    given = {s.channel for s in settings}
    swept = () if sweep is None else sweep.settings
    return (*settings, *(s for s in swept if s.channel not in given))


def _notes(log: Measured, sweep: Findings | None, car: Mapping[str, CarAddition],
           more: tuple[Reason, ...]) -> list[Reason]:
    """Return what is missing or weak in the log; more: of its other lines."""
    notes = log_notes(log.recording, log.times, log.cycles, log.facts, log.settled.gaps.size)
    if sweep is not None:
        notes += returns_note(sweep.tracks, car)
    return [*notes, *more]


def _refuse(recording: Recording) -> None:
    """Raise NoTrack or SweepTooShort where nothing can be said of a log."""
    if not recording.with_role("track"):
        raise NoTrack("log without track")
    if recording.rows < 50:
        raise SweepTooShort("log too short", rows=recording.rows)
    if not recording.time_s[-1] > recording.time_s[0]:
        raise SweepTooShort("time of log stands still", time_s=float(recording.time_s[0]))


def _common(log: Measured, tracks: Mapping[str, TrackKeyOn]) -> CommonMode:
    """Return what the tracks' shifts share, and on what condition that was told."""
    common = supply.common_mode(log.facts, log.shifts(tracks), log.biases(tracks), log.gain,
                                log.parameters.confidence)
    if common.kind == "none":
        common = replace(common, why=supply.none_moves(
            log.blocks, log.log.free, log.cycles, bool(log.leads)))
    if not log.recording.pedal.ratiometric or any(
            t.follows == "does not follow" for t in tracks.values()):
        common = replace(common, as_measured=True)
    if log.recording.supply is None and common.kind in ("ground offset", "mixed"):
        common = replace(common, supply_unseen=True)
    return common


def _issued(sweep: Findings | None, car: Mapping[str, CarAddition], parameters: Parameters,
            ) -> tuple[dict[str, DeadBand], tuple[Setting, ...]]:
    """Return dead bands and settings with what counts for each track as the car's part."""
    if sweep is None or sweep.doubt is not None or not all(n in car for n in sweep.tracks):
        return {}, ()
    decided = decide(sweep, parameters, car)
    return dict(decided.dead_bands), decided.settings


def _brakes(log: Measured) -> tuple[BrakeEvent, ...] | None:
    """Return brake and pedal together; None when a brake is logged and it cannot be told."""
    lines = log.recording.with_role("brake")
    if not lines or not log.facts:
        return ()
    return brake_events(log.blocks, lines[0].column, log.facts[0])
