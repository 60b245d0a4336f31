"""Who is spoken to: a terminal is told options, a window its pages, a sheet of paper neither."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from analysis.model.finding import OHMS_PER_VOLT

# The values of a finding or a reason, as analysis names them.
Values = Mapping[str, Any]


@dataclass(frozen=True)
class Face:
    """Hold whom a sentence is made for.

    kind: "terminal", "window" or "paper". remedies: where the remedies stand, as said there; the
    heading it names is `REMEDIES`, on that face.
    """

    kind: Literal["terminal", "window", "paper"]
    remedies: str

    def of(self, terminal: str, window: str, paper: str | None = None) -> str:
        """Return the words for this face; paper has those of the window without their own."""
        if self.kind == "terminal":
            return terminal
        return window if self.kind == "window" or paper is None else paper


# The heading above the remedies; the window has it on its page of values.
REMEDIES = "Ways to correct the rest position"
TERMINAL = Face("terminal", f"see '{REMEDIES}'")
WINDOW = Face("window", f"see '{REMEDIES}' on the page Decide")
PAPER = Face("paper", f"see '{REMEDIES}'")


def on_a_sheet(face: Face, file_name: str = "") -> Face:
    """Return the face for a page that has no remedies: it says how to read them.

    file_name: of the recording; one that a shell would not take as it stands is left out.
    """
    name = file_name if re.fullmatch(r"[\w.][\w.-]*", file_name) else "FILE"
    return replace(face, remedies=f"`stillpedal findings {name} --more` has the remedies")


# Makes the words of one code.
Words = Callable[[Values, Face], str]


def capital(text: str) -> str:
    """Return a text with a capital first letter."""
    return text[:1].upper() + text[1:]


def small(text: str) -> str:
    """Return a text with a small first letter."""
    return text[:1].lower() + text[1:]


def millivolts(volts: float, digits: int = 0) -> str:
    """Return volts as a number of millivolts with its unit."""
    return f"{1000 * volts:.{digits}f} mV"


def volts_of(v: Values, volts: float) -> str:
    """Return a level in volts, of a rheostat in ohms; v: of the sentence it stands in."""
    per_volt = v.get(OHMS_PER_VOLT)
    return f"{volts:.3f} V" if per_volt is None else f"{per_volt * volts:.0f} ohm"


def mv_of(v: Values, volts: float, digits: int = 0) -> str:
    """Return a difference in millivolts, of a rheostat in ohms with a digit less."""
    per_volt = v.get(OHMS_PER_VOLT)
    return (millivolts(volts, digits) if per_volt is None else
            f"{per_volt * volts:.{max(digits - 1, 0)}f} ohm")


def volts(v: Values, name: str) -> str:
    """Return the level of that name, as `volts_of`."""
    return volts_of(v, v[name])


def mv(v: Values, name: str, digits: int = 0) -> str:
    """Return the difference of that name, as `mv_of`."""
    return mv_of(v, v[name], digits)


def listed(words: "tuple[str, ...] | list[str]") -> str:
    """Return words as "a, b and c"."""
    words = list(words)
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def first_sentence(text: str) -> tuple[str, str]:
    """Return the first sentence without its full stop, and the rest."""
    first, _, rest = text.partition(". ")
    return first.rstrip("."), rest
