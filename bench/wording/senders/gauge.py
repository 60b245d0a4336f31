"""A resistive sender whose dashboard gauge stays connected and feeds it."""

from collections.abc import Mapping

from analysis.model.number_format import ohm_text
from bench.wording.face import Words
from bench.wording.senders.fields import stated_name

TITLE = "resistive sender with its gauge (fuel, temperature, pressure)"
EQUATION = ("(gauge_volts - V) / gauge + (supply - V) / known = V / R + V / (top + bottom), V = "
            "V_pin (top + bottom) / bottom")
WIRING = ("sender's lead at the gauge -> top resistor -> board's input -> bottom resistor -> "
          "ground at the sender; the gauge stays connected, fused as it was; the gauge's own "
          "supply measured with the meter, or taken from its regulator")
# What its stated values are called in the window.
LABELS = {
    "gauge_ohms": "The gauge itself, Ω",
    "gauge_volts": "Supply of the gauge, V",
}
WORDS: Mapping[str, str | Words] = {
    "open lead of a gauge":
        "an open lead is at {open_volts:.3g} V ({open_pin_volts:.3g} V at the input); 100 ohm make "
        "{pin_volts:.3g} V at the input",
    "supply of the gauge moves it":
        "10 % more supply of the gauge reads {percent:.2g} % higher: if it follows the battery, "
        "take all points at one battery voltage, or feed the gauge from a regulator",
    "lead stands as with no sender":
        "the lead is at {volts:.3g} V, as with no sender: a broken lead or plug, or [gauge_volts] "
        "is stated too low",
    "lead stands at ground":
        "the lead is at ground: leads that touch, or a gauge without its supply",
    "another lead of the gauge":
        "it falls as the meter's ohms rise: another lead, or the sender feeds the gauge from the "
        "other end",
    "another gauge or supply": lambda v, face: (
        f"1 ohm reads as {v['one_ohm_shows']:.3g}: the gauge is about {ohm_text(v['gauge_ohms'])}, "
        f"not {ohm_text(v['stated_ohms'])}, or its supply about {v['gauge_volts']:.3g} V, not "
        f"{v['stated_volts']:g} V; measure both"),
    "ohms too many or few at a gauge": lambda v, face: (
        f"it reads {abs(v['too_many_ohms']):.3g} ohm too "
        f"{'high' if v['too_many_ohms'] > 0 else 'low'} everywhere: leads, plug or a poor ground; "
        f"see {stated_name('lead_ohms', face)}"),
}
