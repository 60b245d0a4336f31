"""`stillpedal boards`: list what can be read; `--check PORT` tries one."""

import argparse
import json
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from bench.command_line.board_memory import keep, recall, recalled
from bench.command_line.board_options import add_port_options
from bench.command_line.tuning_options import tuned
from bench.errors import BadCall
from bench.services.boards import ChannelOptions

if TYPE_CHECKING:
    from analysis.signal.board_check import BoardCheck
    from bench.services.boards import Profile


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("--check", metavar="PORT", help="read this board for some seconds and say "
                        "what it is good for: noise, codes, clock, losses, head-room, supply")
    parser.add_argument("--known", action="store_true",
                        help="list the boards that were described before, and the file they are in")
    parser.add_argument("--forget", metavar="NAME", help="forget what was said of a board")
    parser.add_argument("--name", metavar="NAME",
                        help="with --check: call this board so; --board NAME then finds it")
    parser.add_argument("--json", action="store_true", help="JSON on stdout instead of text")
    parser.add_argument("--strict", action="store_true",
                        help="exit with 1 when the checked board is too coarse or loses samples")
    group = parser.add_argument_group("the check")
    group.add_argument("--seconds", type=float, default=10.0, metavar="S", help="(default 10)")
    group.add_argument("--grounded", action="append", default=[], metavar="COLUMN",
                       help="this input is tied to ground (may be repeated)")
    group.add_argument("--expect", action="append", default=[], metavar="COLUMN=VOLTS",
                       help="so many volts are at this input's pin (may be repeated)")
    add_port_options(group)
    group.add_argument("--full-scale", type=int, metavar="N", help="1024 for 10 bits, where the "
                       "board does not say")
    group.add_argument("--reference-volts", type=float, metavar="V",
                       help="volts at a pin that read full scale, where the board does not say")


def run(arguments: argparse.Namespace) -> int:
    """List the boards, or check one; 1 with --strict when the checked one is not good enough."""
    if arguments.forget is not None:
        from bench.services.boards import forget_profile

        forget_profile(arguments.forget)
        print(f"forgotten: {arguments.forget}", file=sys.stderr)
        return 0
    if arguments.known:
        return _known(arguments)
    if arguments.check is None:
        if arguments.name is not None:
            raise BadCall("--name goes with --check PORT; add it")
        return _list(arguments)
    from bench.services.board_check import CheckOrder, board_check_json, board_check_text, check
    from bench.services.boards import open_named

    for option in ("full_scale", "reference_volts"):
        value = getattr(arguments, option)
        if value is not None and not 0 < value < 1e9:
            raise BadCall(f"--{option.replace('_', '-')} is {value:g}; state a number above 0")
    said = ChannelOptions(full_scale=arguments.full_scale,
                         reference_volts=arguments.reference_volts)
    profile = recall(arguments, "check")
    channels = recalled(said, profile)
    order = CheckOrder(arguments.seconds, _expected(arguments),
                       None if channels.full_scale is None else round(channels.full_scale),
                       channels.reference_volts, arguments.format)
    board = tuned(open_named(arguments.check, arguments.baud), arguments)
    print(f"watching {arguments.check} for {order.seconds:g} s: leave it alone to see its noise, "
          "or move the pedal slowly to see its codes", file=sys.stderr)
    result = check(board, order)
    sys.stdout.write((board_check_json if arguments.json else board_check_text)(result))
    kept = keep(arguments.check, said, arguments.baud, arguments.format, arguments.name) or profile
    print(f"next: {_next(arguments.check, kept, result)}", file=sys.stderr)
    poor = result.verdict == "too coarse" or result.lost_samples > 0 or result.refused > 0
    return 1 if arguments.strict and poor else 0


def _next(port: str, kept: "Profile | None", result: "BoardCheck") -> str:
    """Return the complete line that comes after a check."""
    from bench.wording.next_step import free_name
    from bench.wording.shell_quote import pasted

    if not math.isfinite(result.step_volts):
        return (f"stillpedal boards --check {pasted(port)} --full-scale 1024 "
                "--reference-volts 5   (1024 for 10 bits, 4096 for 12; the volts that read it)")
    out = free_name(Path("before.csv"), "before")
    return f"stillpedal sweep --board {pasted(kept.name if kept else port)} --out {out}"


def _known(arguments: argparse.Namespace) -> int:
    from dataclasses import asdict

    from bench.services.boards import known_profiles, not_understood, profiles_path

    known = known_profiles()
    if arguments.json:
        json.dump({"schema": 1, "file": str(profiles_path()),
                   "boards": [asdict(p) for p in known]}, sys.stdout)
        print()
        return 0
    for profile in known:
        print(f"{profile.name}  at {profile.port}: {profile.said}")
    if not_understood():
        print(f"note: {profiles_path()} cannot be understood; it is put aside when the next board "
              "is kept", file=sys.stderr)
        return 0
    print(f"{len(known)} kept in {profiles_path()}", file=sys.stderr)
    return 0


def _list(arguments: argparse.Namespace) -> int:
    from bench.services.boards import list_boards

    found = list_boards()
    if arguments.json:
        json.dump({"schema": 1, "boards": [{"port": f.port, "text": f.text} for f in found]},
                  sys.stdout)
        print()
        return 0
    width = max(len(f.port) for f in found)
    for board in found:
        print(f"{board.port:<{width}}  {board.text}".rstrip())
    from bench.wording.shell_quote import pasted

    usb = [board.port for board in found if board.usb]
    if usb:
        which = (f"{usb[0]} is probably the converter: it is the only one on USB" if len(usb) == 1
                 else f"one of {', '.join(usb)} is probably the converter: pull its plug and list "
                 "again to see which")
        print(f"{which}\nnext: stillpedal boards --check {pasted(usb[0])}", file=sys.stderr)
    elif len(found) > 1:
        # The first is the simulated one.
        port = pasted(found[1].port) if len(found) == 2 else "PORT"
        print(f"next: stillpedal boards --check {port}", file=sys.stderr)
    else:
        print("no serial port found: plug a board in and list again, or give any path to --board\n"
              "next: stillpedal boards", file=sys.stderr)
    return 0


def _expected(arguments: argparse.Namespace) -> dict[str, float]:
    expected = dict.fromkeys(arguments.grounded, 0.0)
    for text in arguments.expect:
        column, equals, volts = text.partition("=")
        try:
            if not equals:
                raise ValueError
            expected[column.strip()] = float(volts)
        except ValueError:
            raise BadCall(f"--expect {text!r} is not COLUMN=VOLTS; write a=2.5") from None
    return expected
