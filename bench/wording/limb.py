"""What works the pedal, in words: a foot presses a pedal, a hand opens a hand throttle.

A hand throttle may be a grip or a lever, so no word of it says turned or pulled where both may be.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from analysis.model.finding import USE
from analysis.model.pedal_kind import BY_HAND, USE_KEY


@dataclass(frozen=True)
class Limb:
    """Hold the words for one kind of limb.

    limb: what it is. thing: what it works. off: it lies at rest, as one says so. towards, away: of
    a reading. pressed: of the thing. a_pressed: the thing so, with its article. press, presses:
    once, several times; each_press: on every one of them. press_it: what one is told to do.
    lift_off: to let it come back by itself, quickly. power: what it asks the controller for. creep,
    would: what comes of it where nobody asked.
    """

    limb: str
    thing: str
    off: str
    towards: str
    away: str
    pressed: str
    a_pressed: str
    press: str
    presses: str
    pressing: str
    press_it: str
    press_right: str
    lift_off: str
    power: str = "power"
    creep: str = "creep"
    would: str = "the car would creep"

    @property
    def by_foot(self) -> bool:
        """Return whether a foot works it."""
        return self.limb == "foot"

    @property
    def verb(self) -> str:
        """Return what one does to it, in a chain of things to do."""
        return "press" if self.by_foot else "open it"

    @property
    def let_be(self) -> str:
        """Return that nobody is on it, as a sentence of its own opens."""
        return f"{self.limb.capitalize()} off"

    @property
    def rests_off(self) -> str:
        """Return that nobody is on it, as a sentence."""
        return f"{self.off.capitalize()}."

    def times(self, count: int) -> str:
        """Return "1 press", "3 presses"."""
        return f"{count} {self.press if count == 1 else self.presses}"


FOOT = Limb(
    "foot", "pedal", "foot off the pedal", "towards pressed", "from pressed", "pressed",
    "a pressed pedal", "press", "presses", "pressing", "press the pedal", "press right down",
    "lift-off")
HAND = Limb(
    "hand", "throttle", "hand off the throttle", "towards full travel", "from full travel",
    "opened", "an opened throttle", "opening", "openings", "opening", "open the throttle",
    "open it right up", "release")

# Both brake: a foot on their pedal asks for braking, and no car creeps by them.
BRAKE = replace(FOOT, power="braking", creep="dragging", would="the brake would drag")
REGENERATION = replace(BRAKE, creep="unasked braking", would="the motor would brake")


def worked(v: Mapping[str, Any]) -> Limb:
    """Return the words for what a sentence with these values is said of.

    v: values of a finding or a reason, or what a header says of the pedal.
    """
    return limb_of(v.get(USE, v.get(USE_KEY)))


def limb_of(use: object) -> Limb:
    """Return the words for a pedal of that use."""
    return {BY_HAND: HAND, "brake": BRAKE, "regeneration": REGENERATION}.get(str(use), FOOT)


def code_words(code: str, of: Limb) -> str:
    """Return a code as it stands beside a claim: a hand throttle's sheets speak of no foot."""
    if of.power != "power" and code == "power in the log":
        return f"{of.power} in the log"
    return _CODES_BY_HAND.get(code, code) if of is HAND else code


_CODES_BY_HAND = {
    "foot not stated": "hand not stated", "electrical, not a foot": "electrical, not a hand",
    "foot at rest": "hand at rest", "no lift-off": "no quick release",
    "no held full press": "never held at full travel",
    "direction changed while pressed": "direction changed while opened",
}
