"""A recording as a board: the same readings, at the same pace, through the same decoder."""

from pathlib import Path

from bench.acquisition.boards.streamed import StreamedBoard
from bench.files.recording_file import read_recording


class ReplayBoard(StreamedBoard):
    """Send the rows of a recording file again; speed as for StreamedBoard."""

    def __init__(self, path: str | Path, speed: float | None = 1.0) -> None:
        super().__init__(str(path), lambda: read_recording(path), speed)
