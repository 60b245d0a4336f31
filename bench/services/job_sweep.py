"""The newest sweep of a job, the values it gives, and what of the job they go by.

Those values go by the newest key-on log where it has something to say of the car, and by the drift
with temperature that the newest warm log proved, in place of the usual one.
"""

from dataclasses import dataclass, replace

from analysis.model.errors import AnalysisError
from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.findings import Findings
from analysis.pedal.warmth_line import MeasuredDrift, drift_in_use
from bench.errors import BenchError
from bench.files.job_record import JobRecord
from bench.files.job_standing import CountedReturns, MeasuredWarmth, Proof
from bench.files.recording_file import read_recording
from bench.services.findings import open_findings
from bench.services.job_files import unusable
from bench.services.job_returns import with_drive
from bench.services.judged_once import JudgedOnce
from bench.services.key_on import issue, judge
from bench.services.warmth import drift_of, going_by, simulated

# What of a job its values go by.
GONE_BY = ("sweep", "key-on", "warm", "drive")


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


# A sweep with its logs takes megabytes; of one job the usual and the chosen parameters are asked.
_judged: JudgedOnce[Swept] = JudgedOnce(2)


def swept_of(job: JobRecord, parameters: Parameters | None = None) -> Swept:
    """Return the findings of the newest sweep with what the job itself measured for its values."""
    used = [e for e in job.entries if e in [job.last(what) for what in GONE_BY]]
    if not all(e.sha256 for e in used):
        # Of its bytes nothing says that they are the same.
        return _swept(job, parameters)
    by = (job.folder, parameters, used, [unusable(job, e) for e in used])
    return _judged.get(tuple(e.sha256 for e in used), by, lambda: _swept(job, parameters))


def _swept(job: JobRecord, parameters: Parameters | None) -> Swept:
    entry, to_do = job.last("sweep"), Proof("key-on", "to do")
    if entry is None:
        return Swept(None, Proof("sweep", "to do"), to_do)
    if (why := unusable(job, entry)) is not None:
        return Swept(None, Proof("sweep", "open", (why,), entry), to_do)
    try:
        findings = open_findings(job.folder / entry.file, parameters)
        findings = going_by(findings, _warmth(job, findings))
        drift = drift_in_use(findings.parameters, findings.warmth)
        warmth = None if drift is None else MeasuredWarmth(
            drift.ppm_per_kelvin, drift.log, findings.parameters.temperature_span_kelvin,
            drift.highest - drift.lowest)
    except (BenchError, AnalysisError):
        return Swept(None, Proof("sweep", "open", ("unreadable",), entry), to_do)
    state = {"sound": "proved", "bad": "failed"}.get(findings.state, "open")
    sweep = Proof("sweep", state, tuple(c.claim for c in findings.claims if c.state != "sound"),
                  entry, simulated=simulated(findings.recording))
    return _with_drive(job, _with_log(job, Swept(findings, sweep, to_do, warmth)))


def _warmth(job: JobRecord, findings: Findings) -> MeasuredDrift | None:
    """Return the drift that the newest warm log proved, None where nothing of it counts."""
    entry = job.last("warm")
    if entry is None or unusable(job, entry) is not None:
        return None
    try:
        return drift_of(read_recording(job.folder / entry.file), findings, entry.file)
    except (BenchError, AnalysisError):
        return None


def _with_drive(job: JobRecord, swept: Swept) -> Swept:
    """Return the same with the drive's key-ons counted toward the promise."""
    assert swept.findings is not None
    findings, returns = with_drive(job, swept.findings, swept.logged)
    return replace(swept, findings=findings, returns=returns)


def _with_log(job: JobRecord, swept: Swept) -> Swept:
    """Return the same with the values that the key-on log gives, and where that log stands."""
    from bench.services.key_on import fails

    log = job.last("key-on")
    if log is None:
        return swept
    if (why := unusable(job, log)) is not None:
        return replace(swept, log=Proof("key-on", "open", (why,), log))
    findings, sweep = swept.findings, swept.sweep
    assert findings is not None
    assert sweep.entry is not None
    path = job.folder / log.file
    try:
        found = judge(read_recording(path), path, findings.parameters, swept=findings)
    except (BenchError, AnalysisError):
        return replace(swept, log=Proof("key-on", "open", ("unreadable",), log))
    made_up = simulated(found.recording)
    if found.verdict.applied:
        return replace(swept, log=Proof(
            "key-on", "failed", ("power would have been applied",), log, simulated=made_up))
    state, logged = "open" if fails(found) else "proved", None
    try:
        findings = issue(findings, found, path)
        logged = found.recording
    except (BenchError, AnalysisError):
        state = "open"
    return replace(swept, findings=findings, logged=logged, log=Proof(
        "key-on", state, () if state == "proved" else ("not shown",), log, simulated=made_up))
