"""The key-ons of a job's drive counted toward its dead band's promise, beside those of its log.

By the rule of a key-on log (`analysis/proof/drive_returns.py`). A drive from before the newest
sweep was of the pedal as it was then, and a simulated one says nothing of a real pedal: neither
counts.
"""

import datetime
from collections.abc import Mapping
from dataclasses import replace

from analysis.model.errors import AnalysisError
from analysis.model.finding import Reason
from analysis.model.recording import Recording
from analysis.pedal.car_returns import CarReturns, enough_in_the_car, installed, joined
from analysis.pedal.dead_band import CarAddition
from analysis.pedal.findings import Findings, decide
from analysis.proof.drive_returns import NOT_JUDGED, DriveReturns, drive_returns
from bench.errors import BenchError
from bench.files.job_record import JobRecord
from bench.files.job_standing import CountedReturns
from bench.files.recording_file import read_recording
from bench.services.job_files import unusable
from bench.services.warmth import simulated

BEFORE_SWEEP, SIMULATED_DRIVE, CHANGED = "before the sweep", "simulated", "file changed"


def with_drive(job: JobRecord, findings: Findings, log: Recording | None,
               ) -> tuple[Findings, CountedReturns | None]:
    """Return the findings with the drive's key-ons counted, and what was counted.

    log: the key-on log that the findings go by, None without one. Without a drive in the record
    they are as they were, and nothing is told.
    """
    entry = job.last("drive")
    if entry is None:
        return findings, None
    logged = {n: c.returns for n, c in findings.car.items() if c.returns is not None}
    of_log = min((len(r.levels) for r in logged.values()), default=0)
    least = max((enough_in_the_car(t) for t in findings.tracks.values()), default=0)
    counted = CountedReturns(entry.file, of_log, 0, 0, least, _stand(findings, logged))
    sweep = job.last("sweep")
    if sweep is not None and job.entries.index(entry) < job.entries.index(sweep):
        return findings, replace(counted, hidden_by=(BEFORE_SWEEP,))
    if unusable(job, entry) is not None:
        return findings, replace(counted, hidden_by=(CHANGED,))
    try:
        recording = read_recording(job.folder / entry.file)
        driven = drive_returns(recording, findings.parameters, findings)
    except (BenchError, AnalysisError):
        return findings, replace(counted, hidden_by=(NOT_JUDGED,))
    counted = replace(counted, applied=driven.applied)
    if simulated(recording) and not simulated(findings.recording):
        return findings, replace(counted, hidden_by=(SIMULATED_DRIVE,), applied=False)
    if not driven.returns:
        return findings, replace(counted, hidden_by=driven.hidden_by)
    return _counted(findings, logged, log, recording, driven, counted)


def _counted(findings: Findings, logged: Mapping[str, CarReturns], log: Recording | None,
             recording: Recording, driven: DriveReturns, counted: CountedReturns,
             ) -> tuple[Findings, CountedReturns]:
    """Return the findings with the returns of log and drive together."""
    began = _seconds(recording)
    both = {}
    for name, returns in driven.returns.items():
        parts = [(returns, began)]
        if name in logged and log is not None:
            parts.append((logged[name], _seconds(log)))
        both[name] = joined(parts)
    car = {name: replace(_adds(findings, name, driven), returns=both[name])
           for name in findings.tracks}
    decided = replace(decide(findings, findings.parameters, car, findings.car_said),
                      notes=findings.notes)
    return decided, replace(
        counted, cold=driven.cold, warm=driven.warm, stand=_stand(decided, both),
        before=_starts(findings), now=_starts(decided))


def _adds(findings: Findings, name: str, driven: DriveReturns) -> CarAddition:
    """Return what the car adds to a track: as it was, or as the drive shows where that is more.

    Without a log the allowance stays the assumed one (NaN here).
    """
    before = findings.car.get(name) or CarAddition(
        float("nan"), Reason("allowance for the car"), "assumed")
    reckoned = before.volts if name in findings.car else findings.parameters.car_allowance_volts
    here = driven.adds.get(name)
    return here if here is not None and here.volts > reckoned else before


def _stand(findings: Findings, returns: Mapping[str, CarReturns]) -> bool:
    """Return whether these returns stand in the dead band for those of the sweep."""
    return bool(findings.tracks) and all(
        installed(t, returns.get(n)) is not None for n, t in findings.read_there.items())


def _starts(findings: Findings) -> tuple[tuple[str, float], ...]:
    return tuple((n, b.start_of_travel_volts) for n, b in findings.dead_bands.items())


def _seconds(recording: Recording) -> float:
    """Return when a recording began, seconds; 0 where its header does not tell."""
    try:
        return datetime.datetime.fromisoformat(recording.started).timestamp()
    except (ValueError, OverflowError, OSError):
        return 0.0
