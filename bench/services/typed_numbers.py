"""Numbers as a person types them: 4.7k and 1M for ohms, as they stand on a part."""

import re

from bench.errors import NotWritten
from bench.wording.face import TERMINAL
from bench.wording.senders.fields import not_written

_MULTIPLES = {"": 1.0, "m": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9}
_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*([mkMG]?)\Z")


def number_with_multiple(text: str, name: str) -> float:
    """Return a number such as "4.7k", "100", "1M"; raise NotWritten naming what it was for."""
    match = _NUMBER.match(text.strip())
    if match is None:
        raise refused_text(name, text, "number")
    return float(match[1]) * _MULTIPLES[match[2]]


def refused_text(name: str, text: str, kind: str) -> NotWritten:
    """Return the error for a text that is no value of its kind: "number" or "yes or no"."""
    return NotWritten(name, text, kind, not_written(name, text, kind, TERMINAL))
