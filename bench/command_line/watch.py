"""`stillpedal watch`: log the rest readings in the car at key-on, and say what they show."""

import argparse
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from analysis.model.errors import AnalysisError
from analysis.model.recording import CONTACTOR
from analysis.parameters import Parameters
from analysis.pedal.settings import Setting
from bench.command_line.board_options import (
    OF_THE_CHANNELS,
    add_board_options,
    board_from,
    named_board,
    order_from,
    refuse_beside_a_file,
    show_cautions,
)
from bench.command_line.old_names import accept_too
from bench.command_line.parameter_options import add_parameters, parameters_from
from bench.command_line.progress import Progress
from bench.command_line.signals import stopped_by_signals
from bench.errors import BadCall
from bench.services.key_on import HOW, STARTS, Capture, LoggerOptions
from bench.wording.face import TERMINAL, on_a_sheet
from bench.wording.limb import limb_of
from bench.wording.refusals import refused
from bench.wording.shell_quote import pasted
from bench.wording.sweep import sentences as told

_DISK_EVERY_S = 2.0
_DISK_SHORT_HOURS = 1.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("--from", dest="log", metavar="FILE",
                        help="analyse a log that is there already; no board is read")
    parser.add_argument("--sweep", metavar="FILE",
                        help="the bench sweep of this pedal: its settings are judged and "
                        "issued anew with what the car really adds")
    parser.add_argument("--entered", action="append", default=[],
                        metavar="TRACK.NAME=VOLTS",
                        help="a value in your controller, e.g. a.start_of_travel=0.82")
    accept_too(parser, "--set", "entered", action="append")
    parser.add_argument("--contactor", choices=CONTACTOR,
                        help="whether the contactor closed at these key-ons, all of them; without "
                        "closed no measured allowance counts below the assumed one")
    parser.add_argument("--strict", action="store_true",
                        help="exit with 1 when power would have been applied, when the noise "
                        "would pass the values, when not every track could be judged all the "
                        "time, when one key-on lifts so that no promise holds, or the sweep "
                        "shows that the pedal must be repaired first")
    parser.add_argument("--more", action="store_true",
                        help="the reasons and tables as well, not only one screen")
    add_board_options(parser)
    group = parser.add_argument_group("the log")
    group.add_argument("--start-on", choices=STARTS, default="auto",
                       help="what starts it (default: the key line, else the supply, else now); "
                       "Enter always does")
    group.add_argument("--before-s", type=float, default=10.0, metavar="S",
                       help="seconds of the log kept from before it starts (default 10)")
    group.add_argument("--key-volts", type=float, default=2.0, metavar="V",
                       help="the key is on above this, at the sensor (default 2)")
    group.add_argument("--cycles", type=int, metavar="N", help="end after N key cycles")
    group.add_argument("--minutes", type=float, metavar="M", help="end after so long")
    add_parameters(parser)


def run(arguments: argparse.Namespace) -> int:
    """Log, then print what the log shows; 1 with --strict when it fails."""
    from bench.services.key_on import entered_settings, fails, open_key_on

    parameters = parameters_from(arguments)
    settings = entered_settings(arguments.entered)
    if arguments.log is not None:
        refuse_beside_a_file(arguments, "the log's own header", (
            "board", "full_scale", "reference_volts", *OF_THE_CHANNELS))
    path = arguments.log if arguments.log is not None else _log(
        arguments, parameters, settings)
    try:
        findings = open_key_on(path, parameters, settings, arguments.sweep,
                               arguments.contactor)
    except AnalysisError as error:
        if arguments.log is not None:
            raise
        raise BadCall(f"{refused(error)} (log saved: {path})") from None
    # One screen has a line for it, and on a screen the long page says it too.
    apart = arguments.json or (arguments.more and not sys.stdout.isatty())
    face = on_a_sheet(TERMINAL, Path(arguments.sweep or "").name)
    for warning in told(findings.forbidding, face) if apart else ():
        print(f"warning: {warning}", file=sys.stderr)
    if arguments.json:
        from bench.services.key_on import key_on_json

        sys.stdout.write(key_on_json(findings))
    elif arguments.more:
        from bench.services.key_on import key_on_text

        sys.stdout.write(key_on_text(findings, Path(path).name))
    else:
        from bench.services.key_on import brief_key_on

        sys.stdout.write(brief_key_on(
            findings, Path(path), None if arguments.sweep is None else Path(arguments.sweep),
            arguments.contactor, "".join(f" --entered {pasted(e)}" for e in arguments.entered)))
    return 1 if arguments.strict and fails(findings) else 0


