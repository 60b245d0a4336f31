"""How many digits of a number are worth telling, for every sentence that holds one.

An uncertainty is told with two significant digits and its value to the same place (JCGM
100:2008, 7.2.6); what rounds to nothing has no sign.
"""

import math

# More digits than this are the arithmetic's, not the measurement's.
_MOST_PLACES = 9
_LEAST_CHI = 0.001


def rounded_pair(value: float, uncertainty: float, signed: bool = False) -> tuple[str, str]:
    """Return value and uncertainty as text, both to the second digit of the uncertainty.

    Same unit, any finite value; signed: with "+" too. Without a usable uncertainty (0, NaN,
    infinite) the value is told with six significant digits.
    """
    places = _places(uncertainty, 2)
    if places is None or not math.isfinite(value):
        return _signless(f"{value:{'+' if signed else ''}.6g}"), f"{uncertainty:.2g}"
    return _fixed(value, places, signed), _fixed(uncertainty, places)


def in_span(value: float, span: float, digits: int = 3, signed: bool = False) -> str:
    """Return a value to as many digits of the span it lies in; both in the same unit."""
    places = _places(span, digits)
    if places is None or not math.isfinite(value):
        return _signless(f"{value:{'+' if signed else ''}.{digits}g}")
    return _fixed(value, places, signed)


def chi_text(chi_squared: float) -> str:
    """Return a chi-squared with three digits; next to nothing is told as such."""
    return f"below {_LEAST_CHI:g}" if chi_squared < _LEAST_CHI else f"{chi_squared:.3g}"


def small(value: float, unit: str, signed: bool = False, digits: int = 2) -> str:
    """Return a value with so many significant digits and its unit; volts below 0.1 V in mV."""
    if unit != "V" or not math.isfinite(value) or abs(value) >= 0.1:
        return f"{value:{'+' if signed else ''}.{digits}g} {unit}"
    places = _places(1e3 * value, digits)
    return f"{_fixed(1e3 * value, 0 if places is None else places, signed)} mV"


def ohm_text(ohms: float) -> str:
    """Return a resistance as it is written on a part: "790 kohm", "1.2 Mohm", "0.25 mohm"."""
    # Rounded first: 999.6 ohm are 1 kohm.
    ohms = float(f"{ohms:.3g}")
    for size, name in ((1e6, "Mohm"), (1e3, "kohm"), (1.0, "ohm")):
        if abs(ohms) >= size or (not ohms and size == 1.0):
            return f"{ohms / size:.6g} {name}"
    return f"{ohms * 1e3:.3g} mohm"


def _places(size: float, digits: int) -> int | None:
    """Return the decimal place, negative left of the point, of so many digits; None for none."""
    if not (math.isfinite(size) and size != 0):
        return None
    # Rounding may carry into one more digit: 0.0996 is 0.10.
    size = float(f"{abs(size):.{digits - 1}e}")
    places = digits - 1 - math.floor(math.log10(size) + 1e-12)
    return places if places <= _MOST_PLACES else None


def _fixed(value: float, places: int, signed: bool = False) -> str:
    sign = "+" if signed else ""
    return _signless(f"{round(value, places):{sign}.{max(0, places)}f}")


def _signless(text: str) -> str:
    return text.lstrip("+-") if float(text) == 0 else text
