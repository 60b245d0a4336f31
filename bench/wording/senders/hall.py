"""A Hall current sensor with a voltage output around a zero of its own."""

from collections.abc import Mapping

from bench.wording.face import Face, Values, Words
from bench.wording.senders.fields import stated_name
from bench.wording.senders.shared import off_text

TITLE = "Hall current sensor"
EQUATION = "I = (V_pin - V_zero) / V_span * rated amperes"
WIRING = ("main lead through the sensor's window, arrow towards the load; sensor's 5 V and ground "
          "from the board; its output -> board's input")
# What its stated values are called in the window.
LABELS = {
    "span_volts": "Output at rated current, above zero, V",
}


def _rating(v: Values, face: Face) -> str:
    through = "" if v["turns"] is None else (
        f", or the lead passes {v['turns']} times through its window")
    return (f"it reads like a sensor of {v['rated_amps']:.4g} A, not {v['stated']:g} A{through}: "
            "state that")


WORDS: Mapping[str, str | Words] = {
    "sensor turned round":
        "the reading falls as the meter's current rises: turn the sensor round, or state a "
        "negative [span_volts]",
    "another rating": _rating,
    "zero of the sensor is off": lambda v, face: (
        f"its zero is off by {off_text(v['off_volts'])} at the input, {v['amps']:+.3g} A: read "
        "it again with no current (the core may have stayed magnetised), then state "
        f"{stated_name('zero_volts', face)} as {v['zero_volts']:.4g} V"),
    "sensor as stated":
        "{rated_amps:g} A for {span_volts:g} V around {zero_volts:g} V, as stated",
}
