"""The options of every verb that reads a board, and the cautions before a real one is read."""

import argparse
import sys
from pathlib import Path

from analysis.model.recording import ROLES
from bench.command_line.board_memory import recall, recalled
from bench.command_line.tuning_options import add_tuning_options, tuned
from bench.errors import BadCall
from bench.services.boards import Board, ChannelOptions, open_named
from bench.services.record import Order

# What turns a board's numbers into volts at the sensor, by the name that argparse gives it.
OF_THE_CHANNELS = ("columns", "role", "scale", "offset", "step_volts", "supply_volts")


def refuse_beside_a_file(arguments: argparse.Namespace, instead: str,
                         names: tuple[str, ...]) -> None:
    """Raise BadCall for what is said of a board where a file is read: it would not count.

    instead: where the file says it.
    """
    for name in names:
        if getattr(arguments, name):
            raise BadCall(f"--{name.replace('_', '-')} is said of a board and does not count with "
                          f"--from: {instead} says it; leave it out")


def add_port_options(group: "argparse._ArgumentGroup") -> None:
    """Add what is asked of a board on a port: its speed, its rate, its format."""
    group.add_argument("--baud", type=int, metavar="N", help="speed of the port (default 115200)")
    group.add_argument("--rate", type=int, metavar="HZ", help="ask the board for so many rows/s "
                       "(default: the board's own)")
    add_tuning_options(group)
    form = group.add_mutually_exclusive_group()
    form.add_argument("--text", dest="format", action="store_const", const="text", default="auto",
                      help="the board sends text lines (default: found out)")
    form.add_argument("--frames", dest="format", action="store_const", const="frames",
                      help="the board sends checked frames")


def add_board_options(parser: argparse.ArgumentParser) -> None:
    """Add what says which board is read, and how."""
    parser.add_argument("--board", metavar="BOARD",
                        help="simulated, a port such as /dev/ttyACM0 or COM3 (see 'stillpedal "
                        "boards'), or replay:FILE")
    parser.add_argument("--out", type=Path, metavar="PATH",
                        help="the recording file; must not exist (default: a name by date)")
    parser.add_argument("--title", default="", help="what is recorded, in your words")
    parser.add_argument("--yes", action="store_true", help="I have read the cautions and meet them")
    parser.add_argument("--json", action="store_true", help="a summary as JSON on stdout")
    group = parser.add_argument_group("the board")
    add_port_options(group)
    add_clock_option(group)
    group.add_argument("--wait-s", type=float, default=None, metavar="S",
                       help="how long to wait for a pulled cable "
                       "(default: sweep 60, watch without end)")
    group.add_argument("--fast", action="store_true",
                       help="simulated and replayed boards: do not wait for real time")
    add_channel_options(parser)


def add_clock_option(group: "argparse._ArgumentGroup") -> None:
    """Add what says how a line of text begins."""
    group.add_argument("--clock", choices=("us", "ms", "none"),
                       help="text lines begin with the board's clock in this unit, or with none "
                       "(default: as the board says)")


def add_channel_options(parser: argparse.ArgumentParser) -> None:
    """Add what says what the channels are, where the board does not."""
    group = parser.add_argument_group("channels, where the board does not say")
    group.add_argument("--columns", metavar="A,B,...", help="names, in the board's order")
    group.add_argument("--role", action="append", default=[], metavar="COLUMN=ROLE",
                       help=f"one of {', '.join(ROLES)} (may be repeated)")
    group.add_argument("--full-scale", type=float, metavar="N", help="1024 for 10 bits")
    group.add_argument("--reference-volts", type=float, metavar="V",
                       help="volts at a pin that read full scale")
    group.add_argument("--scale", action="append", default=[], metavar="COLUMN=X",
                       help="volts at the sensor per volt at the pin, e.g. supply=2 for a 1:2 "
                       "divider")
    group.add_argument("--offset", action="append", default=[], metavar="COLUMN=V",
                       help="added after --scale")
    group.add_argument("--step-volts", type=float, metavar="V",
                       help="one converter step at the pin, of a board that prints volts "
                       "(estimated when they lie on a grid)")
    group.add_argument("--supply-volts", type=float, metavar="V",
                       help="nominal supply of the pedal (default 5)")


def channels_from(arguments: argparse.Namespace) -> ChannelOptions:
    """Return what is said of the channels, over what is kept of the board.

    Raise BadCall with the value that was wrong.
    """
    columns = None
    if arguments.columns is not None:
        columns = tuple(c.strip() for c in arguments.columns.split(","))
        if not all(columns) or len(set(columns)) != len(columns):
            raise BadCall(f"--columns {arguments.columns!r}; write different names, a,b,supply")
    for option in ("full_scale", "reference_volts", "supply_volts", "step_volts"):
        value = getattr(arguments, option)
        if value is not None and not 0 < value < 1e9:
            raise BadCall(f"--{option.replace('_', '-')} is {value:g}; state a number above 0")
    return recalled(ChannelOptions(
        columns, dict(_pair(t, "--role") for t in arguments.role), arguments.full_scale,
        arguments.reference_volts, _numbers(arguments.scale, "--scale"),
        _numbers(arguments.offset, "--offset"), arguments.supply_volts,
        arguments.step_volts), recall(arguments))


def order_from(arguments: argparse.Namespace, purpose: str, wait_s: float) -> Order:
    """Return what is to be recorded; raise BadCall with the value that was wrong."""
    channels = channels_from(arguments)
    wait = wait_s if arguments.wait_s is None else arguments.wait_s
    if not wait >= 0:
        raise BadCall(f"--wait-s is {wait:g}; use 0 or more")
    return Order(
        purpose, arguments.out, arguments.title, channels,
        arguments.format, arguments.rate, wait, clock=arguments.clock)


def named_board(arguments: argparse.Namespace) -> str:
    """Return what --board names; raise BadCall when it is missing.

    The simulated board is no default: nobody is to take its numbers for those of a real pedal.
    """
    if not arguments.board:
        raise BadCall("name the board with --board: a port from 'stillpedal boards', or simulated")
    return str(arguments.board)


def board_from(arguments: argparse.Namespace, simulated: Board | None = None) -> Board:
    """Return the board asked for, not opened yet."""
    speed = None if arguments.fast else 1.0
    board = open_named(named_board(arguments), arguments.baud, speed, simulated)
    return tuned(board, arguments)


def show_cautions(board: Board, cautions: tuple[str, ...], agreed: bool) -> None:
    """Print the cautions before a real board is read; ask when somebody is there to answer."""
    if not board.needs_care:
        return
    print("Before you begin:", *(f"  - {c}" for c in cautions), sep="\n", file=sys.stderr)
    if agreed or sys.stdin is None or not sys.stdin.isatty():
        return
    print("Is all of this so? Type yes: ", end="", file=sys.stderr, flush=True)
    if sys.stdin.readline().strip().lower() not in ("y", "yes"):
        raise BadCall("nothing was recorded; see to the cautions first")


def _pair(text: str, option: str) -> tuple[str, str]:
    column, equals, value = text.partition("=")
    if not equals or not column.strip() or not value.strip():
        raise BadCall(f"{option} {text!r} is not COLUMN=VALUE; write for example a=track")
    return column.strip(), value.strip()


def _numbers(texts: list[str], option: str) -> dict[str, float]:
    result = {}
    for text in texts:
        column, value = _pair(text, option)
        try:
            result[column] = float(value)
        except ValueError:
            raise BadCall(f"{option} {text!r}: {value!r} is not a number") from None
    return result
