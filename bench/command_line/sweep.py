"""`stillpedal sweep`: record a guided sweep of the pedal on the bench."""

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.model.pedal_kind import BY_HAND
from analysis.pedal.returns import MORE_LIFT_OFFS
from analysis.signal.reference import FED_BY, clipped_question
from bench.command_line.board_memory import keep
from bench.command_line.board_options import (
    add_board_options,
    board_from,
    named_board,
    order_from,
    show_cautions,
)
from bench.command_line.old_names import accept_too
from bench.command_line.pedal_options import add_kind, rheostat_from
from bench.command_line.progress import Progress
from bench.command_line.signals import stopped_by_signals
from bench.errors import BadCall, BoardTrouble
from bench.wording.cautions import BENCH
from bench.wording.next_step import free_name
from bench.wording.reasons import in_words
from bench.wording.shell_quote import pasted, reader_of

if TYPE_CHECKING:
    from bench.services.boards import Board
    from bench.services.record import Plan

# Enough time to find a connector under the dash; after that the file is closed as it is.
WAIT_S = 60.0
_DEFAULT_PEDAL = "off-at-rest"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    add_board_options(parser)
    group = parser.add_argument_group("the sweep")
    group.add_argument("--presses", dest="cycles", type=int, default=8, metavar="N",
                       help="slow presses and returns (default 8)")
    accept_too(group, "--cycles", "cycles", type=int)
    group.add_argument("--quick", type=int, default=4, metavar="N",
                       help="quick lift-offs after them (default 4)")
    group.add_argument("--press-s", type=float, default=2.2, metavar="S", help="(default 2.2)")
    group.add_argument("--hold-s", type=float, default=1.3, metavar="S", help="(default 1.3)")
    group.add_argument("--release-s", type=float, default=2.2, metavar="S", help="(default 2.2)")
    group.add_argument("--rest-s", type=float, default=2.0, metavar="S", help="(default 2)")
    group.add_argument("--add-to", dest="more", metavar="FILE",
                       help="add lift-offs (--quick, then 18) to a sweep that was recorded: both "
                       "are kept and a new file has the two together")
    accept_too(group, "--more", "more")
    group.add_argument("--fed-by", choices=tuple(f.split()[0] for f in FED_BY),
                       help="what feeds the pedal: the board's own supply, whose input then "
                       "rightly reads full scale, or a bench supply, which may be higher than read")
    add_kind(group)
    group = parser.add_argument_group("the simulated board")
    group.add_argument("--pedal", default=None, metavar="NAME",
                       help=f"which simulated pedal (default {_DEFAULT_PEDAL}; a wrong name "
                       "lists them)")
    group.add_argument("--simulated-bits", dest="bits", type=int, default=12, metavar="N",
                       help="its converter (default 12)")
    accept_too(group, "--bits", "bits", type=int)
    group.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the "
                       "same sweep (default 1)")


def run(arguments: argparse.Namespace) -> int:
    """Record a sweep; 2 when it cannot be used, the file is kept all the same."""
    from bench.services.record import Guide, check_sweep, record
    from bench.services.simulated import SimulatedPedalBoard

    named_board(arguments)
    if arguments.more is not None:
        from bench.services.more import sweep_to_extend

        sweep_to_extend(Path(arguments.more))
        arguments.cycles = 0
        arguments.quick = MORE_LIFT_OFFS if arguments.quick == 4 else arguments.quick
    order = order_from(arguments, "sweep", WAIT_S)
    fed_by = next((f for f in FED_BY if arguments.fed_by == f.split()[0]), None)
    order = replace(order, fed_by=fed_by, kind=arguments.pedal_kind, use=arguments.pedal_use,
                    rheostat=rheostat_from(arguments))
    board, plan = _board_and_plan(arguments)
    if isinstance(board, SimulatedPedalBoard) and not order.title:
        order = replace(order, title=board.recording.title)
    order.place()
    show_cautions(board, BENCH, arguments.yes)
    progress = Progress(plan, said=order.said)
    guide = Guide(plan, progress.show, board.needs_care) if plan is not None else None
    progress.guide = guide
    with stopped_by_signals():
        recorded = record(board, order, (progress,), guide)
    keep(arguments.board, order.channels, arguments.baud, arguments.format)
    recording, refused = check_sweep(recorded)
    print(f"recorded {recorded.rows} rows, {recorded.seconds:.1f} s, "
          f"{recorded.lost_samples} samples lost: {recorded.path}", file=sys.stderr)
    if arguments.json:
        json.dump({
            "schema": 1, "file": str(recorded.path), "rows": recorded.rows,
            "seconds": recorded.seconds, "lost_samples": recorded.lost_samples,
            "complete": recording.complete, "stopped": recorded.stopped,
            "channels": [{"column": c.column, "role": c.role} for c in recording.channels],
            "refusals": list(refused)}, sys.stdout)
        print()
    if recorded.stopped:
        raise KeyboardInterrupt
    if refused:
        again = free_name(recorded.path)
        print(f"next: stillpedal sweep --board {pasted(arguments.board)} --out {pasted(again)}",
              file=sys.stderr)
        raise BoardTrouble(f"{'; '.join(refused)} (recording saved: {recorded.path})")
    question = clipped_question(recording)
    if question is not None:
        print(f"note: {in_words(question)}", file=sys.stderr)
    path = recorded.path
    if arguments.more is not None:
        from bench.services.more import join

        path = join(Path(arguments.more), recorded.path)
        print(f"both together: {path}", file=sys.stderr)
    print(f"next: {reader_of('sweep', path)}", file=sys.stderr)
    return 0


def _board_and_plan(arguments: argparse.Namespace) -> "tuple[Board, Plan | None]":
    """Return the board and the plan; the simulated person brings its own, a replay has none."""
    from bench.services.boards import REPLAY, SIMULATED
    from bench.services.record import by_hand, guided_plan, plan_of

    plan = guided_plan(arguments.cycles, arguments.quick, arguments.press_s, arguments.hold_s,
                       arguments.release_s, arguments.rest_s, alone=arguments.more is not None)
    told = by_hand if arguments.pedal_use == BY_HAND else lambda made: made
    plan = told(plan)
    if named_board(arguments) != SIMULATED:
        if arguments.pedal is not None:
            raise BadCall(f"--pedal goes with --board {SIMULATED}, not with {arguments.board}")
        board = board_from(arguments)
        replayed = arguments.board.startswith(REPLAY) or not board.needs_care
        return board, None if replayed else plan
    from analysis.simulation import Motion
    from bench.services.simulated import SimulatedPedalBoard

    motion = Motion(cycles=arguments.cycles, quick=arguments.quick, press_s=arguments.press_s,
                    hold_s=arguments.hold_s, release_s=arguments.release_s,
                    rest_s=arguments.rest_s)
    board = SimulatedPedalBoard(
        arguments.pedal or _DEFAULT_PEDAL, float(arguments.rate or 500), arguments.bits, motion,
        arguments.seed, None if arguments.fast else 1.0)
    end = float(board.sweep.recording.time_s[-1])
    return board, told(plan_of(board.prompts, arguments.cycles, end))
