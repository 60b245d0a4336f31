"""Every code that a finding can have: how grave it may be, and which claims it speaks of.

A new fault has its word in `SweepCode` and its row in `SWEEP`; the type checker refuses any other
word, and a test any code without a row or without words (bench/wording).
"""

from dataclasses import dataclass
from typing import Literal, get_args

# What a sweep shows: faults first, then what weakens it, then what is only told.
SweepCode = Literal[
    "dropout", "no reading", "open or short", "dead track", "late track", "flat spot", "noise",
    "clipping", "gap", "no return", "slow return", "hangs on its way", "not settled",
    "foot at rest", "step",
    "mismatch", "same wiper", "supply sag", "supply lost",
    "doubt", "rest end not known", "rest end assumed", "not enough", "few returns",
    "few rest readings", "short rest", "noise not measured",
    "no held full press", "short of the stop", "cut short", "rate too low",
    "samples lost", "no lift-off", "play", "off at rest", "apart all along", "unusual relation",
    "perhaps off at rest", "not compared", "one track", "third track alone", "overlooked track",
    "third track compared", "odd track", "no two tracks agree",
    "switch measured", "switch too late", "switch silent", "direction measured",
    "both directions closed", "direction changed while pressed", "hand throttle",
    "stated in ohms",
    "known resistor assumed",
    "broken lead unseen", "outside its supply", "rests at its output limit",
    "full at its output limit",
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
    "reference contradicted, ratio stands", "another kind of pedal",
    "supply moves a fixed sensor", "supply moves the readings", "both directions closed"]
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

# The claims that a sweep can carry.
SWEPT = "enough was swept"
CONTACT = "contact holds over the whole travel"
RETURNS = "the pedal comes back"
AGREE = "the tracks agree"
SUPPLY = "the supply is what it is said to be"
DEAD_BAND = "the dead band keeps its promise"
# Only where the sweep has a switch.
SWITCH = "the switches are right"
CLAIMS = (SWEPT, CONTACT, RETURNS, AGREE, SUPPLY, DEAD_BAND, SWITCH)


@dataclass(frozen=True)
class Row:
    """Hold what is true of a code wherever it is told.

    gravity: each that it may have: 3 do not drive, 2 repair before driving or the promise does not
        hold, 1 know it before a value is entered, 0 nothing wrong.
    claims: what it contradicts when it is grave (2 or 3), and leaves open when it is not: it says
        that something was not seen. Without one it only informs.
    """

    gravity: tuple[int, ...]
    claims: tuple[str, ...] = ()


