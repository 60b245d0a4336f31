"""What a sender's recording shows without a meter, or what the person's own meter says of it."""

import json
from dataclasses import dataclass
from pathlib import Path

from analysis.senders import Diagnosis, Sender
from bench.files.calibration_store import pin_volts
from bench.files.exports.calibration import plain
from bench.files.recording_file import read_recording
from bench.services.sender_check import (
    SenderCheckOptions,
    channel_of,
    is_recording,
    meter_marks,
)
from bench.wording.reasons import in_words


@dataclass(frozen=True)
class Seen:
    """Hold what was seen, the main thing first; channel "" where it was typed."""

    channel: str
    sender: Sender
    found: tuple[Diagnosis, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """Return what the stated values mean."""
        return self.sender.seen_notes()


def seen_in(path: str | Path, options: SenderCheckOptions) -> Seen | None:
    """Return what a recording without marks of a meter shows of the sender.

    None where there is a meter in it, where it is a table of points, or where the kind tells
    nothing without a meter: then `take_points` has the word.
    """
    file = Path(path)
    if type(options.sender).seen is Sender.seen or not is_recording(file):
        return None
    recording = read_recording(file)
    if meter_marks(recording):
        return None
    channel = channel_of(recording, options)
    readings = pin_volts(recording, channel, options.sender)
    return Seen(options.channel or channel.column, options.sender,
                options.sender.seen(recording.time_s, readings))


def seen_typed(options: SenderCheckOptions) -> Seen | None:
    """Return what the typed values of the person's own meter say; None where there are none."""
    found = options.sender.typed()
    return Seen("", options.sender, found) if found else None


def seen_json(seen: Seen) -> str:
    """Return it as one JSON document."""
    document = {
        "channel": seen.channel, "kind": seen.sender.kind, "stated": seen.sender.stated(),
        "found": [{"name": d.name, "value": d.value, "wrong": d.wrong, "text": in_words(d.text)}
                  for d in seen.found],
        "cautions": list(seen.sender.cautions()), "notes": list(seen.notes)}
    return json.dumps(plain(document), indent=1, ensure_ascii=False) + "\n"
