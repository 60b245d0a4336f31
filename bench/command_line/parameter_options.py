"""The parameters every analysing verb takes, as options, made from the one table of them."""

import argparse
from collections.abc import Callable
from typing import Any

from analysis.model.errors import OutOfLimits
from analysis.parameters import TABLE, Parameter, Parameters
from bench.errors import BadCall
from bench.services.typed_numbers import number_with_multiple
from bench.wording.parameters import WORDS, limits_text, no_number, number_text, refusal

GROUP = "parameters"
# Left out they are guesses; typed, even as the usual value, they are known.
SAID_BY = {"supply_tolerance": "supply_stated", "rheostat_known_ohms": "rheostat_known_stated"}


class _HelpAll(argparse.Action):
    """Print the help with every parameter, not only the usual ones."""

    def __init__(self, option_strings: list[str], dest: str, *,
                 group: argparse._ArgumentGroup, hidden: dict[argparse.Action, str],
                 **how: Any) -> None:
        super().__init__(option_strings, dest, nargs=0, **how)
        self._group, self._hidden = group, hidden

    def __call__(self, parser: argparse.ArgumentParser, *_given: object) -> None:
        self._group.description = None
        for action, text in self._hidden.items():
            action.help = text
        parser.print_help()
        parser.exit()


def add_parameters(parser: argparse.ArgumentParser) -> None:
    """Add an option for each parameter; help shows the usual ones, --help-all every one."""
    group = parser.add_argument_group(
        GROUP, f"the usual ones; --help-all shows all {len(TABLE)}")
    hidden: dict[argparse.Action, str] = {}
    for row in TABLE.values():
        action = _add(group, row)
        if not row.usual:
            hidden[action] = str(action.help)
            action.help = argparse.SUPPRESS
    parser.add_argument("--help-all", action=_HelpAll, default=argparse.SUPPRESS, group=group,
                        hidden=hidden, help="show this help message with every parameter and exit")


def _add(group: argparse._ArgumentGroup, row: Parameter) -> argparse.Action:
    words = WORDS[row.name]
    text = words.help.replace("%", "%%")
    if row.kind == "yes/no":
        return group.add_argument(words.option, dest=row.name, action="store_const",
                                  const=not row.default, default=row.default, help=text)
    if row.kind == "volts by track":
        return group.add_argument(words.option, dest=row.name, action="append", default=[],
                                  metavar="TRACK=VOLTS", help=text)
    if row.kind == "choice":
        return group.add_argument(words.option, dest=row.name, choices=row.choices,
                                  default=row.default, help=f"{text} (default {row.default})")
    if row.kind == "points":
        return group.add_argument(words.option, dest=row.name, default=row.default,
                                  metavar="POINTS", help=text)
    limits = limits_text(row).replace("%", "%%")
    default = None if row.name in SAID_BY else row.default
    return group.add_argument(
        words.option, dest=row.name, type=number_of(row), default=default, metavar="N",
        help=f"{text} ({limits}; default {number_text(row.default)})")


def number_of(row: Parameter) -> Callable[[str], float]:
    """Return what reads the text typed for a parameter; it raises BadCall for no number.

    Ohms may be typed as 430k or 1M, as they are where a sender is described.
    """
    def read(text: str) -> float:
        try:
            if row.unit == "ohm":
                return number_with_multiple(text, row.name)
            return int(text) if row.kind == "whole" else float(text)
        except (ValueError, BadCall):
            raise BadCall(no_number(row.name, text)) from None
    return read


def parameters_from(arguments: argparse.Namespace) -> Parameters:
    """Return the parameters; raise BadCall with the option as it is typed and what was wrong."""
    values: dict[str, Any] = {
        name: dict(_pair(text) for text in getattr(arguments, name))
        if row.kind == "volts by track" else getattr(arguments, name)
        for name, row in TABLE.items()}
    for name, stated in SAID_BY.items():
        if values[name] is None:
            values[name] = TABLE[name].default
        else:
            values[stated] = True
    try:
        return Parameters(**values)
    except OutOfLimits as error:
        raise BadCall(refusal(error, "terminal")) from None


def _pair(text: str) -> tuple[str, float]:
    track, equals, volts = text.rpartition("=")
    try:
        if not equals:
            raise ValueError
        return track.strip(), float(volts)
    except ValueError:
        raise BadCall(f"target {text!r} is not TRACK=VOLTS; write for example a=0.5") from None
