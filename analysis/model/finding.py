"""What is found and why, as data: codes and values. Their sentences are made in bench/wording.

Rules of this room:
1. A code is a word of `Code` (what was found) or `ReasonCode` (why); the type checker refuses any
   other. A new one needs its words in bench/wording, and a row in analysis/evidence where it
   speaks of a claim.
2. A value carries its unit in its name. No value is a sentence; nothing here names an option of the
   command line or a page of the window.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, Union, get_args

Subject = Literal["track", "pair", "supply", "pedal", "log", "sender"]
Relation = Literal["same slope", "half slope", "opposed slopes", "same slope with offset", "other"]

# What a sweep shows: faults first, then what weakens it, then what is only told.
SweepCode = Literal[
    "dropout", "no reading", "open or short", "dead track", "late track", "flat spot", "noise",
    "clipping", "gap", "no return", "slow return", "not settled", "foot at rest", "step",
    "mismatch", "same wiper", "supply sag", "supply lost",
    "doubt", "not enough", "few returns", "few rest readings", "short rest", "noise not measured",
    "no held full press", "short of the stop", "cut short", "rate too low",
    "samples lost", "no lift-off", "play", "off at rest", "apart all along", "unusual relation",
    "perhaps off at rest", "not compared", "one track", "third track alone", "overlooked track",
    "supply off nominal", "supply clipped", "supply not recorded", "supply read seldom",
    "reference contradicted", "promise withdrawn", "return off the others", "rest creeps",
    "catches at rest", "costly dead band", "step not known",
    "step estimated", "nothing allowed for the car", "hum",
    "dead band stated", "pair measured", "shared short unseen",
    # Of the key-on log whose allowance the values carry.
    "log in the values", "log too noisy", "log passed the start of travel",
    "log not read all the time", "moves with warmth", "brake with pedal in the log",
    "allowance for the car"]
# What a key-on log shows.
KeyOnCode = Literal[
    "foot not stated", "dropout in the car", "key line still", "rows lost", "rate too low",
    "supply clipped", "track clipped", "away from rest", "readings repeat", "track not logged",
    "marks contradicted", "lead at a rail", "track at a rail all along", "rest is not the sweep's",
    "electrical, not a foot", "one key-on lifts", "supply not logged", "shift or alias",
    "short holes", "key line unclear", "reference contradicted",
    "reference contradicted, ratio stands"]
# What differs between two sweeps.
ChangeCode = Literal[
    "new fault", "fault gone", "start of travel no longer holds", "relation changed",
    "rest moved", "full_travel moved", "span moved", "drift moved", "gain moved", "offset moved",
    "rest_scatter got worse", "rest_scatter got better", "noise got worse", "noise got better",
    "linearity got worse", "linearity got better", "mismatch_max got worse",
    "mismatch_max got better", "play got worse", "play got better", "return_time got worse",
    "return_time got better"]
Code = SweepCode | KeyOnCode | ChangeCode
SWEEP_CODES: tuple[str, ...] = get_args(SweepCode)
KEY_ON_CODES: tuple[str, ...] = get_args(KeyOnCode)
CHANGE_CODES: tuple[str, ...] = get_args(ChangeCode)

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
    text: its sentence, where a key-on log or a fault still brings its own; "" elsewhere.
    """

    code: Code
    gravity: int
    subject: Subject
    text: str = ""
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
    word: word for word in (*SWEEP_CODES, *KEY_ON_CODES, *CHANGE_CODES)}  # type: ignore[misc]
