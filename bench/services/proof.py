"""Prove on the car that it behaves: record, judge and keep each proof in the job's folder.

The folder's record (`bench/files/job_record.py`) says what was done; every proof is judged from its
own file again whenever it is shown, by the limits of the newest sweep in the record. Nothing that
was not seen counts as proved.
"""

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from analysis.model.errors import AnalysisError
from analysis.model.recording import Channel
from analysis.parameters import Parameters
from analysis.pedal.findings import Findings
from analysis.proof.expected import expected_volts, input_of, short_resistor
from analysis.proof.limits import Limits
from analysis.proof.next_check import NextCheck, next_check
from analysis.proof.outcome import Outcome, judge_file, limits_of
from analysis.proof.power import ROLES
from analysis.proof.steps import SUPPLY, Step
from bench.acquisition.proof_prompts import LOADS, TASKS, ProofGuide, ProofPrompt, Short, prompts_of
from bench.errors import BadCall, BenchError
from bench.files.exports.export_document import file_sha256
from bench.files.exports.proof_text import (
    job_headline,
    job_lines,
    outcome_lines,
    proofs_json,
    proofs_text,
)
from bench.files.job_record import JobRecord, add_entry, read_job
from bench.files.job_standing import Proof, Proofs
from bench.files.recording_file import read_recording
from bench.services.boards import Board
from bench.services.findings import open_findings
from bench.services.job_files import add_file, unlisted_files, unusable
from bench.services.job_next import next_command, repair_of
from bench.services.job_sweep import swept_of
from bench.services.judged_once import JudgedOnce
from bench.services.record import Listener, Order, Recorded, Recorder, record
from bench.services.typed_values import TypedBack, typed_back
from bench.services.warmth import simulated

__all__ = ["LOADS", "TASKS", "Asked", "Proof", "ProofGuide", "ProofPrompt", "Proofs", "Recorder",
           "add_file", "job_headline", "limits_in", "next_command", "note_entered",
           "power_column", "proof_guide", "proof_lines", "proofs_json", "proofs_of",
           "proofs_text", "record_proof", "repair_of", "shorts_of", "sign_job", "simulated_car",
           "tracks_missing", "write_page"]

# What a job is made of, in the order of the work.
STEPS = ("sweep", "key-on", *TASKS, "entered", "signed")
_judged: JudgedOnce[Proof] = JudgedOnce(16)


def proofs_of(folder: Path, parameters: Parameters | None = None) -> Proofs:
    """Return where the job in a folder stands; what has changed is read and judged again.

    Raise BadFile when the record cannot be read.
    """
    job = read_job(folder)
    swept = swept_of(job, parameters)
    limits = None if swept.findings is None else limits_of(swept.findings)
    steps = [swept.sweep, swept.log]
    steps += [_dated(job, _proof(job, task, limits, swept.findings)) for task in TASKS]
    if swept.returns is not None and swept.returns.applied:
        # A key-on at which the pedal alone would have asked for power fails the drive.
        steps[-1] = replace(steps[-1], state="failed", because=tuple(dict.fromkeys(
            ("power would have been applied", *steps[-1].because))))
    steps.append(_entered(job, swept.findings))
    steps.append(signed_step(job, steps))
    return Proofs(folder, tuple(steps), job.damaged, swept.findings, limits, unlisted_files(job),
                  swept.warmth, swept.returns, _values(job, swept.findings))


def limits_in(folder: Path, parameters: Parameters | None = None) -> Proofs:
    """Return a job with its sweep and key-on log only, which give the limits; quick.

    Raise BadFile when the record cannot be read.
    """
    job = read_job(folder)
    swept = swept_of(job, parameters)
    return Proofs(folder, (swept.sweep, swept.log), job.damaged, swept.findings,
                  None if swept.findings is None else limits_of(swept.findings),
                  warmth=swept.warmth)


def _proof(job: JobRecord, task: str, limits: Limits | None,
           findings: Findings | None) -> Proof:
    entry = job.last(task)
    if entry is None:
        return Proof(task, "to do")
    if (why := unusable(job, entry)) is not None:
        return Proof(task, "open", (why,), entry)
    if limits is None:
        return Proof(task, "open", ("no sweep",), entry)
    said = entry.values.get("power")
    power = said if isinstance(said, str) else None
    by = (limits, power, None if findings is None else (
        findings.parameters, findings.recording.nominal_volts))

    def judged() -> Proof:
        recording = read_recording(job.folder / entry.file)
        outcome = judge_file(recording, task, limits, power)
        return Proof(task, outcome.state, outcome.because, None, outcome, simulated(recording),
                     _expected(outcome, limits, findings))

    try:
        # An entry without a digest says of no bytes that they are the same.
        found = _judged.get((task, entry.sha256), by, judged) if entry.sha256 else judged()
    except (BenchError, AnalysisError):
        return Proof(task, "open", ("unreadable",), entry)
    return replace(found, entry=entry)


