"""A board that is told how to sample, and how fast to talk, before anybody reads it.

A board that resets when its port opens hears nothing for up to two seconds; so it is listened to
first and told afterwards. When it is let go it is sent back to the speed it was found at.
"""

import contextlib
import time
from dataclasses import dataclass

from bench.acquisition.boards.board import Board, Unplugged
from bench.acquisition.wire import COMMANDS, Decoder, command
from bench.errors import BadCall, BoardTrouble

_HEAR_S = 3.0
_ASK_S = 0.5
_ANSWER_S = 0.3
_FOLLOW_S = 2.0


@dataclass(frozen=True)
class Tuning:
    """Hold what a board is asked for; None leaves it as it is.

    rate_hz: rows per second. channels: how many inputs. oversample: 1, 4 or 16 conversions per
    reading. format: "text", "frames", or "auto". line_baud: the speed it is to go to.
    """

    rate_hz: int | None = None
    channels: int | None = None
    oversample: int | None = None
    format: str = "auto"
    line_baud: int | None = None

    def __post_init__(self) -> None:
        for name, option in (("rate", self.rate_hz), ("channels", self.channels),
                             ("oversample", self.oversample), ("baud", self.line_baud)):
            if option is not None:
                command(name, option)
        if self.oversample not in (None, 1, 4, 16):
            raise BadCall(f"oversampling by {self.oversample}; use 1, 4 or 16")
        if self.format != "auto" and self.format not in COMMANDS:
            raise BadCall(f"format {self.format!r}; use text or frames")

    @property
    def commands(self) -> bytes:
        """Return the lines that ask for it, the speed left out."""
        lines = [command(name, number) for name, number in (
            ("channels", self.channels), ("oversample", self.oversample), ("rate", self.rate_hz))
            if number is not None]
        if self.format != "auto":
            lines.append(command(self.format))
        return b"".join(lines)


class TunedBoard(Board):
    """Read a board after it was told what is wanted of it."""

    needs_care = True

    def __init__(self, board: Board, tuning: Tuning) -> None:
        self._board = board
        self._tuning = tuning
        self._found_baud = board.baud
        self.name = board.name

    # Asked of the line where other boards hold it: a property over a plain attribute.
    @property
    def baud(self) -> int | None:  # type: ignore[override]
        """Return the speed the line is at."""
        return self._board.baud

    def open(self) -> None:
        """Open the port, wait for the board, tell it, and follow it to another speed."""
        found, wanted = self._found_baud, self._tuning.line_baud
        self._board.baud = found
        self._board.open()
        heard = self._hear(_HEAR_S)
        if not heard and found is not None and wanted not in (None, found):
            # No reset on opening, and left at the other speed the last time.
            self._board.change_baud(wanted)
            if not self._hear(_FOLLOW_S):
                self._board.change_baud(found)
        self._board.write(self._tuning.commands)
        self._drain(_ANSWER_S)
        if wanted is None or wanted == self._board.baud:
            return
        self._board.write(command("baud", wanted))
        self._drain(_ANSWER_S)
        self._board.change_baud(wanted)
        self._drain(_ANSWER_S)
        if not self._hear(_FOLLOW_S):
            self._board.close()
            raise BoardTrouble(f"{self.name} did not follow to {wanted} baud; leave out "
                               "--line-baud, or use a speed its sketch knows")

    def read(self) -> bytes:
        """Return what came."""
        return self._board.read()

    def write(self, data: bytes) -> None:
        """Send bytes to the board."""
        self._board.write(data)

    def stop(self) -> None:
        """Wake a waiting read."""
        self._board.stop()

    def close(self) -> None:
        """Send the board back to the speed it was found at, and let go of the port."""
        if self._found_baud is not None and self._board.baud != self._found_baud:
            with contextlib.suppress(Unplugged):
                self._board.write(command("text") + command("baud", self._found_baud))
                self._drain(_ANSWER_S)
        self._board.close()

    def _hear(self, seconds: float) -> bool:
        """Return whether the board says something readable in that time."""
        decoder = Decoder()
        begin = asked = time.monotonic()
        while time.monotonic() - begin < seconds:
            if decoder.feed(self._board.read()).rows or decoder.hello is not None:
                return True
            if time.monotonic() - asked > _ASK_S:
                asked = time.monotonic()
                self._board.write(command("?") + command("start"))
        return False

    def _drain(self, seconds: float) -> None:
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            self._board.read()
