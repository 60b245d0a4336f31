"""The drift with temperature that a warm log measured, taken into a sweep's values."""

import math
from dataclasses import replace
from pathlib import Path

from analysis.model.recording import Recording
from analysis.pedal.findings import Findings, decide
from analysis.pedal.warmth_line import MeasuredDrift
from analysis.proof.outcome import judge_file, limits_of
from bench.acquisition.boards import SIMULATED
from bench.errors import BadCall
from bench.files.recording_file import read_recording


def drift_of(recording: Recording, findings: Findings, log: str) -> MeasuredDrift | None:
    """Return the drift that a warm log proves of a sweep's pedal, of its worst track; else None.

    log: its name. A simulated warm log says nothing of a real pedal.
    """
    outcome = judge_file(recording, "warm", limits_of(findings))
    if outcome.state != "proved" or (simulated(recording) and not simulated(findings.recording)):
        return None
    by_track = {t.column: t for t in outcome.warmth}
    if set(by_track) != set(findings.tracks):
        return None
    return MeasuredDrift(
        math.ceil(10.0 * max(t.ppm_per_kelvin for t in by_track.values())) / 10.0,
        min(t.lowest for t in by_track.values()), max(t.highest for t in by_track.values()), log)


def going_by(findings: Findings, drift: MeasuredDrift | None) -> Findings:
    """Return the findings with their values by this drift; None: the stated or assumed one."""
    return findings if findings.warmth == drift else decide(
        replace(findings, warmth=drift), findings.parameters)


def warmed(findings: Findings, log: str | Path | None) -> Findings:
    """Return the findings with their values by the drift that a warm log proves; None: as they are.

    Raise BadFile for what cannot be read, BadCall for a log that proves no drift of this pedal.
    """
    if log is None:
        return findings
    drift = drift_of(read_recording(log), findings, Path(log).name)
    if drift is None:
        raise BadCall(f"{log} proves no drift with temperature of this pedal; record one with "
                      "'stillpedal prove --do warm', a thermometer on the box and 5 K at least")
    return going_by(findings, drift)


def simulated(recording: Recording) -> bool:
    """Return whether a recording came from a simulated board: it proves nothing of a car."""
    return recording.board_name.lower().startswith(SIMULATED)
