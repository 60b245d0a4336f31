"""Add lift-offs to a sweep that was recorded: a third file, both others kept as they are."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.model.recording import Mark, Recording, looks_at
from bench.errors import BadFile
from bench.files.recording_file import free_path, read_recording
from bench.files.recording_writer import write_recording

# Between the two the pedal was at rest; so long a pause is put there.
PAUSE_S = 1.0


def sweep_to_extend(path: Path) -> Recording:
    """Return the sweep that lift-offs are to be added to; raise BadFile when it is none."""
    first = read_recording(path)
    if first.purpose != "sweep" or not first.with_role("track"):
        raise BadFile(f"{path} is no sweep with tracks; give --add-to a sweep that was recorded")
    return first


def join(path: Path, more: Path) -> Path:
    """Write both recordings, one after the other, into a new file beside the first; return it.

    Raise BadFile when their channels differ, naming how; nothing that exists is written over.
    """
    first, second = sweep_to_extend(path), read_recording(more)
    joined = joined_recording(first, second, path, more)
    out = free_path(path.with_name(f"{path.stem}-more.csv"))
    write_recording(out, joined)
    return out


def same_readings(first: Recording, second: Recording) -> bool:
    """Return whether two recordings have the same channels, reading for reading."""
    def plain(recording: Recording) -> list[str]:
        return [c.column for c in recording.channels]

    return plain(first) == plain(second) and all(
        np.array_equal(one.readings, other.readings, equal_nan=True)
        for one, other in zip(first.channels, second.channels, strict=True))


def joined_recording(first: Recording, second: Recording, path: Path, more: Path) -> Recording:
    """Return the second recording behind the first, its times counted on.

    Raise BadFile when their channels differ, or when the second is the first once more.
    """
    if same_readings(first, second):
        # Its returns would count twice and promise more than was seen.
        raise BadFile(f"{more} holds the very readings of {path}, which count once; sweep again "
                      "and add that")
    channels = []
    for channel in first.channels:
        other = next((c for c in second.channels if c.column == channel.column), None)
        if other is None or replace(other, readings=channel.readings) != replace(
                channel, readings=channel.readings):
            what = "has none" if other is None else "reads it otherwise (role, unit or scale)"
            raise BadFile(f"{more} {what} of channel {channel.column!r} of {path}; record with the "
                          "same board and options")
        channels.append(replace(channel, readings=np.concatenate(
            [channel.readings, other.readings])))
    shift = float(first.time_s[-1]) + PAUSE_S - float(second.time_s[0])
    marks = (*first.marks, *(Mark(m.row + first.rows, m.text) for m in second.marks))
    return replace(
        first, time_s=np.concatenate([first.time_s, second.time_s + shift]),
        channels=tuple(channels), marks=marks, complete=first.complete and second.complete,
        extra={**first.extra, "joined": {"first": path.name, "more": more.name,
                                         "rows_of_first": first.rows,
                                         "looks": looks_at(first) + 1}})

