"""What a person says of the pedal before it is recorded or brought in; the header keeps it."""

import argparse

from analysis.model.errors import OutOfLimits
from analysis.model.pedal_kind import KINDS, RHEOSTAT_KEYS, USES
from analysis.parameters import TABLE
from bench.command_line.parameter_options import number_of
from bench.errors import BadCall
from bench.wording.parameters import WORDS, refusal

# Key of the header -> parameter whose option and limits are its own.
_OHMS = dict(zip(RHEOSTAT_KEYS, ("rheostat_known_ohms", "rheostat_series_ohms", "track_ohms"),
                 strict=True))


def add_kind(group: argparse._ArgumentGroup) -> None:
    """Add the options that say of what kind a pedal is; the recording keeps them."""
    group.add_argument(WORDS["pedal_kind"].option, choices=KINDS,
                       help=f"{WORDS['pedal_kind'].help}; kept in the recording")
    group.add_argument(WORDS["pedal_use"].option, choices=USES,
                       help=f"{WORDS['pedal_use'].help}; kept in the recording")
    for key, name in _OHMS.items():
        text = ("ohms of a two-wire rheostat from end to end" if name == "track_ohms" else
                WORDS[name].help)
        group.add_argument(WORDS[name].option, dest=key, type=number_of(TABLE[name]), metavar="N",
                           help=f"{text}; kept in the recording")


def rheostat_from(arguments: argparse.Namespace) -> dict[str, float]:
    """Return what was said of how a rheostat is read, by key of the header.

    Raise BadCall on a value out of its limits, and for a pedal that is none.
    """
    said = {key: float(value) for key in _OHMS if (value := getattr(arguments, key)) is not None}
    for key, value in said.items():
        try:
            TABLE[_OHMS[key]].check(value)
        except OutOfLimits as error:
            raise BadCall(refusal(error, "terminal")) from None
    if said and arguments.pedal_kind != "rheostat":
        option = WORDS[_OHMS[next(iter(said))]].option
        raise BadCall(f"{option} is of a two-wire rheostat; add --pedal-kind rheostat, or leave "
                      "it out")
    return said
