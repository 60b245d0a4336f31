"""A 4-20 mA sender."""

from collections.abc import Mapping

from analysis.model.number_format import in_span
from bench.wording.face import Face, Values, Words
from bench.wording.senders.fields import stated_name
from bench.wording.senders.volts import ends

TITLE = "4-20 mA sender"
EQUATION = "I = V / sense; q = low_value + (I - 4 mA) (high_value - low_value) / 16 mA"
WIRING = ("loop supply -> sender -> board's input and sense resistor -> ground; 250 ohm makes 1-5 "
          "V, 165 ohm fits a 3.3 V input")
# What its stated values are called in the window.
LABELS = {
    "sense_ohms": "Sense resistor of the loop, Ω",
}


def _resistor(v: Values, face: Face) -> str:
    part = "" if v["perhaps_ohms"] is None else f" (a {v['perhaps_ohms']:g} ohm one)"
    return f"the sense resistor is {v['sense_ohms']:.4g} ohm{part}, not {v['stated']:g}"


def _range(v: Values, face: Face) -> str:
    low, high = v["low_milliamps"], v["high_milliamps"]
    span = abs(high - low)
    return (f"its ends lie at {in_span(low, span)} and {in_span(high, span)} mA, not at 4 and 20: "
            f"state {stated_name('low_value', face)} and {stated_name('high_value', face)} again")


WORDS: Mapping[str, str | Words] = {
    "fault current beyond the input":
        "a failed sender drives {milliamps:g} mA and puts {pin_volts:.3g} V on the input (limit "
        "{limit_volts:g} V): use a smaller sense resistor",
    "loop carries no current":
        "the loop carries no current: it is broken, or its leads are swapped",
    "loop as stated": lambda v, face: (
        f"{ends(v['low_milliamps'], v['high_milliamps'])} mA, as stated"),
    "sender of 0 to 20 mA": "it is a 0-20 mA sender, not 4-20 mA",
    "another sense resistor": _resistor,
    "loop of another range": _range,
}
