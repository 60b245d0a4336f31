"""State what fed the pedal of a sweep that was recorded without a word of it."""

from dataclasses import replace
from pathlib import Path

from analysis.signal.reference import FED_BY
from bench.errors import BadCall
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording


def state_feed(path: Path, fed_by: str) -> Path:
    """Write a copy of the recording that says what fed the pedal; return where it lies.

    fed_by: one of FED_BY. The recording stays as it is; the copy takes the next free name. Raise
    BadFile when it cannot be read or written, BadCall on another word.
    """
    if fed_by not in FED_BY:
        raise BadCall(f"the pedal is fed by {fed_by!r}; use {' or '.join(FED_BY)}")
    recording = read_recording(path)
    said = replace(recording, extra={**recording.extra, "fed_by": fed_by})
    return write_recording(path.with_name(f"{path.stem}-fed-by-{fed_by.split()[0]}.csv"), said,
                           number=True)
