"""Rounding that errs on the safe side."""

import math


def safely_rounded(value: float, places: int, side: str) -> float:
    """Return the value with so many decimals, rounded to a setting's safe side.

    side: "up", "down" or "nearest", as Setting.safe_side. Start of travel and release go away from
    rest, full travel towards it, fault limits towards a sound pedal's readings, so a broken
    wire is never missed for a rounding.
    """
    if not math.isfinite(value):
        return value
    scaled = value * 10.0**places
    # Without this, 0.6 V in mV = 600.0000000000001 would be rounded up to 601.
    hair = 1e-9 * max(1.0, abs(scaled))
    whole = {"up": math.ceil(scaled - hair), "down": math.floor(scaled + hair),
             "nearest": math.floor(scaled + 0.5)}[side]
    return float(whole if places == 0 else whole / 10.0**places)
