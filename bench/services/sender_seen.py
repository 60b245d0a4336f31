"""What a sender's recording shows without a meter, or what the person's own meter says of it."""

import json
from dataclasses import dataclass
from pathlib import Path

from analysis.model.finding import Reason
from analysis.senders import Diagnosis, Sender
from bench.files.calibration_store import pin_volts
from bench.files.exports.calibration import diagnosis_object, plain, told_object
from bench.files.recording_file import read_recording
from bench.services.sender_check import (
    SenderCheckOptions,
    channel_of,
    is_recording,
    meter_marks,
)


@dataclass(frozen=True)
class Seen:
    """Hold what was seen, the main thing first; channel "" where it was typed."""

    channel: str
    sender: Sender
    found: tuple[Diagnosis, ...]

    @property
    def notes(self) -> tuple[Reason, ...]:
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
        "found": [diagnosis_object(d) for d in seen.found],
        **told_object(seen.sender.cautions(), seen.notes)}
    return json.dumps(plain(document), indent=1, ensure_ascii=False) + "\n"
