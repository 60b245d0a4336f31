"""A two-wire rheostat, such as a 0-5 kohm or 5-0 kohm throttle or a level sender."""

from collections.abc import Mapping

from bench.wording.face import Face, Values, Words
from bench.wording.senders.fields import stated_name

TITLE = "two-wire rheostat"
EQUATION = "R = known * v / (supply - v): read as volts it is not straight, as ohms it is"
WIRING = ("supply -> known resistor -> board's input -> rheostat's wiper; one end of the rheostat "
          "to ground, the other end left open or joined to the wiper")
# What its stated values are called in the window.
LABELS = {
    "full_ohms": "Rheostat, end to end, Ω",
}


def _ohms(v: Values, face: Face) -> str:
    ohms, leads = v["too_many_ohms"], stated_name("lead_ohms", face)
    if ohms > 0:
        return (f"it reads {ohms:.3g} ohm too high everywhere: leads, plug or a worn contact; "
                f"state {leads}")
    return (f"it reads {-ohms:.3g} ohm too low everywhere: {leads} is stated too large, or the "
            "meter's own leads are in its reading")


WORDS: Mapping[str, str | Words] = {
    "share of the supply": lambda v, face: (
        f"0 to {v['full_ohms']:g} ohm is {v['percent']:.0f} % of the supply"
        + (f"; a known resistor nearer to {stated_name('full_ohms', face)} would use more"
           if v["little"] else "")),
    "measured from the other end":
        "it falls as the meter rises: meter and board measure from opposite ends (0-5 k and 5-0 "
        "k), or [to_ground] is stated the wrong way",
    "another known resistor":
        "1 ohm reads as {one_ohm_shows:.3g}: the known resistor is about {known_ohms:.4g} ohm, not "
        "{stated:g}, if the supply is {supply_volts:g} V",
    "ohms too many or few": _ohms,
    "more than its full ohms":
        "it reached {highest_ohms:.4g} ohm, stated {stated:g}: perhaps a {perhaps_ohms:g} ohm "
        "part",
}
