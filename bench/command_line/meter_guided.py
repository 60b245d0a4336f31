"""The guided part of `stillpedal meter`: points typed while the board is read."""

import argparse
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.errors import NoCalibration
from bench.errors import BadCall, BoardTrouble
from bench.wording.reasons import in_words
from bench.wording.refusals import refused

if TYPE_CHECKING:
    from bench.services.boards import Board
    from bench.services.sender_check import MeterResult, SenderCheckOptions
    from bench.services.sender_check_live import MeterSession
    from bench.services.simulated import SimulatedSenderBoard

BOARD_CAUTIONS = (
    "No input above its limit: measure with the meter before the lead goes onto the board.",
    "Mind the laptop's ground: run it on its battery, with nothing else earthed to it.",
    "Local codes and licensed practice come first. Stillpedal only reads.",
)
# A line through two points cannot be tested.
_LEAST_POINTS = 3
# Levels the simulated sender goes through, volts at the input: a run up and a run down.
_LEVELS = (0.5, 1.4, 2.3, 3.2, 4.1, 4.1, 3.2, 2.3, 1.4, 0.5)


def take_guided(arguments: argparse.Namespace, options: "SenderCheckOptions",
                folder: str | None) -> "MeterResult":
    """Ask for points until the user is done, and return the calibration."""
    from bench.command_line.board_options import channels_from, show_cautions
    from bench.command_line.tuning_options import tuned
    from bench.services.boards import SIMULATED, open_named
    from bench.services.record import Order
    from bench.services.sender_check_live import MeterSession
    from bench.services.simulated import SimulatedSenderBoard
    from bench.wording.senders import caution_lines

    simulated = SimulatedSenderBoard(_LEVELS[0]) if arguments.board == SIMULATED else None
    channels = channels_from(arguments)
    order = Order("meter", channels=channels, format=arguments.format, rate_hz=arguments.rate,
                  clock=arguments.clock)
    board: Board = tuned(open_named(arguments.board, arguments.baud, simulated=simulated),
                         arguments)
    show_cautions(board, (*caution_lines(options.sender.cautions()), *BOARD_CAUTIONS),
                  arguments.yes)
    session = MeterSession(board, options, Path(arguments.keep), _say, order)
    with session:
        _say(f"reading channel {session.channel.column}; every reading is kept in {session.path}")
        _say("set a value, wait, type what the meter shows and press Enter; 'done' ends")
        try:
            ask_points(session, options, simulated)
        except KeyboardInterrupt:
            _say("stopped; the points taken so far are used")
        except BoardTrouble as error:
            if len(session.points) < _LEAST_POINTS:
                raise BoardTrouble(f"{error}; the readings are kept in {session.path}") from None
            _say(f"{error}; they are used")
    return session.result(folder)


def ask_points(session: "MeterSession", options: "SenderCheckOptions",
                simulated: "SimulatedSenderBoard | None") -> None:
    from bench.services.typed_numbers import number_with_multiple

    while True:
        place = len(session.points)
        if simulated is not None:
            if place >= len(_LEVELS):
                _say("the simulated sender has gone through all its levels")
                return
            if simulated.true_volts != _LEVELS[place]:
                simulated.go_to(_LEVELS[place])
            _say(f"(simulated: the meter shows {_simulated_meter(options, _LEVELS[place])})")
        words = _read_line(f"point {place + 1}> ")
        if words is None or words.lower() in ("done", "end", "quit"):
            return
        try:
            if words == "":
                _say(in_words(session.now().told(options.sender.input_unit)))
            elif words.lower().startswith("wait"):
                seconds = number_with_multiple(words[4:], "wait")
                time.sleep(max(0.0, min(60.0, seconds)))
            elif words.lower() == "undo":
                session.undo()
                left = len(session.points)
                _say("1 point is left" if left == 1 else f"{left} points are left")
            else:
                steady = session.add(words)
                _say(in_words(steady.told(options.sender.input_unit)))
                if steady.steady:
                    _say(session.progress())
        except (BadCall, NoCalibration) as error:
            _say(refused(error))


def _read_line(prompt: str) -> str | None:
    print(prompt, end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    return line.strip() if line else None


def _simulated_meter(options: "SenderCheckOptions", volts: float) -> str:
    """Return what a good meter would show if the stated values were 1 % off."""
    value = float(options.sender.shown(np.array([volts]))[0]) * 1.01
    return f"{value:.2f}"


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
