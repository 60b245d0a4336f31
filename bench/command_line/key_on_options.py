"""The options of every verb that issues values with what a key-on log says of the car."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.model.recording import CONTACTOR
from bench.command_line.parameter_options import parameters_from
from bench.errors import BadCall
from bench.wording.shell_quote import pasted

if TYPE_CHECKING:
    from analysis.pedal.findings import Findings


def add_in_car(parser: argparse.ArgumentParser) -> None:
    """Add the options."""
    parser.add_argument("--key-on", metavar="LOG",
                        help="a log of 'stillpedal watch' of this pedal in its car: what the car "
                        "adds is taken from it, as 'watch --sweep' does")
    parser.add_argument("--warm", metavar="LOG",
                        help="a log of 'stillpedal prove --do warm' of this pedal: its measured "
                        "drift with temperature takes the place of the assumed one")
    parser.add_argument("--contactor", choices=CONTACTOR,
                        help="whether the contactor closed at the key-ons of that log, when the "
                        "log does not say")


def log_words(arguments: argparse.Namespace) -> str:
    """Return the words that name key-on and warm log in another command, or ""."""
    warm = "" if arguments.warm is None else f" --warm {pasted(arguments.warm)}"
    if arguments.key_on is None:
        return warm
    stated = "" if arguments.contactor is None else f" --contactor {arguments.contactor}"
    return f" --key-on {pasted(arguments.key_on)}{stated}{warm}"


def findings_from(arguments: argparse.Namespace, path: Path) -> "Findings":
    """Return the findings of the sweep, with what its key-on log says of the car when given."""
    if arguments.key_on is not None:
        from bench.services.key_on import open_in_car

        return open_in_car(path, arguments.key_on, parameters_from(arguments), arguments.contactor,
                           arguments.warm)
    from bench.services.findings import open_findings
    from bench.services.warmth import warmed

    check_in_car(arguments)
    return warmed(open_findings(path, parameters_from(arguments)), arguments.warm)


def check_in_car(arguments: argparse.Namespace) -> None:
    """Raise BadCall for a contactor stated of no log."""
    if arguments.contactor is not None and arguments.key_on is None:
        raise BadCall("--contactor is said of a key-on log; name it with --key-on LOG")
