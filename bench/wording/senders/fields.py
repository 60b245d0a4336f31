"""What each stated value of a sender is called in the window, with its unit.

Keyed by the name of the field of `analysis.senders`; one without a label has its own name, written
with spaces.
"""

import re
from functools import cache

from bench.wording.face import Face

# Of several kinds; a value of one kind has its label in KIND.py.
LABELS = {
    "pin_limit_volts": "Most the board's input may get, V",
    "top_ohms": "Top resistor (line to input), Ω",
    "bottom_ohms": "Bottom resistor (input to ground), Ω",
    "highest_volts": "Most the line will ever carry, V",
    "input_ohms": "Board's input against ground, Ω",
    "known_ohms": "Known resistor, Ω",
    "supply_volts": "Supply of the sender, V",
    "to_ground": "Sender goes to ground (yes or no)",
    "lead_ohms": "Leads there and back, Ω",
    "rated_amps": "Rated current, A",
    "zero_volts": "Output at no current, V",
    "gain": "Gain of its amplifier, times",
    "hertz": "Frequency as your own meter shows it, Hz (0: not measured)",
    "low_value": "Quantity at the low end",
    "high_value": "Quantity at the high end",
}
_TO_WRITE = {"number": "write a number, with k or M behind it if you like",
             "yes or no": "write yes or no"}
_STATED = re.compile(r"\[(\w+)\]")
METER_LIMITS = "Meter may be off by (its leaflet)"
TOLERANCE = "Deviation you allow"


@cache
def labels() -> dict[str, str]:
    """Return the label of every stated value that has one, those of one kind too."""
    # The kinds' modules call `stated_name` in their sentences, so they are imported late.
    from bench.wording.senders import labels_of_kinds

    return {**LABELS, **labels_of_kinds()}


def stated_label(name: str) -> str:
    """Return what a person calls a stated value, with its unit."""
    return labels().get(name, name.replace("_", " ").capitalize())


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
