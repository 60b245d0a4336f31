"""How far a track is off its target while the potentiometer is being turned.

    degrees = |level - target| / supply * electrical angle

for a linear element across the whole supply; the level is the median of the readings given, its
scatter half the width between the 15.87 % and 84.13 % points (one standard deviation of a normal
distribution, but blind to single spikes).
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter, SweepTooShort
from analysis.model.recording import Array

# A target nearer than this share of the supply is met (the remedies use the same).
MET = 0.001
# Noise scatters readings by less than this share of the supply; a pedal or shaft on the move by
# more (common practice, no source).
STEADY = 0.01


@dataclass(frozen=True)
class Nulling:
    """Hold how far off a track is.

    off_volts: level minus target. degrees: what to turn, never negative. way: "falls" or
    "rises", what the reading must do; "" when met. scatter_volts: of single readings. steady:
    False while they scatter so that something moves.
    """

    level_volts: float
    target_volts: float
    off_volts: float
    degrees: float
    way: str
    scatter_volts: float
    steady: bool = True

    @property
    def met(self) -> bool:
        """Say whether the level is as near to the target as matters."""
        return self.way == ""


def nulling(volts: Array, target_volts: float, nominal_volts: float,
            electrical_angle_degrees: float, step_volts: float = 0.0) -> Nulling:
    """Return how far the latest readings are off a target.

    volts: shape (n,), stated at nominal supply, the last fraction of a second; NaN left out.
    step_volts: one converter step; nearer than that nothing can be seen.
    Raises SweepTooShort without a reading, BadParameter on a supply or angle not above 0.
    """
    if not (nominal_volts > 0 and electrical_angle_degrees > 0):
        raise BadParameter(
            "supply or angle not above 0", supply_volts=nominal_volts,
            electrical_angle_degrees=electrical_angle_degrees)
    seen = volts[np.isfinite(volts)]
    if not seen.size:
        raise SweepTooShort("no reading yet")
    low, level, high = (float(v) for v in np.percentile(seen, (15.87, 50.0, 84.13)))
    off = level - target_volts
    met = abs(off) <= max(MET * nominal_volts, step_volts)
    return Nulling(level, target_volts, off,
                   abs(off) / nominal_volts * electrical_angle_degrees,
                   "" if met else "falls" if off > 0 else "rises", (high - low) / 2,
                   (high - low) / 2 <= max(STEADY * nominal_volts, step_volts))
