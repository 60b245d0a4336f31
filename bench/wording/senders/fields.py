"""What each stated value of a sender is called in the window, with its unit.

Keyed by the name of the field of `analysis.senders`; a value of a new kind has its own name,
written with spaces, until its words stand here.
"""

import re

from bench.wording.face import Face

LABELS = {
    "pin_limit_volts": "Most the board's input may get, V",
    "top_ohms": "Top resistor (line to input), Ω",
    "bottom_ohms": "Bottom resistor (input to ground), Ω",
    "highest_volts": "Most the line will ever carry, V",
    "input_ohms": "Board's input against ground, Ω",
    "other_ratios": "Other taps there are, 1 to …",
    "known_ohms": "Known resistor, Ω",
    "supply_volts": "Supply of the sender, V",
    "to_ground": "Sender goes to ground (yes or no)",
    "lead_ohms": "Leads there and back, Ω",
    "full_ohms": "Rheostat, end to end, Ω",
    "beta_kelvin": "Beta of the thermistor, K",
    "rated_amps": "Rated current, A",
    "span_volts": "Output at rated current, above zero, V",
    "zero_volts": "Output at no current, V",
    "rated_millivolts": "Shunt at rated current, mV",
    "gain": "Gain of its amplifier, times",
    "highest_amps": "Most current that will flow, A",
    "continuous_amps": "Most current that lasts, A",
    "pullup_ohms": "Pull-up to the supply, Ω",
    "vehicle_ohms": "Resistor in the vehicle, Ω",
    "series_ohms": "Resistor in line with the pilot, Ω",
    "lift_ohms": "Resistor that lifts the input to the supply, Ω",
    "ground_ohms": "Resistor from the input to ground, Ω",
    "duty_percent": "Duty of the pilot, % (0: not measured)",
    "gauge_ohms": "The gauge itself, Ω",
    "gauge_volts": "Supply of the gauge, V",
    "input_limit_volts": "Most the amplifier takes in (0: not stated), V",
    "hertz": "Frequency as your own meter shows it, Hz (0: not measured)",
    "pulses_per_turn": "Pulses for one turn of the shaft",
    "gear_ratio": "Turns of that shaft for one turn of the wheel",
    "tyre": "Tyre, as on its side (185/65R15)",
    "circumference_metres": "Way of one turn of the wheel, m (in place of the tyre)",
    "channel_holds": "What the channel holds: pulses, hertz or count",
    "count_size": "Where a count starts again from 0 (0: never)",
    "meter_shows": "Speed that your meter or receiver showed (0: none)",
    "low_value": "Quantity at the low end",
    "high_value": "Quantity at the high end",
    "low_volts": "Output at the low end, V",
    "high_volts": "Output at the high end, V",
    "sense_ohms": "Sense resistor of the loop, Ω",
    "r0_ohms": "Resistance at 0 °C, Ω",
    "r25_ohms": "Resistance at 25 °C, Ω",
}
_TO_WRITE = {"number": "write a number, with k or M behind it if you like",
             "yes or no": "write yes or no"}
_STATED = re.compile(r"\[(\w+)\]")
METER_LIMITS = "Meter may be off by (its leaflet)"
TOLERANCE = "Deviation you allow"


def stated_label(name: str) -> str:
    """Return what a person calls a stated value, with its unit."""
    return LABELS.get(name, name.replace("_", " ").capitalize())


def stated_name(name: str, face: Face) -> str:
    """Return what a face calls a stated value within a sentence: its name, or its label."""
    if face.kind == "terminal":
        return name
    return f"“{stated_label(name).rsplit(',', 1)[0]}”"


def named(words: str, face: Face) -> str:
    """Return words with the face's own name for each stated value in square brackets."""
    return _STATED.sub(lambda name: stated_name(name[1], face), words)


def not_written(name: str, text: str, kind: str, face: Face) -> str:
    """Return that what was written for a stated value is no number, or neither yes nor no."""
    return f"{stated_name(name, face)} is {text!r}; {_TO_WRITE[kind]}"
