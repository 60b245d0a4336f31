"""A two-wire rheostat, such as a 0-5 kohm or 5-0 kohm throttle or a level sender."""

from dataclasses import dataclass

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.resistive import Resistive
from analysis.senders.sender import Diagnosis, deviates, positive, straight, swapped

_TOLERANCE = 0.05
# Full ohms of rheostats in use: throttles, then level senders (common practice, no source).
COMMON_OHMS = (5000.0, 10000.0, 1000.0, 2000.0, 20000.0, 90.0, 180.0, 240.0, 500.0)


@dataclass(frozen=True)
class Rheostat(Resistive):
    """Hold a rheostat of full_ohms end to end, of which two wires are used."""

    kind = "rheostat"
    unit = "ohm"
    shown_unit = "ohm"

    full_ohms: float = 5000.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "full_ohms")

    def shown(self, volts: Array) -> Array:
        """Return ohms."""
        return self.ohms(volts)

    def notes(self) -> tuple[Reason, ...]:
        """Return how much of the supply the sender's travel uses."""
        span = float(abs(np.diff(self.volts(np.array([0.0, self.full_ohms])))[0]))
        share = 100.0 * span / self.supply_volts
        return (Reason("share of the supply", {"full_ohms": self.full_ohms, "percent": share,
                                               "little": not share > 30}),)

    def faults(self, volts: Array) -> tuple[Diagnosis, ...]:
        """Return "open" when readings lie at that rail; no resistance is an end of its travel."""
        return tuple(d for d in super().faults(volts) if d.name == "open")

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return contact resistance, a wrong known resistor, the other direction, or as stated."""
        found = []
        slope, error, offset, offset_error = straight(calibration)
        if turned := swapped(slope, Reason("measured from the other end")):
            return turned
        if deviates(slope, 1.0, _TOLERANCE, error):
            found.append(Diagnosis("known resistor", Reason("another known resistor", {
                "one_ohm_shows": 1 / slope, "known_ohms": self.known_ohms * slope,
                "stated": self.known_ohms, "supply_volts": self.supply_volts}),
                                   self.known_ohms * slope))
        elif abs(offset) > 0.005 * self.full_ohms + 1.96 * offset_error:
            found.append(Diagnosis("lead resistance", Reason("ohms too many or few", {
                "too_many_ohms": -offset}), -offset))
        else:
            found.append(Diagnosis("as stated", Reason("shows the meter's ohms"), slope,
                                   wrong=False))
        highest = float(np.max(calibration.points.meter))
        if highest > 1.2 * self.full_ohms:
            best = min(COMMON_OHMS, key=lambda r: abs(np.log(r / highest)))
            found.append(Diagnosis("other full ohms", Reason("more than its full ohms", {
                "highest_ohms": highest, "stated": self.full_ohms, "perhaps_ohms": best}), best))
        return tuple(found)
