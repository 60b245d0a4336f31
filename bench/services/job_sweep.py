"""The newest sweep of a job, the values it gives, and what of the job they go by.

Those values go by the newest key-on log where it has something to say of the car, and by the drift
with temperature that the newest warm log proved, in place of the usual one.
"""

import math
from dataclasses import dataclass, replace

from analysis.model.errors import AnalysisError
from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.findings import Findings
from analysis.proof.outcome import judge_file, limits_of
from bench.acquisition.boards import SIMULATED
from bench.errors import BenchError
from bench.files.job_record import JobRecord
from bench.files.job_standing import CountedReturns, MeasuredWarmth, Proof
from bench.files.recording_file import read_recording
from bench.services.findings import decide_again, open_findings
from bench.services.job_files import unusable
from bench.services.job_returns import with_drive
from bench.services.key_on import open_in_car


@dataclass(frozen=True)
class Swept:
    """Hold the newest sweep's findings (None: none usable), and where sweep and key-on log stand.

    warmth: the measured drift that the findings go by; None where it is the usual or a stated one.
    logged: the key-on log that they go by. returns: the key-ons that count toward the promise.
    """

    findings: Findings | None
    sweep: Proof
    log: Proof
    warmth: MeasuredWarmth | None = None
    logged: Recording | None = None
    returns: CountedReturns | None = None


def swept_of(job: JobRecord, parameters: Parameters | None = None) -> Swept:
    """Return the findings of the newest sweep with what the job itself measured for its values."""
    entry, to_do = job.last("sweep"), Proof("key-on", "to do")
    if entry is None:
        return Swept(None, Proof("sweep", "to do"), to_do)
    if (why := unusable(job, entry)) is not None:
        return Swept(None, Proof("sweep", "open", (why,), entry), to_do)
    try:
        findings = open_findings(job.folder / entry.file, parameters)
        warmth = _warmth(job, findings)
        if warmth is not None:
            findings = decide_again(findings, replace(
                findings.parameters, track_ppm_per_kelvin=warmth.ppm_per_kelvin))
    except (BenchError, AnalysisError):
        return Swept(None, Proof("sweep", "open", ("unreadable",), entry), to_do)
    state = {"sound": "proved", "bad": "failed"}.get(findings.state, "open")
    sweep = Proof("sweep", state, tuple(c.claim for c in findings.claims if c.state != "sound"),
                  entry, simulated=is_simulated(findings.recording))
    return _with_drive(job, _with_log(job, Swept(findings, sweep, to_do, warmth)))


def _with_drive(job: JobRecord, swept: Swept) -> Swept:
    """Return the same with the drive's key-ons counted toward the promise."""
    assert swept.findings is not None
    findings, returns = with_drive(job, swept.findings, swept.logged)
    return replace(swept, findings=findings, returns=returns)


def _warmth(job: JobRecord, findings: Findings) -> MeasuredWarmth | None:
    """Return the drift that the newest warm log proved, of the worst track; None to keep the usual.

    A larger one that the user stated stays: nobody states more than he saw without a reason. A
    simulated warm log says nothing of a real pedal.
    """
    entry = job.last("warm")
    if entry is None or unusable(job, entry) is not None:
        return None
    try:
        recording = read_recording(job.folder / entry.file)
        outcome = judge_file(recording, "warm", limits_of(findings))
    except (BenchError, AnalysisError):
        return None
    simulated = is_simulated(recording)
    if outcome.state != "proved" or (simulated and not is_simulated(findings.recording)):
        return None
    by_track = {t.column: t.ppm_per_kelvin for t in outcome.warmth}
    if set(by_track) != set(findings.tracks):
        return None
    ppm = math.ceil(10.0 * max(by_track.values())) / 10.0
    stated = findings.parameters.track_ppm_per_kelvin
    if stated > ppm and stated != Parameters().track_ppm_per_kelvin:
        return None
    return MeasuredWarmth(ppm, entry.file, findings.parameters.temperature_span_kelvin,
                          max(t.highest - t.lowest for t in outcome.warmth))


def _with_log(job: JobRecord, swept: Swept) -> Swept:
    """Return the same with the values that the key-on log gives, and where that log stands."""
    from bench.services.key_on import fails, open_key_on

    log = job.last("key-on")
    if log is None:
        return swept
    if (why := unusable(job, log)) is not None:
        return replace(swept, log=Proof("key-on", "open", (why,), log))
    findings, sweep = swept.findings, swept.sweep
    assert findings is not None
    assert sweep.entry is not None
    paths = job.folder / sweep.entry.file, job.folder / log.file
    try:
        found = open_key_on(paths[1], findings.parameters, (), paths[0])
    except (BenchError, AnalysisError):
        return replace(swept, log=Proof("key-on", "open", ("unreadable",), log))
    simulated = is_simulated(found.recording)
    if found.verdict.applied:
        return replace(swept, log=Proof(
            "key-on", "failed", ("power would have been applied",), log, simulated=simulated))
    state, logged = "open" if fails(found) else "proved", None
    try:
        findings = open_in_car(*paths, findings.parameters)
        logged = found.recording
    except (BenchError, AnalysisError):
        state = "open"
    return replace(swept, findings=findings, logged=logged, log=Proof(
        "key-on", state, () if state == "proved" else ("not shown",), log, simulated=simulated))


def is_simulated(recording: Recording) -> bool:
    """Return whether a recording came from a simulated board: it proves nothing of a car."""
    return recording.board_name.lower().startswith(SIMULATED)
