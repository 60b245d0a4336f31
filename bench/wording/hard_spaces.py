"""A number and its unit stand on one line, wherever a sentence is broken."""

import re

HARD = "\u00a0"
_UNITS = ("mV", "V", "%", "ms", "s", "min", "h", "ohms?", "kohms?", "Hz", "kHz", "mA", "A", "C",
          "K", "counts?", "rows?", "readings?", "bits?", "degrees?", "times")
_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=(?:{'|'.join(_UNITS)})(?![A-Za-z]))")
_SPREAD = re.compile(r"(?<=\d) (\+-|±) (?=\d)")


def hard_spaces(text: str) -> str:
    """Return a sentence whose numbers are parted neither from their units nor from their +-.

    Spaces become no-break spaces; nothing else changes. For what is painted: what is copied,
    compared or read aloud stays as it is.
    """
    return _SPREAD.sub(rf"{HARD}\1{HARD}", _BEFORE_UNIT.sub(HARD, text))
