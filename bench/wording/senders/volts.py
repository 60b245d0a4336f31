"""A sender with a standard output of 0-5 V (0.5-4.5 V, 1-5 V, 0-10 V)."""

from collections.abc import Mapping

from analysis.model.number_format import in_span
from bench.wording.face import Words

TITLE = "sender with 0-5 V output (or 0.5-4.5 V, 1-5 V)"
EQUATION = "q = low_value + (V - low_volts) (high_value - low_value) / (high_volts - low_volts)"
WIRING = ("sender's supply and ground from the board's own; output -> board's input; with a 10 V "
          "output a 1:2 divider in between")
# What its stated values are called in the window.
LABELS = {
    "low_volts": "Output at the low end, V",
    "high_volts": "Output at the high end, V",
}



def ends(low: float, high: float) -> str:
    """Return both ends of a range, to three digits of the span between them."""
    span = abs(high - low)
    return f"{in_span(low, span)} to {in_span(high, span)}"


WORDS: Mapping[str, str | Words] = {
    "ends of the range exchanged":
        "the reading falls as the meter rises: swap [low_value] and [high_value]",
    "range as stated": lambda v, face: (
        f"{v['low_value']:g} to {v['high_value']:g} is {ends(v['low_volts'], v['high_volts'])} V, "
        "as stated"),
    "another common range":
        "its range is {low_volts:g} to {high_volts:g} V, not {stated_low_volts:g} to "
        "{stated_high_volts:g} V",
    "ground carries current or its zero":
        "current in the ground lead, or the sender's zero",
    "another range": lambda v, face: (
        f"its range is {ends(v['low_volts'], v['high_volts'])} V, not {v['stated_low_volts']:g} to "
        f"{v['stated_high_volts']:g} V: state that"),
}
