"""A current shunt read through an amplifier."""

from collections.abc import Mapping

from bench.wording.face import Face, Values, Words

TITLE = "current shunt through an amplifier"
EQUATION = "I = (V_pin - V_zero) / gain / R, R = rated millivolts / rated amperes"
WIRING = ("shunt in the negative main lead; two thin twisted sense wires from its small screws, "
          "fused at the shunt, to the amplifier; amplifier's output -> board's input")
# What its stated values are called in the window.
LABELS = {
    "rated_millivolts": "Shunt at rated current, mV",
    "highest_amps": "Most current that will flow, A",
    "continuous_amps": "Most current that lasts, A",
}


def _shows(v: Values) -> str:
    return f"it shows {v['times']:.4g} times the true current" if v["times"] else "it shows none"


def _another(v: Values, face: Face) -> str:
    also = "" if v["gain"] is None else (
        f"; an amplifier gain of {v['gain']:g} instead of {v['stated_gain']:g} would do the same")
    named = " or ".join(f"{amps:g} A/{millivolts:g} mV" for amps, millivolts in v["shunts"])
    return (f"{_shows(v)}: set for {v['rated_amps']:g} A/{v['rated_millivolts']:g} mV, but the "
            f"shunt is {1e3 * v['ohms']:.4g} mohm, that is {named}{also}")


WORDS: Mapping[str, str | Words] = {
    "shunt at its rating": lambda v, face: (
        f"{1e3 * v['ohms']:.4g} mohm; {v['watts']:.3g} W at rating; continuously about "
        f"{v['continuous_amps']:.0f} A"),
    "shunt too small":
        "{amps:g} A continuously is more than two thirds of the rating ({continuous_amps:.0f} A): "
        "it will run hot and drift; take a larger shunt",
    "one sign of current only":
        "with [zero_volts] at 0 it cannot read reverse current (regeneration, charging)",
    "wires of the shunt exchanged":
        "the reading falls as the meter's current rises: swap the two sense wires, or state a "
        "negative gain",
    "another zero of the amplifier":
        "the amplifier's zero is {zero_volts:.4g} V, not {stated:g} V: read it with the pack off "
        "and state it",
    "shunt as stated": lambda v, face: (
        f"the shunt is as stated, {1e3 * v['ohms']:.4g} mohm (± {1e3 * v['half_width_ohms']:.2g})"),
    "another shunt": _another,
    "another gain before the shunt": lambda v, face: (
        f"{_shows(v)}: the amplifier's gain is {v['gain']:g}, not {v['stated_gain']:g}"),
    "no common shunt": lambda v, face: (
        f"{_shows(v)}: the shunt is {1e3 * v['ohms']:.4g} mohm, stated "
        f"{1e3 * v['stated_ohms']:.4g}; no common one is near: read what is stamped on it"),
}
