"""Boards as a face needs them: found, opened, told how to sample, remembered.

pyserial loads with the first question about a port, not with this module.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from analysis.model.recording import Channel
from bench.acquisition.boards import DEFAULT_BAUD, REPLAY, SIMULATED, list_boards, open_named
from bench.acquisition.boards.board import Board
from bench.acquisition.boards.channels import ChannelOptions
from bench.acquisition.boards.profiles import (
    Profile,
    forget_profile,
    is_port,
    keep_profile,
    known_profiles,
    merged,
    not_understood,
    options_from_plain,
    profile_of,
    profile_said,
    profiles_path,
)
from bench.acquisition.wire.widths import LARGEST_READING
from bench.errors import BadCall
from bench.files.recording_file import RecordingHeader

if TYPE_CHECKING:
    from bench.acquisition.boards.serial_board import FoundPort as FoundPort

__all__ = [
    "DEFAULT_BAUD", "LARGEST_READING", "REPLAY", "SIMULATED", "Board", "ChannelOptions", "Profile",
    "check_channels", "forget_profile", "identity_of", "is_port",
    "keep_profile", "known_profiles", "list_boards", "merged", "not_understood",
    "open_named", "options_from_plain", "port_with", "profile_of", "profile_said",
    "profiles_path", "tuned",
]


def check_channels(channels: Sequence[Channel]) -> None:
    """Raise BenchError or AnalysisError, saying why, when no recording could be of these."""
    RecordingHeader(tuple(channels))


def identity_of(port: str) -> str:
    """Return what a board is known by: its USB identity, else the path it is on."""
    from bench.acquisition.boards import serial_board

    return serial_board.identity_of(port)


def port_with(identity: str, last: str) -> str:
    """Return where the board of that identity is now; where it was last when it is not seen."""
    from bench.acquisition.boards import serial_board

    return serial_board.port_with(identity, last)


def tuned(board: Board, *, rate_hz: int | None = None, channels: int | None = None,
          oversample: int | None = None, form: str = "auto",
          line_baud: int | None = None) -> Board:
    """Return the board, told what is asked for here whenever it is opened.

    channels: its first so many inputs, 1 to 16. oversample: 1, 4 or 16 conversions a reading.
    form: of the wire, "auto", "text" or "frames". line_baud: the speed to go to after opening.
    Only a board that `obeys` can be told; the others are returned as they are.
    Raises BadCall for what no board could do.
    """
    from bench.acquisition.boards.configured_board import TunedBoard, Tuning

    wanted = Tuning(rate_hz, channels, oversample, form, line_baud)
    if not board.obeys or wanted == Tuning():
        return board
    if line_baud is not None and board.baud is None:
        raise BadCall(f"{board.name} has no line whose speed could be changed; leave out "
                      "--line-baud")
    return TunedBoard(board, wanted)
