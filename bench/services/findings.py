"""Open a recording and find out what it shows."""

from collections.abc import Callable
from pathlib import Path

from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.findings import Findings, analyse
from bench.errors import BadCall
from bench.files.recording_file import read_recording
from bench.wording.shell_quote import reader_of

# Of the time to open a recording, about so much goes into reading it.
READ_SHARE = 0.2


def open_findings(path: str | Path, parameters: Parameters | None = None,
                  progress: Callable[[float, str], None] | None = None) -> Findings:
    """Return the findings of a recorded sweep.

    progress: called with (share, what comes next) between reading and analysing; it may raise to
        stop there.
    Raises BadFile when the file is no whole recording, BadCall when it was recorded for something
    else than a sweep, AnalysisError when nothing can be said.
    """
    recording = read_recording(path)
    refuse_no_sweep(recording, path)
    if progress is not None:
        progress(READ_SHARE, f"Analysing {Path(path).name}")
    return analyse(recording, parameters)


def refuse_no_sweep(recording: Recording, path: str | Path) -> None:
    """Raise BadCall for what was recorded for something else; it names what reads that."""
    if recording.purpose != "sweep":
        # A foot on the pedal in the car looks like a press, and its findings like a sheet.
        raise BadCall(f"{path} is a {recording.purpose} log and no sweep; use "
                      f"{reader_of(recording.purpose, path)}")


def fails_a_limit(findings: Findings) -> bool:
    """Return whether a claim is contradicted, or left open by what was not seen."""
    return not findings.sound
