"""Turn a log of other origin into a recording on disk."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from analysis.model.recording import Recording
from bench.errors import BadFile
from bench.files.imports import ROLES, ImportOptions, ImportPreview, import_log, preview
from bench.files.recording_file import free_path, is_taken, write_recording

__all__ = ["ROLES", "ImportOptions", "ImportPreview", "Imported", "import_file", "preview"]

# Of the time to import a log, about so much goes into reading it.
READ_SHARE = 0.7


@dataclass(frozen=True)
class Imported:
    """Hold what an import made: the recording, where it lies, what was assumed, and the two
    closing lines: what of the log was understood and what was not."""

    recording: Recording
    path: Path
    notes: tuple[str, ...]
    understood: str = ""
    not_understood: str = ""


def import_file(log: Path, options: ImportOptions, out: Path | None = None,
                progress: Callable[[float, str], None] | None = None) -> Imported:
    """Write the recording in a log to `out`, by default beside the log under a new name.

    progress: called with (share, what comes next) between reading and writing; when it raises,
        nothing is written.
    Raises BadFile when the log cannot be read or `out` exists, BadCall when something must be
    said with an option.
    """
    target = out or free_path(log.with_name(f"{log.stem}-recording.csv"))
    if out is not None and is_taken(target):
        raise BadFile(f"{target} exists already and is not written over; choose another --out")
    recording = import_log(log, options)
    if progress is not None:
        progress(READ_SHARE, f"Writing {target.name}")
    target = write_recording(target, recording, number=out is None)
    origin = recording.extra["imported"]
    assert isinstance(origin, dict)
    return Imported(recording, target, tuple(origin["notes"]), origin["understood"],
                    origin["not_understood"])
