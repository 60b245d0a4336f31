"""A resistance read as a voltage: a known resistor to a supply, the sender to ground, or reversed.

    sender to ground:  R = known * v / (supply - v)
    sender to supply:  R = known * (supply - v) / v
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.sender import Diagnosis, Sender, positive, refuse_pin

# Nearer than this share of the supply to a rail there is no resistance, but a fault.
_RAIL_SHARE = 0.02


@dataclass(frozen=True)
class Resistive(Sender):
    """Hold a resistive sender: the known resistor, its supply, and which side the sender is on.

    lead_ohms: of both leads together, taken off.
    """

    must_state = ("known_ohms",)

    known_ohms: float = 0.0
    supply_volts: float = 5.0
    to_ground: bool = True
    lead_ohms: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "known_ohms", "supply_volts")
        if not 0 <= self.lead_ohms < 1e6:
            raise BadParameter("stated value below 0", kind=self.kind, stated="lead_ohms",
                               value=self.lead_ohms)
        refuse_pin(self, self.supply_volts)

    def ohms(self, volts: Array) -> Array:
        """Return the sender's resistance, same shape; NaN at or beyond a rail."""
        v = np.asarray(volts, dtype=float)
        near, far = (v, self.supply_volts - v) if self.to_ground else (self.supply_volts - v, v)
        result: Array = np.full(v.shape, np.nan)
        np.divide(self.known_ohms * near, far, out=result, where=(near >= 0) & (far > 0))
        return result - self.lead_ohms

    def volts(self, ohms: Array) -> Array:
        """Return volts at the input for a resistance, same shape."""
        total = np.asarray(ohms, dtype=float) + self.lead_ohms
        share = total / (total + self.known_ohms)
        result: Array = self.supply_volts * (share if self.to_ground else 1.0 - share)
        return result

    def sound_ohms(self, volts: Array) -> Array:
        """Return the sender's resistance, NaN where the reading is an open or a short."""
        v = np.asarray(volts, dtype=float) / self.supply_volts
        sound = (v >= _RAIL_SHARE) & (v <= 1.0 - _RAIL_SHARE)
        result: Array = np.where(sound, self.ohms(volts), np.nan)
        return result

    def faults(self, volts: Array) -> tuple[Diagnosis, ...]:
        """Return "open" or "short" when readings lie at a rail."""
        v = np.asarray(volts, dtype=float)
        low = v < _RAIL_SHARE * self.supply_volts
        high = v > (1.0 - _RAIL_SHARE) * self.supply_volts
        found = []
        for where, name in ((low, "short" if self.to_ground else "open"),
                            (high, "open" if self.to_ground else "short")):
            if np.any(where):
                found.append(Diagnosis(name, Reason("reads as open or short", {
                    "kind": self.kind, "open": name == "open", "volts": float(v[where][0]),
                    "supply_volts": self.supply_volts})))
        return tuple(found)
