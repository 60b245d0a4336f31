"""A platinum thermometer (IEC 60751)."""

from collections.abc import Mapping

from bench.wording.face import Face, Values, Words
from bench.wording.senders.fields import stated_name

TITLE = "platinum thermometer (Pt100, Pt1000)"
EQUATION = "R = R0 (1 + A t + B t^2 + C (t - 100) t^3 below 0 C), IEC 60751"
WIRING = ("supply -> known resistor -> board's input -> platinum -> sensor ground; both leads "
          "short and thick, for with two wires their ohms add: 0.385 ohm is 1 K of a Pt100")
# What its stated values are called in the window.
LABELS = {
    "r0_ohms": "Resistance at 0 °C, Ω",
}


def _another(v: Values, face: Face) -> str:
    seen = f"its resistance is {v['times']:.3g} times what was stated"
    if v["stated"] is None:
        return f"{seen}, as of a Pt{v['r0_ohms']:g}"
    return f"{seen}: it is a Pt{v['r0_ohms']:g}, not a Pt{v['stated']:g}"


WORDS: Mapping[str, str | Words] = {
    "its own current warms the platinum":
        "{milliamps:.3g} mA warms it; 1 mA for a Pt100 and 0.3 mA for a Pt1000 are usual: use a "
        "larger known resistor",
    "volts of a kelvin": lambda v, face: f"1 K is {1e3 * v['volts']:.3g} mV at the input",
    "resistance of another platinum": _another,
    "leads of the platinum count":
        "{extra_ohms:.3g} ohm too many at every temperature, {kelvin:+.2g} K: the leads and plugs; "
        "state [lead_ohms], or use three wires",
    "platinum is off everywhere": lambda v, face: (
        f"it reads {abs(v['too_much_kelvin']):.3g} K too "
        f"{'high' if v['too_much_kelvin'] > 0 else 'low'}: check the known resistor and "
        f"{stated_name('lead_ohms', face)}"),
    "degrees of another size":
        "one degree reads as {one_degree_shows:.4g}: the known resistor is not {known_ohms:g} ohm, "
        "or the supply not {supply_volts:g} V",
    "platinum as stated": "a Pt{r0_ohms:g} by IEC 60751, offset {offset_kelvin:+.2g} K",
}
