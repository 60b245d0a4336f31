"""The budget of what can lift a rest reading, and the dead band that covers it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class BudgetItem:
    """Hold one line of the budget: so many volts towards pressed, and on what ground.

    basis: "measured", "assumed" or "stated" (by the user or a standard).
    """

    name: str
    volts: float
    basis: str
    why: str


@dataclass(frozen=True)
class DeadBand:
    """Hold the dead band of one track; volts at nominal supply, budget positive towards pressed.

    release_volts: the rest reading stays on the rest side of this level, so power always ends.
    start_of_travel_volts: beyond it the pedal counts as pressed; hysteresis lies between.
    lost_travel_percent: (start of travel - rest) / span.
    risk: chance, at most, that any of `key_ons` later key-ons passes start of travel.
    false_per_1000_h: expected noise crossings of start of travel per 1000 key-on hours, at most.
    weak: None, or one sentence on why the data do not carry the promise.
    """

    column: str
    rest_volts: float
    items: tuple[BudgetItem, ...]
    total_volts: float
    release_volts: float
    start_of_travel_volts: float
    lost_travel_percent: float
    confidence: float
    risk: float
    key_ons: int
    key_on_hours: float
    false_per_1000_h: float
    weak: str | None
