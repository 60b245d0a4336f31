"""The options that tell a serial board how to sample and how fast to talk."""

import argparse

from bench.services import boards
from bench.services.boards import Board


def add_tuning_options(group: argparse._ArgumentGroup) -> None:
    """Add what a board can be asked for besides its rate."""
    group.add_argument("--channels", type=int, metavar="N",
                       help="ask the board for its first N inputs (1 to 16)")
    group.add_argument("--oversample", type=int, choices=(1, 4, 16), metavar="N",
                       help="ask for 1, 4 or 16 conversions per reading: 0, 1, 2 more bits, "
                       "and inputs read as many times further apart")
    group.add_argument("--line-baud", type=int, metavar="N",
                       help="ask the board to go to this speed after opening (our 10-bit board: "
                       "500000)")


def tuned(board: Board, arguments: argparse.Namespace) -> Board:
    """Return the board, told what the options ask for whenever it is opened."""
    return boards.tuned(board, rate_hz=arguments.rate, channels=arguments.channels,
                        oversample=arguments.oversample, form=arguments.format,
                        line_baud=arguments.line_baud)
