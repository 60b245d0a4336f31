"""Open a recording, find out what it shows, and decide anew when a parameter changes.

Every sweep is opened by `findings_of`, whoever asks: both faces, the report, the trend.
"""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.findings import Findings, analyse, decide
from bench.acquisition.guided_plan import refusals
from bench.errors import OtherKind
from bench.files.exports.brief import brief_findings
from bench.files.exports.findings_json import findings_json
from bench.files.exports.findings_text import findings_text, with_uncertainty
from bench.files.recording_file import read_recording
from bench.wording.shell_quote import reader_of

if TYPE_CHECKING:
    from analysis.key_on import KeyOnFindings

__all__ = [
    "Findings", "assuming", "brief_findings", "decide_again", "fails_a_limit", "findings_json",
    "findings_of", "findings_text", "open_any", "open_findings", "open_recorded", "warm_up",
    "with_uncertainty",
]

# Called with (share done 0 to 1, what comes next); it may raise to stop there.
Progress = Callable[[float, str], None]
# Of the time to open a recording, about so much goes into reading it.
READ_SHARE = 0.2


def open_findings(path: str | Path, parameters: Parameters | None = None,
                  progress: Progress | None = None) -> Findings:
    """Return the findings of a recorded sweep.

    progress: called between the parts of reading and analysing; what it raises ends them there.
    Raises BadFile when the file is no whole recording, BadCall when it was recorded for something
    else than a sweep, AnalysisError when nothing can be said.
    """
    return findings_of(_read(path, progress), path, parameters, progress)


def findings_of(recording: Recording, path: str | Path, parameters: Parameters | None = None,
                progress: Progress | None = None) -> Findings:
    """Return the findings of a sweep that was read from `path`; raise as `open_findings` does."""
    refuse_other_kind(recording, path)
    if progress is None:
        return analyse(recording, parameters)
    progress(READ_SHARE, f"Analysing {Path(path).name}")
    return analyse(recording, parameters,
                   lambda share: progress(READ_SHARE + (1.0 - READ_SHARE) * share, ""))


def refuse_other_kind(recording: Recording, path: str | Path) -> None:
    """Raise OtherKind for a recording that is no sweep.

    A foot on the pedal in the car looks like a press, and its findings like a sheet.
    """
    if recording.purpose != "sweep":
        raise OtherKind(f"is a {recording.purpose} log and no sweep; use "
                        f"{reader_of(recording.purpose, path)}", str(path))


def _read(path: str | Path, progress: Progress | None) -> Recording:
    """Return the recording in a file, telling how much of it has been read."""
    if progress is None:
        return read_recording(path)
    return read_recording(path, lambda share: progress(READ_SHARE * share, ""))


def open_any(path: str | Path, parameters: Parameters, swept: Findings | None,
             progress: Progress | None = None,
             sweep_read: Callable[[Recording], None] | None = None) -> "Findings | KeyOnFindings":
    """Return the findings of a sweep, or of a key-on log judged by the sweep `swept`.

    sweep_read: called with a sweep that was read, before it is analysed.
    Raises NoRecording for a file that is something else altogether, else as `open_findings` and
    `bench.services.key_on.judge` do.
    """
    recording = _read(path, progress)
    if recording.purpose != "key-on":
        if sweep_read is not None:
            sweep_read(recording)
        return findings_of(recording, path, parameters, progress)
    from bench.services.key_on import judge

    if progress is not None:
        progress(READ_SHARE, f"Analysing {Path(path).name}")
    return judge(recording, path, parameters, swept=swept)


def open_recorded(path: str | Path, parameters: Parameters | None = None,
                  progress: Progress | None = None) -> tuple[Findings | None, tuple[str, ...]]:
    """Return the findings of a sweep just recorded, or None and why it cannot be used."""
    recording = _read(path, progress)
    refused = refusals(recording)
    return (None, refused) if refused else (
        findings_of(recording, path, parameters, progress), ())


def decide_again(findings: Findings, parameters: Parameters) -> Findings:
    """Return the findings with other parameters; nothing is measured again.

    What a key-on log gave these findings stays as it was judged: judge that log again, and issue
    the values with it (`bench.services.key_on`), before any value leaves the house.
    Raises BadParameter when a target names no track or lies beyond the supply.
    """
    return decide(findings, parameters)


def assuming(findings: Findings, parameters: Parameters) -> Findings:
    """Return the findings as the sweep alone gives them, with the assumed allowance for the car."""
    return decide(findings, parameters, {})


def warm_up() -> None:
    """Load what the first opening needs, by analysing a small made-up sweep."""
    from analysis.simulation import pedal_named, simulate_sweep

    analyse(simulate_sweep(pedal_named("healthy"), 200.0, 12, cycles=2, quick=1).recording)


def fails_a_limit(findings: Findings) -> bool:
    """Return whether a claim is contradicted, or left open by what was not seen."""
    return not findings.sound
