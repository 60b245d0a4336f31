"""The proximity line of a charge port (SAE J1772)."""

from collections.abc import Mapping

from bench.wording.face import Words

TITLE = "charge port, proximity line (SAE J1772)"
EQUATION = "V = supply * R / (pullup + R), R = vehicle || plug"
WIRING = "proximity pin -> board's input; pin's ground -> board's ground; nothing else"
# What its stated values are called in the window.
LABELS = {
    "pullup_ohms": "Pull-up to the supply, Ω",
    "vehicle_ohms": "Resistor in the vehicle, Ω",
}
# Of a level that is no state.
WRONG = {
    "no resistor in the vehicle": "no {vehicle_ohms:g} ohm to ground in the vehicle",
    "between the states":
        "between the states: corroded contact, or a plug of another standard",
}
WORDS: Mapping[str, str | Words] = {
    "levels of the proximity line": lambda v, face: "; ".join(
        f"{state} {volts:.2f} V" for state, volts in v["states"]),
    "level of the proximity line": lambda v, face: (
        f"{v['volts']:.3g} V: " + str(WRONG.get(v["state"], v["state"])).format(**v)),
}
