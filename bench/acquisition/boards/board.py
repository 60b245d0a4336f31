"""What a board is to the recorder: something that opens, gives bytes, and can go away.

Rules for every board (tests/acquisition/test_board_contract.py holds all of them to it):
- `read` waits at most about WAIT_S and returns b"" when nothing came;
- `stop`, from any thread, makes a waiting `read` return at once;
- a board that is gone raises Unplugged from `read` or `write`; it may be opened again;
- `close` never raises and may be called twice.
"""

from abc import ABC, abstractmethod

from analysis.model.recording import Channel
from bench.errors import BoardTrouble

# Short enough that Ctrl-C and a pulled cable are noticed at once, long enough to cost nothing.
WAIT_S = 0.25


class Unplugged(BoardTrouble):
    """The cable was pulled, or the board's driver went away, while the board was open."""


class Board(ABC):
    """Give bytes from a board, in the formats of docs/wire.md.

    name: as the user typed it. known: what is known of the channels beforehand, readings of
    shape (0,); None for a board that must say so itself. needs_care: a real board, so that the
    cautions apply. obeys: it has a converter of its own, and does what it is told
    (`wire.commands`). baud: the speed of its line, None where it has none. real_time: a second of
    its clock takes a second; where nobody waits for a recording that is sent again it does not.
    """

    name: str = ""
    known: tuple[Channel, ...] | None = None
    needs_care: bool = False
    obeys: bool = False
    baud: int | None = None
    real_time: bool = True

    @abstractmethod
    def open(self) -> None:
        """Open the board; raise BoardTrouble with what is wrong and what to do."""

    @abstractmethod
    def read(self) -> bytes:
        """Return what came, b"" after WAIT_S of nothing; raise Unplugged when it is gone."""

    @abstractmethod
    def write(self, data: bytes) -> None:
        """Send bytes to the board; raise Unplugged when it is gone."""

    def change_baud(self, baud: int) -> None:
        """Go over to another speed; raise BoardTrouble on a line that has none."""
        raise BoardTrouble(f"{self.name} has no speed to be changed to {baud} baud; leave out "
                           "--line-baud")

    @abstractmethod
    def stop(self) -> None:
        """Wake a `read` that waits in another thread."""

    @abstractmethod
    def close(self) -> None:
        """Let go of the board."""

    @property
    def ended(self) -> bool:
        """Say whether nothing will ever come again, as at the end of a replay."""
        return False
