"""The unit that a column's heading states: it wins over any guess and any option."""

import re

VOLTS = {"v": "V", "volt": "V", "volts": "V", "mv": "mV", "millivolt": "mV",
         "millivolts": "mV", "counts": "counts", "count": "counts", "raw": "counts",
         "lsb": "counts", "adc": "counts"}
# Units of readings that are no volts of a track: told by name, never taken for volts.
FOREIGN = frozenset({
    "%", "pct", "percent", "ma", "amps", "ampere", "amperes", "ohm", "ohms", "kohm", "ω",
    "kω", "°c", "degc", "celsius", "°f", "degf", "fahrenheit", "kelvin", "rpm", "1/min", "km/h",
    "kmh", "mph", "bar", "mbar", "kpa", "psi", "deg", "°", "degree", "degrees", "nm", "kw", "hz",
    "khz", "mm", "uv", "µv", "μv", "kv"})
# Letters that are units only inside brackets: elsewhere they are names.
_IN_BRACKETS = frozenset({"a", "c", "f", "g", "k", "w"})
# A unit is short; the rest of a long heading is not looked at.
_TAIL = 64


def heading_unit(name: str, unit_row: str = "") -> str:
    """Return what a heading states, in lower case: "mv", "%", "" when it states none."""
    below = unit_row.strip("()[]{} \"").lower()
    if below in VOLTS or below in FOREIGN or below in _IN_BRACKETS:
        return below
    tail = name.strip()[-_TAIL:]
    match = re.search(r"[(\[{]\s*([^()\[\]{}]{1,20}?)\s*[)\]}]$", tail)
    if match:
        told = match[1].lower()
        return told if told in VOLTS or told in FOREIGN or told in _IN_BRACKETS else ""
    match = re.search(r"[\s_/,.-]([^\s_,.()\[\]{}-]{1,20})$", tail) or re.search(
        r"[^\s%](%)$", tail)
    told = match[1].lower() if match else ""
    return told if told in FOREIGN or (told in VOLTS and told not in ("raw", "adc")) else ""