def _dated(job: JobRecord, proof: Proof) -> Proof:
    """Say of a proof that it was done before the newest sweep: of the pedal as it was then."""
    sweep = job.last("sweep")
    if sweep is None or proof.entry is None or (
            job.entries.index(proof.entry) > job.entries.index(sweep)):
        return proof
    return replace(proof, because=(*proof.because, "before the sweep"))


def _expected(outcome: Outcome, limits: Limits, findings: Findings | None,
              ) -> dict[str, dict[str, float]]:
    """Return by step what each track is to read at rest with that wire changed; NaN: anywhere."""
    if outcome.wires is None or findings is None:
        return {}
    parameters, nominal = findings.parameters, findings.recording.nominal_volts
    result = {}
    for step in {s.step.mark: s.step for s in outcome.wires.steps}.values():
        ohms = (short_resistor(limits, step, parameters.track_ohms, nominal)
                if step.kind == "short" else 1000.0)
        if np.isfinite(ohms):
            result[step.mark] = dict(expected_volts(
                limits, step, parameters.track_ohms, nominal, input_of(parameters),
                short_ohms=ohms))
    return result


def _entered(job: JobRecord, findings: Findings | None) -> Proof:
    """Compare what was typed back from the controller with what is issued now.

    Failed: a value beyond the issued one on its unsafe side. Open: one missing, or another one on
    the safe side, which costs travel or reaches full power early.
    """
    entry = job.last("entered")
    if entry is None:
        return Proof("entered", "to do")
    if findings is None:
        return Proof("entered", "open", ("no sweep",), entry)
    if not isinstance(entry.values.get("volts"), dict):
        return Proof("entered", "open", ("unreadable",), entry)
    found = _values(job, findings)
    wrong = tuple(v.name for v in found if v.state == "unsafe side")
    if wrong:
        return Proof("entered", "failed", wrong, entry)
    left = tuple(v.name for state in (("none issued", "not typed"), ("safe side",))
                 for v in found if v.state in state)
    return Proof("entered", "open" if left or not found else "proved", left, entry)


def _values(job: JobRecord, findings: Findings | None) -> tuple[TypedBack, ...]:
    """Return each value as it is issued now and as it was typed back last."""
    entry = job.last("entered")
    values = {} if entry is None else entry.values
    volts, step = values.get("volts"), values.get("step_volts")
    return () if findings is None else typed_back(
        findings, volts if isinstance(volts, dict) else {},
        float(step) if isinstance(step, int | float) else 0.0)


def signed_step(job: JobRecord, before: Sequence[Proof]) -> Proof:
    """Return the page as a step: signed with every step proved, then and now, else open again.

    It may be printed at any time, but one that speaks of failed or unseen steps proves nothing.
    """
    entry = job.last("signed")
    if entry is None:
        return Proof("signed", "to do")
    if (why := unusable(job, entry)) is not None:
        return Proof("signed", "open", (why,), entry)
    last = max((job.entries.index(p.entry) for p in before if p.entry is not None), default=-1)
    if job.entries.index(entry) < last:
        return Proof("signed", "open", ("newer work",), entry)
    then = entry.values.get("states")
    if not isinstance(then, dict):
        return Proof("signed", "open", ("unreadable",), entry)
    left = tuple(p.step for p in before if p.state != "proved" or then.get(p.step) != "proved")
    return Proof("signed", "open" if left else "proved", left, entry,
                 simulated=any(p.simulated for p in before))


def note_entered(folder: Path, volts: dict[str, float], typed: dict[str, str],
                 step_volts: float) -> None:
    """Keep what the controller shows: volts by TRACK.NAME, and as it was typed, in its own unit."""
    add_entry(folder, "entered", None, {"volts": volts, "typed": typed, "step_volts": step_volts})


@dataclass(frozen=True)
class Asked:
    """Hold what a proof to be recorded is asked with.

    shorts: pairs of leads to be joined, each with its resistor's ohms. power: the channel that
    shows power.
    """

    task: str
    tracks: tuple[str, ...]
    loads: tuple[str, ...] = LOADS
    shorts: tuple[Short, ...] = ()
    power: str | None = None
    prompts: tuple[ProofPrompt, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "prompts", prompts_of(self.task, self.tracks, self.loads,
                                                       self.shorts))


def shorts_of(proofs: Proofs) -> tuple[Short, ...]:
    """Return the pairs of leads worth joining, each with its resistor.

    Left out: pairs that no resistor both shows and spares the wiper, such as two tracks that read
    alike: a short between them changes nothing that could be read.
    """
    if proofs.limits is None or proofs.findings is None:
        return ()
    nominal = proofs.findings.recording.nominal_volts
    names = tuple(proofs.limits.tracks)
    pairs = (*((names[0], t) for t in names[1:]), *((t, SUPPLY) for t in names))
    made = ((pair, short_resistor(proofs.limits, Step("short", pair, 0, 1, 0.0, 0.0),
                                  proofs.findings.parameters.track_ohms, nominal))
            for pair in pairs)
    return tuple((pair, ohms) for pair, ohms in made if np.isfinite(ohms))


