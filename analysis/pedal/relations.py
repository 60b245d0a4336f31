"""How two tracks can be related: a row for each relation; the first that fits is theirs.

A relation with a law of its own has the words of that law in bench/wording/sweep.py.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

Relation = Literal["same slope", "half slope", "opposed slopes", "same slope with offset", "other"]
# What has to be asked of such a pair, unless the user gave targets: the code of the finding.
Asks = Literal["apart all along", "perhaps off at rest", "unusual relation"]


@dataclass(frozen=True)
class Row:
    """Hold one relation of track `second` = gain * `first` + offset.

    fits: of gain and offset (as a ratio to the supply), whether this is it.
    alike: one level does for both, so their rests can be held against each other.
    short_shows: a short between the two shows in their difference.
    asks: what has to be asked of such a pair, None for nothing.
    law: of gain, the first track's rest and the supply, both in volts: the word of the usual law
        by which the second track rests, and the volts it then rests at.
    """

    name: Relation
    fits: Callable[[float, float], bool]
    alike: bool = False
    short_shows: bool = True
    asks: Asks | None = None
    law: Callable[[float, float, float], tuple[str, float]] | None = None


def _half(gain: float, rest_volts: float, _supply_volts: float) -> tuple[str, float]:
    return ("half", rest_volts / 2.0) if abs(gain) < 1.0 else ("twice", 2.0 * rest_volts)


def _opposed(_gain: float, rest_volts: float, supply_volts: float) -> tuple[str, float]:
    return "opposed", supply_volts - rest_volts


# That a short does not show in the difference of like tracks is why the Formula SAE rules T.4.2 ask
# for different transfer functions.
RELATIONS = (
    Row("same slope", lambda gain, offset: abs(gain - 1) <= 0.1 and abs(offset) < 0.05,
        alike=True, short_shows=False),
    Row("same slope with offset", lambda gain, offset: abs(gain - 1) <= 0.1,
        short_shows=False, asks="apart all along"),
    Row("half slope", lambda gain, offset: abs(gain - 0.5) <= 0.05 or abs(gain - 2) <= 0.2,
        asks="perhaps off at rest", law=_half),
    Row("opposed slopes", lambda gain, offset: abs(gain + 1) <= 0.1,
        asks="perhaps off at rest", law=_opposed),
    Row("other", lambda gain, offset: True, asks="unusual relation"),
)


def relation_of(gain: float, offset_ratio: float) -> Relation:
    """Return the relation's name from gain and offset in ratios of supply."""
    return next(row.name for row in RELATIONS if row.fits(gain, offset_ratio))


def relation_named(name: Relation) -> Row:
    """Return the relation of that name."""
    return next(row for row in RELATIONS if row.name == name)
