"""The pilot line of a charge port (SAE J1772)."""

from collections.abc import Mapping

from analysis.senders.charge_port import PILOT_VOLTS
from bench.wording.face import Face, Values, Words
from bench.wording.senders.fields import stated_name

TITLE = "charge port, pilot line (SAE J1772)"
EQUATION = ("pilot = V_pin * ratio - lift, ratio = 1 + series/lift + series/ground, lift = supply "
            "* series/lift; the state is the high level, the offer its duty")
WIRING = ("pilot pin -> series resistor (100 kohm) -> board's input; 39 kohm from input to the "
          "supply and 68 kohm to ground, so that -12 to +12 V becomes 0.2 to 4.9 V")
# What its stated values are called in the window.
LABELS = {
    "series_ohms": "Resistor in line with the pilot, Ω",
    "lift_ohms": "Resistor that lifts the input to the supply, Ω",
    "ground_ohms": "Resistor from the input to ground, Ω",
    "duty_percent": "Duty of the pilot, % (0: not measured)",
}


def _offer(amps: float, digital: bool) -> str:
    if digital:
        return ("digital communication sets the current (it is no 3 A); without it there is no "
                "charging")
    return f"at most {amps:.3g} A" if amps else "no charging allowed"


def _state(v: Values) -> str:
    return f"state {v['state']}" if v["state"] in PILOT_VOLTS else str(v["state"])


def _typed(v: Values, face: Face) -> str:
    checked = "" if v["checked"] else (
        f" (1000 Hz would say that it is a pilot: type {stated_name('hertz', face)} too)")
    return f"duty {v['duty_percent']:g} %: {_offer(v['amps'], v['digital'])}{checked}"


def _measured(v: Values) -> str:
    return (f"duty {v['duty_percent']:.1f} ± {v['half_width']:.1f} % (95 %), {v['hertz']:.1f} Hz: ")


WORDS: Mapping[str, str | Words] = {
    "pilot is a square wave":
        "the pilot is a 1 kHz square wave while it offers current: the state is its high level, "
        "which a mean of readings does not show",
    "duty not stated":
        "its duty (share of the time that it is high) gives the current on offer: state "
        "[duty_percent] as a scope or a meter with a duty range shows it",
    "duty offers": lambda v, face: (
        f"duty {v['duty_percent']:g} %: {_offer(v['amps'], v['digital'])}"),
    "typed duty offers": _typed,
    "level of the pilot": lambda v, face: f"{v['volts']:.3g} V: {_state(v)}",
    "high level of the pilot": lambda v, face: f"high level {v['volts']:.3g} V: {_state(v)}",
    "too few readings for a level": "too few readings to tell a level; record for longer",
    "pilot stands still": lambda v, face: (
        "no square wave, the level stands still: no charging allowed"
        + ("; slow readings may have met one level only, so record once more" if v["slow"]
           else "")),
    "too slow for the pilot":
        "offer open: {rate_hz:.4g} readings a second are too slow for the pilot's 1000 Hz: 4000 "
        "show only duties near 50 %, {rate_for_all_hz:.0f} show all; or type what a meter with a "
        "duty range shows ([duty_percent], [hertz])",
    "too slow for this duty":
        "offer open: one of its levels lasts less than two of these {rate_hz:.4g} readings a "
        "second; {rate_for_all_hz:.0f} show every duty",
    "pulses of the pilot too few or uneven":
        "offer open: too few or uneven pulses; record a second or more in which nothing is plugged "
        "or switched",
    "duty near a bound": lambda v, face: (
        f"{_measured(v)}either {_offer(v['amps'], v['digital'])}, or "
        f"{_offer(v['or_amps'], v['or_digital'])}: it lies too near a bound of the table; read "
        "faster"),
    "measured duty offers": lambda v, face: (
        f"{_measured(v)}{_offer(v['amps'], v['digital'])}"),
    "low level of the pilot":
        "the low level is {volts:.3g} V, not {usual_volts:g} V: the vehicle's diode is shorted or "
        "missing, or the three resistors are not as stated",
    "frequency of no pilot":
        "{hertz:.4g} Hz is no pilot (1000 Hz): its duty offers nothing",
}