def _log(arguments: argparse.Namespace, parameters: Parameters,
         settings: Sequence[Setting]) -> Path:
    """Log until it is over and return where."""
    from bench.services.boards import SIMULATED
    from bench.services.key_on import new_capture, pedal_of_log, watch
    from bench.services.simulated import SimulatedCarBoard
    from bench.wording.cautions import CAR

    seconds = None if arguments.minutes is None else 60.0 * arguments.minutes
    wanted = LoggerOptions(arguments.start_on, arguments.before_s, arguments.key_volts,
                           arguments.cycles, seconds, arguments.contactor)
    simulated = None
    if named_board(arguments) == SIMULATED:
        simulated = SimulatedCarBoard(arguments.cycles or 3, float(arguments.rate or 1000), 1,
                                      None if arguments.fast else 1.0)
    kind, use = pedal_of_log(arguments.sweep, parameters)
    order = replace(order_from(arguments, "key-on", float("inf")), kind=kind, use=use)
    board = board_from(arguments, simulated)
    order.place()
    show_cautions(board, CAR,
                  arguments.yes)
    progress = _WatchProgress()
    capture = new_capture(order, wanted, progress.say, settings)
    progress.capture = capture
    progress.say(f"{limb_of(use).off}. {HOW} (Enter marks, Ctrl-C ends)")
    if sys.stdin is not None and (sys.stdin.isatty() or arguments.start_on == "enter"):
        threading.Thread(target=_listen, args=(capture,), name="keys", daemon=True).start()
    with stopped_by_signals():
        recorded = watch(board, order, capture, (progress,))
    print(f"logged {recorded.rows} rows, {recorded.seconds:.1f} s, {capture.key_ons} key-ons, "
          f"{recorded.lost_samples} samples lost: {recorded.path}", file=sys.stderr)
    return recorded.path


def _listen(capture: Capture) -> None:
    """Hand typed lines on until there are no more."""
    for line in sys.stdin:
        capture.enter(line.strip())


class _WatchProgress(Progress):
    """Show what is waited for, the key cycles, and what the log does to the disk."""

    plain_every_s = 60.0

    def __init__(self) -> None:
        super().__init__()
        self.capture: Capture | None = None
        self._disk = ""
        self._disk_seen = -_DISK_EVERY_S

    def _line(self) -> str:
        capture = self.capture
        if capture is None or not capture.logging or capture.writer is None:
            waits = "" if capture is None else f"waiting for {capture.waits_for}"
            return f"{self._time_s:7.1f} s  {waits}{self._numbers()}"
        now = time.monotonic()
        if now - self._disk_seen >= _DISK_EVERY_S:
            self._disk_seen = now
            self._disk = self._disk_words(capture)
        return (f"{capture.last_s:7.1f} s  key-ons {capture.key_ons}  "
                f"{self._disk}{self._numbers()}")

    def _disk_words(self, capture: Capture) -> str:
        from bench.services.key_on import disk_left

        assert capture.writer is not None
        size, free = capture.writer.bytes_written, disk_left(capture.path)
        per_hour = size / capture.last_s * 3600.0 if capture.last_s > 1.0 else 0.0
        words = f"{size / 1e6:.1f} MB, {per_hour / 1e6:.0f} MB/h"
        if free >= 0 and per_hour > 0:
            hours = free / per_hour
            words += f", room for {min(hours, 9999):.0f} h"
            if hours < _DISK_SHORT_HOURS:
                words += " (DISK NEARLY FULL)"
        return words
