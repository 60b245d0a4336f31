"""`stillpedal demo`: a simulated faulty pedal, from the serial port to its settings sheet."""

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.parameters import Parameters
from bench.errors import BadCall
from bench.wording.shell_quote import pasted

if TYPE_CHECKING:
    from bench.command_line.progress import Progress
    from bench.services.record import Guide, Order, Recorded
    from bench.services.simulated import SimulatedPedalBoard

SPEED = 12.0
_CYCLES = 8


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("--out", type=Path, metavar="PATH",
                        help="the recording file; must not exist (default: a name by date)")
    parser.add_argument("--speed", type=float, default=SPEED, metavar="X",
                        help=f"times real time, 1 to 100 (default {SPEED:g})")
    parser.add_argument("--seed", type=int, default=1, metavar="N",
                        help="another sweep of the same pedal (default 1)")


def run(arguments: argparse.Namespace) -> int:
    """Sweep the pedal, then print what the verbs findings and settings print."""
    from bench.command_line.progress import Progress
    from bench.command_line.signals import stopped_by_signals
    from bench.services.findings import brief_findings, open_findings
    from bench.services.record import Guide, Order, plan_of
    from bench.services.settings import settings_formats, sheet_of

    if not 1 <= arguments.speed <= 100:
        raise BadCall(f"--speed is {arguments.speed:g}; use 1 to 100")
    simulated = _board(arguments.seed, arguments.speed)
    sweep = simulated.sweep
    plan = plan_of(simulated.prompts, _CYCLES, float(sweep.recording.time_s[-1]))
    progress = Progress(plan)
    progress.say("A simulated person sweeps a simulated pedal with a fault or two; what follows "
                 "is the real recorder.")
    order = Order("sweep", arguments.out, sweep.recording.title, stem="demo",
                  keep_port=False)
    progress.guide = Guide(plan, progress.show, helps=False)
    with stopped_by_signals():
        recorded = _record(simulated, order, progress, progress.guide)
    progress.say(f"recorded {recorded.rows} rows, {recorded.lost_samples} samples lost: "
                 f"{recorded.path}")
    if recorded.stopped:
        raise KeyboardInterrupt
    findings = open_findings(recorded.path, Parameters())
    sys.stdout.write(brief_findings(findings, recorded.path))
    sys.stdout.write("\n")
    sys.stdout.write(settings_formats()["text"](sheet_of(findings, recorded.path)))
    print(f"\nThe same again, step by step:\n  stillpedal findings {pasted(recorded.path)} --more\n"
          f"  stillpedal settings {pasted(recorded.path)} --unit counts --bits 10\n"
          "With a board of your own:\n  stillpedal boards\n"
          "  stillpedal sweep --board PORT", file=sys.stderr)
    return 0


def _board(seed: int, speed: float) -> "SimulatedPedalBoard":
    """Return the demo's board: one track off at rest, worn where a foot dwells, and loose."""
    from analysis.simulation import Dropout, Motion, WornSpot, pedal_named
    from bench.services.simulated import SimulatedPedalBoard

    pedal = replace(
        pedal_named("off-at-rest"), name="demo",
        worn_spots=(WornSpot(0, 8.0, 4.0, 0.020),),
        dropouts=(Dropout(1, 0.030, 40.0, share=0.5),))
    return SimulatedPedalBoard(pedal, 500.0, 12, Motion(cycles=_CYCLES, quick=4), seed, speed)


def _record(simulated: "SimulatedPedalBoard", order: "Order", progress: "Progress",
            guide: "Guide") -> "Recorded":
    """Record through a real serial device where the system has one, in process elsewhere."""
    from bench.services.boards import ChannelOptions, open_named
    from bench.services.record import record
    from bench.services.simulated import PtyServer, can_serve

    if not can_serve():
        return record(simulated, order, (progress,), guide)
    # The board says all but the divider in front of its supply input, as on any bench.
    scale = {c.column: c.scale for c in simulated.known}
    with PtyServer(simulated) as server:
        progress.say(f"serial port {server.port}, as good as hardware")
        order = replace(order, channels=ChannelOptions(scale=scale))
        return record(open_named(server.port), order, (progress,), guide)
