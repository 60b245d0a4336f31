"""Slips of the hand in a number that was typed from a meter."""

import itertools
import math

# A slip is only told when what was meant lies this much nearer than what was typed.
_NEARER = 0.34


def recognised(shown: float, expected: float, half_width: float,
               resolution: float) -> tuple[str, float]:
    """Return (kind of slip, what was meant) when one explains the difference, else ("", NaN).

    shown: as typed. expected: what the other points say, within half_width. resolution: one
    step of the meter's last place, 0 when not known. Kinds, the likeliest first: "decimal
    point", "sign", "digits exchanged", "Fahrenheit", "one digit".
    """
    if not (math.isfinite(shown) and math.isfinite(expected)):
        return "", math.nan
    room = min(half_width, _NEARER * abs(shown - expected))
    tens = [shown * 10.0**k for k in (-3, -2, -1, 1, 2, 3)]
    celsius = [(shown - 32.0) / 1.8]
    for kind, meant in (("decimal point", tens), ("sign", [-shown]),
                        ("digits exchanged", _exchanged(shown, resolution)),
                        ("Fahrenheit", celsius),
                        ("one digit", _one_digit(shown, resolution))):
        near = min(meant, key=lambda v: abs(v - expected), default=math.inf)
        if abs(near - expected) <= room:
            return kind, near
    return "", math.nan


_MOST_SHOWN, _MOST_PLACES = 1e12, 12


def _digits(shown: float, resolution: float) -> tuple[str, int]:
    """Return the digits as typed, without a point, and how many stand behind it."""
    if not abs(shown) < _MOST_SHOWN:
        return "", 0  # no display has so many digits
    places = min(_MOST_PLACES, max(0, round(-math.log10(resolution)))) if resolution > 0 else 4
    return f"{abs(shown):.{places}f}".replace(".", ""), places


def _exchanged(shown: float, resolution: float) -> list[float]:
    digits, places = _digits(shown, resolution)
    result = []
    for i, j in itertools.combinations(range(len(digits)), 2):
        if j - i <= 2 and digits[i] != digits[j]:
            cells = list(digits)
            cells[i], cells[j] = cells[j], cells[i]
            result.append(math.copysign(int("".join(cells)) / 10.0**places, shown))
    return result


def _one_digit(shown: float, resolution: float) -> list[float]:
    digits, places = _digits(shown, resolution)
    return [math.copysign(int(digits[:i] + d + digits[i + 1:]) / 10.0**places, shown)
            for i in range(len(digits)) for d in "0123456789" if d != digits[i]]
