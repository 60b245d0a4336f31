"""Write the measurements of a recording for another program."""

from dataclasses import dataclass
from pathlib import Path

from bench.errors import BadCall
from bench.files.exports.files import refuse_existing
from bench.files.recording_file import read_recording

__all__ = ["FORMATS", "Exported", "export_measurements"]

FORMATS = {"csv": ".csv", "mdf": ".mf4"}


@dataclass(frozen=True)
class Exported:
    """Hold where measurements lie, and what their recording was made for."""

    path: Path
    purpose: str


def export_measurements(source: Path, form: str | None = None,
                        out: Path | None = None) -> Exported:
    """Write the measurements beside the recording, or to `out`, and return what was made.

    form: "csv" or "mdf"; None takes it from the ending of `out`, else CSV.
    Raises BadFile when a file cannot be read or written, or is there already; BadCall on an
    unknown format.
    """
    if form is None:
        endings = {ending: name for name, ending in FORMATS.items()}
        form = "csv" if out is None else endings.get(out.suffix.lower())
    if form not in FORMATS:
        raise BadCall(f"no measurements format {form or (out.suffix if out else '')!r}; use "
                      "--format csv or --format mdf")
    target = out or source.with_name(f"{source.stem}-measurements{FORMATS[form]}")
    refuse_existing(target)
    recording = read_recording(source)
    if form == "csv":
        from bench.files.exports.measurements_csv import write_measurements_csv

        write_measurements_csv(recording, target)
    else:
        from bench.files.exports.measurements_mdf import write_measurements_mdf

        write_measurements_mdf(recording, target)
    return Exported(target, recording.purpose)
