"""The listener that writes what a recorder hears into a recording file."""

import datetime
import math
import time
from collections.abc import Mapping
from pathlib import Path

from bench.acquisition.listener import Listener, Rows, Source
from bench.acquisition.recorder import Recorder
from bench.files.recording_file import RecordingHeader, RecordingWriter

# How often it is looked whether the file is still there.
LOOK_S = 0.5


class FileListener(Listener):
    """Write what a recorder hears into a new recording file.

    number: when the name is taken by then, take the next free one; `path` follows.
    """

    vital = True

    def __init__(self, path: Path, purpose: str, title: str = "",
                 extra: Mapping[str, object] | None = None, number: bool = False) -> None:
        self.path = path
        self._number = number
        self.writer: RecordingWriter | None = None
        self.recorder: Recorder | None = None
        self.lost_samples = 0
        self.last_s = 0.0
        self._purpose, self._title = purpose, title
        # What the user states of the recording: further keys of its header.
        self._extra = dict(extra or {})
        self._looked = 0.0

    @property
    def nothing(self) -> str:
        """Return why there is no recording."""
        return "the board ended before its first row; nothing was recorded"

    def quiet(self) -> None:
        """Look whether the file is still there."""
        self._look()

    def _look(self) -> None:
        """Go on in a new file when somebody deleted or moved this one, and tell."""
        now = time.monotonic()
        if self.writer is None or now - self._looked < LOOK_S:
            return
        self._looked = now
        if not self.writer.gone:
            return
        was = self.writer.path
        self.path = self.writer.again()
        if self.recorder is not None:
            self.recorder.tell(f"{was} was deleted or moved while it was written; the recording "
                               f"goes on, with all rows from its start, in {self.path}")

    def started(self, source: Source) -> None:
        """Open the file."""
        now = datetime.datetime.now().astimezone()
        extra = dict(self._extra)
        # What the board measured of its own supply, which every volt stands on, and how long after
        # one input it reads the next.
        said = {key: float(source.board_says[key]) for key in ("supply_mv", "channel_us")
                if _is_number(source.board_says.get(key))}
        if said:
            board = extra.get("board")
            extra["board"] = {**(board if isinstance(board, Mapping) else {}), **said}
        self.writer = RecordingWriter(self.path, RecordingHeader(
            source.channels, self._title, self._purpose, now.isoformat(timespec="seconds"),
            source.rate_hz, source.board_name, extra), self._number)
        self.path = self.writer.path

    def rows(self, rows: Rows) -> None:
        """Append the rows."""
        assert self.writer is not None
        self._look()
        self.writer.add(rows.time_s, rows.readings, rows.lost_before)
        self.lost_samples += int(rows.lost_before.sum())
        self.last_s = float(rows.time_s[-1])

    def marked(self, text: str) -> None:
        """Write a mark beside the next row."""
        assert self.writer is not None
        self.writer.mark(text)

    def ended(self, error: str | None) -> None:
        """Close the file with its check sum."""
        if self.writer is not None:
            self._looked = 0.0
            self._look()
            self.writer.close()


def _is_number(text: str | None) -> bool:
    """Return whether the text is a finite number."""
    try:
        return text is not None and math.isfinite(float(text))
    except ValueError:
        return False
