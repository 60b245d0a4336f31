"""What is found and why, as data: codes and values. Their sentences are made in bench/wording.

Rules of this room:
1. A code is a word of `Code` (what was found) or `ReasonCode` (why); the type checker refuses any
   other. A new one needs a row in codes.py and its words in bench/wording.
2. A value carries its unit in its name. No value is a sentence; nothing here names an option of the
   command line or a page of the window.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, Union, cast

from analysis.model.codes import CHANGE_CODES as CHANGE_CODES
from analysis.model.codes import KEY_ON_CODES as KEY_ON_CODES
from analysis.model.codes import SWEEP_CODES as SWEEP_CODES
from analysis.model.codes import ChangeCode as ChangeCode
from analysis.model.codes import Code as Code
from analysis.model.codes import KeyOnCode as KeyOnCode
from analysis.model.codes import SweepCode as SweepCode

Subject = Literal["track", "pair", "supply", "pedal", "log", "sender"]

# In the values of all that is said of a rheostat: its `_volts` stand for so many ohms each.
OHMS_PER_VOLT = "ohms_per_volt"
# In those of a hand throttle: a hand is on it, no foot.
USE = "use"

Value = Union[float, int, str, bool, None, "Reason", tuple["Value", ...]]


@dataclass(frozen=True)
class Reason:
    """Hold why something is so: a code, and the values its sentence is made of.

    values: numbers with their units in the names, names of channels, other reasons.
    """

    code: str
    values: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True)
class Finding:
    """Hold one thing that was found, as data.

    code: what it is, the same word in every sheet. gravity: 3 do not drive, 2 repair before
    driving or the promise does not hold, 1 know it before a value is entered, 0 nothing wrong.
    channel: the column concerned, None for the pair, the pedal or the log as a whole.
    time_s, travel_percent: where; NaN when it has no place. values: numbers with their units in
    the names, and the reasons behind it. causes: the codes of those reasons. times: how many
    alike are told by this one.
    """

    code: Code
    gravity: int
    subject: Subject
    channel: str | None = None
    time_s: float = float("nan")
    travel_percent: float = float("nan")
    values: Mapping[str, Value] = field(default_factory=dict)
    causes: tuple[str, ...] = ()
    times: int = 1


def code_of(word: str) -> Code:
    """Return a word as the code it is; raise KeyError for a word that is none."""
    return _BY_WORD[word]


_BY_WORD: dict[str, Code] = {
    word: cast(Code, word) for word in (*SWEEP_CODES, *KEY_ON_CODES, *CHANGE_CODES)}