SWEEP: dict[SweepCode, Row] = {
    "dropout": Row((3,), (CONTACT,)),
    "no reading": Row((1, 2, 3), (CONTACT,)),
    "open or short": Row((3,), (CONTACT,)),
    "dead track": Row((3,), (CONTACT, AGREE, DEAD_BAND)),
    "late track": Row((3,), (CONTACT, AGREE, DEAD_BAND)),
    "flat spot": Row((2,), (CONTACT,)),
    "noise": Row((2,), (CONTACT,)),
    "clipping": Row((2,), (CONTACT, DEAD_BAND)),
    "gap": Row((1,), (CONTACT,)),
    "no return": Row((3,), (RETURNS, DEAD_BAND)),
    "slow return": Row((3,), (RETURNS,)),
    "hangs on its way": Row((1,), (RETURNS,)),
    "not settled": Row((3,), (RETURNS, DEAD_BAND)),
    "foot at rest": Row((2,), (RETURNS, DEAD_BAND)),
    "step": Row((3,), (AGREE, DEAD_BAND)),
    "mismatch": Row((2,), (AGREE,)),
    "same wiper": Row((1, 2), (AGREE,)),
    "supply sag": Row((2,), (SUPPLY,)),
    "supply lost": Row((1,), (CONTACT, AGREE, RETURNS, SUPPLY, DEAD_BAND)),
    "doubt": Row((3,), (SWEPT, SUPPLY, DEAD_BAND)),
    "rest end not known": Row((3,), (SWEPT, DEAD_BAND)),
    "rest end assumed": Row((1,), (RETURNS, DEAD_BAND)),
    "not enough": Row((2,), (SWEPT, DEAD_BAND)),
    "few returns": Row((1,), (SWEPT, DEAD_BAND)),
    "few rest readings": Row((1,), (SWEPT, DEAD_BAND)),
    "short rest": Row((1,), (SWEPT, DEAD_BAND)),
    "noise not measured": Row((1,), (SWEPT, DEAD_BAND)),
    "no held full press": Row((0,), (SWEPT,)),
    "short of the stop": Row((1,), (SWEPT,)),
    "cut short": Row((0,), (SWEPT,)),
    "rate too low": Row((1,), (CONTACT,)),
    "samples lost": Row((0,), (CONTACT,)),
    "no lift-off": Row((1,), (RETURNS,)),
    "play": Row((1,), (AGREE,)),
    "off at rest": Row((2,), (AGREE,)),
    "apart all along": Row((1,), (AGREE,)),
    "unusual relation": Row((1,), (AGREE,)),
    "perhaps off at rest": Row((1,), (AGREE,)),
    "not compared": Row((1, 2), (AGREE,)),
    "one track": Row((1,), (AGREE,)),
    "third track alone": Row((0,)),
    "third track compared": Row((0,)),
    "odd track": Row((2,), (AGREE,)),
    "no two tracks agree": Row((2,), (AGREE,)),
    "switch measured": Row((0,), (SWITCH,)),
    "direction measured": Row((0,), (SWITCH,)),
    "both directions closed": Row((2,), (SWITCH,)),
    "direction changed while pressed": Row((1,)),
    "hand throttle": Row((0,)),
    "stated in ohms": Row((0,)),
    "known resistor assumed": Row((1,)),
    "broken lead unseen": Row((1,)),
    "outside its supply": Row((3,), (SUPPLY, DEAD_BAND)),
    "rests at its output limit": Row((1, 2), (DEAD_BAND,)),
    "full at its output limit": Row((1,)),
    "switch too late": Row((2,), (SWITCH,)),
    "switch silent": Row((1,), (SWITCH,)),
    "overlooked track": Row((1,), (AGREE,)),
    "supply off nominal": Row((1,), (SUPPLY,)),
    "supply clipped": Row((1,), (SUPPLY, DEAD_BAND)),
    "supply not recorded": Row((1,), (SUPPLY,)),
    "supply read seldom": Row((0,)),
    "reference contradicted": Row((1,), (SUPPLY,)),
    "promise withdrawn": Row((2,), (DEAD_BAND,)),
    "return off the others": Row((2,), (DEAD_BAND,)),
    "rest creeps": Row((2,), (DEAD_BAND,)),
    "catches at rest": Row((2,), (RETURNS, DEAD_BAND)),
    "costly dead band": Row((1, 2), (DEAD_BAND,)),
    "step not known": Row((1,), (DEAD_BAND,)),
    "step estimated": Row((0,)),
    "nothing allowed for the car": Row((1,), (DEAD_BAND,)),
    "hum": Row((1,)),
    "dead band stated": Row((0,)),
    "pair measured": Row((0,)),
    "shared short unseen": Row((0,)),
    "log in the values": Row((1,)),
    "log too noisy": Row((1,), (DEAD_BAND,)),
    "log passed the start of travel": Row((1,), (DEAD_BAND,)),
    "log not read all the time": Row((1,)),
    "moves with warmth": Row((1,)),
    "brake with pedal in the log": Row((1,)),
    "allowance for the car": Row((0,)),
}
LOG: dict[KeyOnCode, Row] = {
    "foot not stated": Row((2,)),
    "dropout in the car": Row((2,)),
    "key line still": Row((2,)),
    "rows lost": Row((2,)),
    "rate too low": Row((2,)),
    "supply clipped": Row((2,)),
    "track clipped": Row((2,)),
    "away from rest": Row((3,)),
    "readings repeat": Row((2,)),
    "track not logged": Row((2,)),
    "marks contradicted": Row((2,)),
    "lead at a rail": Row((3,)),
    "track at a rail all along": Row((3,)),
    "rest is not the sweep's": Row((2,)),
    "electrical, not a foot": Row((3,)),
    "one key-on lifts": Row((1, 2)),
    "supply not logged": Row((2,)),
    "shift or alias": Row((1,)),
    "short holes": Row((1,)),
    "key line unclear": Row((2,)),
    "reference contradicted": Row((2,)),
    "reference contradicted, ratio stands": Row((1,)),
    "another kind of pedal": Row((2,)),
    "supply moves a fixed sensor": Row((2,)),
    "supply moves the readings": Row((2,)),
    "both directions closed": Row((2,)),
}
