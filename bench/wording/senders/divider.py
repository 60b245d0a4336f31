"""A divider of two resistors on a pack or a 12 V line."""

from collections.abc import Mapping

from analysis.model.number_format import ohm_text
from bench.wording.face import Face, Values, Words
from bench.wording.senders.fields import stated_name

TITLE = "divider on the pack or a 12 V line"
EQUATION = "V = V_pin * (top + bottom') / bottom', bottom' = bottom || input"
WIRING = ("line -> fuse -> top resistor -> board's input -> bottom resistor -> ground; a clamp "
          "(Zener) across the bottom, since an open bottom puts the whole line on the input")
# What its stated values are called in the window.
LABELS = {
    "other_ratios": "Other taps there are, 1 to …",
}


def _another(v: Values, face: Face) -> str:
    why = ("top and bottom are swapped" if v["exchanged"] else
           "it is on another tap, or the wrong one is stated")
    return (f"it divides by {v['ratio']:.4g}, like 1:{v['as_ratio']:g}, not by the stated "
            f"{v['stated']:.4g}: {why}")


WORDS: Mapping[str, str | Words] = {
    "divider at its most":
        "1:{ratio:.4g}; {highest_volts:g} V puts {pin_volts:.4g} V on the input and draws "
        "{milliamps:.3g} mA; the top resistor takes {watts:.3g} W",
    "top resistor of several in series":
        "the top resistor sees {volts:.4g} V: use {count} in series, for a small one stands about "
        "{each_volts:g} V",
    "input needs a capacitor": lambda v, face: (
        f"the input's source is {ohm_text(v['source_ohms'])}: put 100 nF from input to ground, or "
        "a sampling input reads low"),
    "grounds differ or a diode": "a ground difference, or a diode in the line",
    "leads of divider or meter turned round":
        "the reading falls as the meter rises: swap the leads of the meter or of the divider",
    "ratio as stated":
        "the ratio is 1:{ratio:.4g} (± {half_width:.2g}), stated 1:{stated:.4g}",
    "divides by another ratio": _another,
    "divider is loaded": lambda v, face: (
        f"it divides by {v['ratio']:.4g}, not {v['stated']:.4g}: about {ohm_text(v['load_ohms'])} "
        "loads it, as an input does; use smaller resistors or state "
        f"{stated_name('input_ohms', face)}"),
    "divides by no common ratio":
        "it divides by {ratio:.4g}, stated {stated:.4g}; no common ratio is near: measure both "
        "resistors",
}