def record_proof(board: Board, order: Order, asked: Asked, show: Callable[[ProofPrompt], None],
                 listeners: Sequence[Listener] = (),
                 until: Callable[[Recorder, ProofGuide], None] | None = None) -> Recorded:
    """Record one proof and keep it in the record of the folder where its file lies.

    until: called with the running recorder and its guide, in place of simply waiting.
    """
    guide = proof_guide(board, asked, show)
    run = None if until is None else (lambda recorder: until(recorder, guide))
    recorded = record(board, replace(order, purpose="proof", stem=asked.task), listeners, guide,
                      run)
    add_file(recorded.path.parent, recorded.path, asked.power)
    return recorded


def proof_lines(proofs: Proofs, step: str) -> list[str]:
    """Return what is to be told below a step: of the job's values, and what its log showed."""
    return [*job_lines(proofs, step), *outcome_lines(proofs.of(step))]


def power_column(channels: Sequence[Channel], named: str | None = None) -> str | None:
    """Return the input that shows power: the one named, else the first current or voltage."""
    columns = [c.column for c in channels]
    if named is not None:
        return named if named in columns else None
    return next((c.column for role in ROLES for c in channels if c.role == role), None)


def tracks_missing(channels: Sequence[Channel], limits: Limits) -> tuple[str, ...]:
    """Return the tracks of the job's sweep that no input is."""
    have = {c.column for c in channels if c.role == "track"}
    return tuple(name for name in limits.tracks if name not in have)


def proof_guide(board: Board, asked: Asked, show: Callable[[ProofPrompt], None]) -> ProofGuide:
    """Return what leads through a proof on this board; show: called with each prompt."""
    return ProofGuide(asked.prompts, show, getattr(board, "script", None))


def simulated_car(asked: Asked, limits: Limits, speed: float | None) -> Board:
    """Return a board with a simulated car of these levels that does what the prompts ask."""
    from analysis.simulation.proof_car import ProofCar
    from bench.acquisition.boards.simulated_proof import SimulatedProofBoard

    tracks = list(limits.tracks.values())
    if list(limits.tracks) != ["a", "b"]:
        raise BadCall("the simulated car has the tracks a and b; this job's sweep has "
                      f"{', '.join(limits.tracks)}")
    car = ProofCar(rest=(tracks[0].rest_volts, tracks[1].rest_volts),
                   full=(tracks[0].full_volts, tracks[1].full_volts))
    return SimulatedProofBoard(asked.task, tuple((p.mark, p.seconds) for p in asked.prompts),
                               speed, car)


def write_page(proofs: Proofs, out: Path, by: str, vehicle: str) -> Path:
    """Write the page that is signed, and keep in the record that it was; return where it lies.

    Raise BadCall without a name, or for a page outside the job's folder; else as the report does.
    """
    from bench.services.report import write_proof_page

    if not by.strip():
        raise BadCall("a page without a name is not signed; add --by NAME")
    if out.resolve().parent != proofs.folder.resolve():
        raise BadCall(f"{out} does not lie in the job's folder {proofs.folder}; the page is kept "
                      "with what it speaks of")
    found = _next_check(proofs)
    today = datetime.date.today()
    due = today + datetime.timedelta(days=int(found.days))
    why = ("the usual interval; no drift was seen from sweep to sweep" if not found.track else
           f"track {found.track} moved {1e3 * found.volts_per_day * 30:+.1f} mV a month from sweep "
           "to sweep; by then at most half of its dead band is used up")
    where = write_proof_page(proofs, out, by, vehicle, (due, why))
    add_entry(proofs.folder, "signed", where, {
        "by": by, "vehicle": vehicle, "next_check": due.isoformat(),
        "states": {p.step: p.state for p in proofs.steps}}, file_sha256(where))
    return where


def sign_job(folder: Path, out: Path, by: str, vehicle: str,
             parameters: Parameters | None = None) -> Path:
    """Judge a job as it stands on the disk now, write its page and note it; as `write_page`."""
    return write_page(proofs_of(folder, parameters), out, by, vehicle)


def _next_check(proofs: Proofs) -> NextCheck:
    """Return when to look again, by the rests of all sweeps that the record names."""
    rests: dict[str, list[tuple[float, float, float]]] = {}
    for entry in read_job(proofs.folder).entries:
        path = proofs.folder / entry.file
        if entry.what != "sweep" or not path.is_file():
            continue
        try:
            findings = open_findings(path)
            when = datetime.datetime.fromisoformat(findings.recording.started).timestamp()
        except (BenchError, AnalysisError, ValueError):
            continue
        for name, track in findings.tracks.items():
            rests.setdefault(name, []).append((when, track.rest.value, track.rest.uncertainty))
    room = {} if proofs.limits is None else {
        n: t.sign * (t.start_volts - t.rest_volts) for n, t in proofs.limits.tracks.items()}
    return next_check(rests, room)
