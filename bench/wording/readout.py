"""The line under a crosshair: time, volts of every track, travel, and what the figure shows."""

import math
from collections.abc import Mapping

_UNITS = {"mismatch": ("mismatch", "%", 2), "play": ("way in less way back", "%", 2)}


def readout_line(time_s: float, volts: Mapping[str, float], travel_percent: Mapping[str, float],
                 values: Mapping[str, float], number: int = 0) -> str:
    """Return "12.31 s · a 0.750 V (1.2 %) · b 0.909 V (1.3 %)"; what was not read is said so.

    volts, travel_percent: by track; values: as `bench.plots.readout.Reading` has them. number: of
    a return, 0 for none.
    """
    said = [f"return {number}"] if number else []
    if math.isfinite(time_s):
        said.append(f"{time_s:.2f} s")
    for track, level in volts.items():
        travel = travel_percent.get(track, math.nan)
        share = f" ({travel:z.1f} % of travel)" if math.isfinite(travel) else ""
        said.append(f"{track} {level:.3f} V{share}" if math.isfinite(level) else
                    f"{track} no reading")
    for name, value in values.items():
        words, unit, digits = _UNITS.get(name, (name, "mV", 2))
        if math.isfinite(value):
            said.append(f"{words} {value:z.{digits}f} {unit}")
    return "  ·  ".join(said)
