"""Pack voltage through an isolation amplifier or an isolated converter module."""

from collections.abc import Mapping

from analysis.model.number_format import ohm_text
from bench.wording.face import Face, Values, Words
from bench.wording.senders.fields import stated_name
from bench.wording.senders.shared import off_text

TITLE = "pack voltage through an isolation amplifier or isolated module"
EQUATION = "V = (V_pin - zero) / gain * (top + bottom') / bottom', bottom' = bottom || input"
WIRING = ("pack + -> fuse -> top resistor (several in series) -> amplifier's input -> bottom "
          "resistor -> pack - through a fuse; amplifier's input side from its own isolated supply; "
          "output side: board's supply, ground and input, nothing of the pack")
# What its stated values are called in the window.
LABELS = {
    "input_limit_volts": "Most the amplifier takes in (0: not stated), V",
}


def _gain(v: Values, face: Face) -> str:
    load = "" if v["load_ohms"] is None else (
        f"; or the amplifier's input loads the divider with {ohm_text(v['load_ohms'])}: see "
        f"{stated_name('input_ohms', face)}")
    return (f"its gain is {v['gain']:.4g}, not {v['stated']:g}, if the divider is as stated"
            f"{load}")


WORDS: Mapping[str, str | Words] = {
    "amplifier at its most":
        "{highest_volts:g} V puts {into_volts:.4g} V on the amplifier's input and {pin_volts:.4g} "
        "V on the board's",
    "take the zero of the taps":
        "take one point with both leads off the pack and joined to each other: that is the zero",
    "input of the amplifier not stated":
        "the amplifier's input resistance is not stated: one of a few kohm loads the divider, so "
        "state [input_ohms] from its data sheet",
    "inputs of the amplifier turned round":
        "the reading falls as the meter rises: swap the amplifier's inputs, or state a negative "
        "gain",
    "another gain of the amplifier": _gain,
    "zero of the amplifier is off": lambda v, face: (
        f"its zero is off by {off_text(v['off_volts'])} at the board's input, "
        f"{v['line_volts']:+.3g} V on the line: state {stated_name('zero_volts', face)} as "
        f"{v['zero_volts']:.4g} V, or look for a ground difference between board and amplifier"),
    "gain and divider as stated": "gain and divider are as stated (± {percent:.2g} %)",
}
