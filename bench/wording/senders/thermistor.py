"""A thermistor (NTC)."""

from collections.abc import Mapping

from bench.wording.face import Face, Values, Words
from bench.wording.senders.fields import stated_name

TITLE = "thermistor (NTC)"
EQUATION = "R = known * v / (supply - v); 1/T = A + B ln R + C (ln R)^3, or by beta"
WIRING = ("supply -> known resistor -> board's input -> thermistor -> sensor ground; the known "
          "resistor about as large as the thermistor at the temperature that matters")
# What its stated values are called in the window.
LABELS = {
    "r25_ohms": "Resistance at 25 °C, Ω",
    "beta_kelvin": "Beta of the thermistor, K",
}


def _r25(v: Values, face: Face) -> str:
    part = "" if v["perhaps_ohms"] is None else f"a {v['perhaps_ohms']:g} ohm part, "
    return (f"it has {v['r25_ohms']:.4g} ohm at 25 C, stated {v['stated']:g}: {part}or the known "
            "resistor is not what was stated")


def _beta(v: Values, face: Face) -> str:
    doubt = "(from two points)" if v["half_width"] is None else f"(± {v['half_width']:.0f})"
    return (f"beta is {v['beta_kelvin']:.0f} K {doubt}, stated {v['stated']:g}; a common one near "
            f"it is {v['common_kelvin']:g}")


WORDS: Mapping[str, str | Words] = {
    "its own current warms the thermistor": lambda v, face: (
        f"its own current heats it with up to {1e3 * v['watts']:.2g} mW, about "
        f"{v['kelvin']:.1f} K in still air: use a larger known resistor"),
    "points too close for a beta":
        "the points span only {kelvin:.2g} K, too little to tell beta: take one in ice water or "
        "hot water",
    "resistance rises with temperature": lambda v, face: (
        "its resistance rises with temperature: it has changed places with the known resistor "
        f"({stated_name('to_ground', face)} is {'yes' if v['to_ground'] else 'no'}), or it is a "
        "PTC"),
    "another resistance at 25 C": _r25,
    "beta as stated": "beta is {beta_kelvin:.0f} K, stated {stated:g}",
    "another beta": _beta,
}
