"""A two-wire rheostat, such as a 0-5 kohm or 5-0 kohm throttle or a level sender."""

from dataclasses import dataclass

import numpy as np

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
    title = "two-wire rheostat"
    unit = "ohm"
    shown_unit = "ohm"
    equation = "R = known * v / (supply - v): read as volts it is not straight, as ohms it is"
    wiring = ("supply -> known resistor -> board's input -> rheostat's wiper; one end of the "
              "rheostat to ground, the other end left open or joined to the wiper")

    full_ohms: float = 5000.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "full_ohms")

    def shown(self, volts: Array) -> Array:
        """Return ohms."""
        return self.ohms(volts)

    def notes(self) -> tuple[str, ...]:
        """Return how much of the supply the sender's travel uses."""
        span = float(abs(np.diff(self.volts(np.array([0.0, self.full_ohms])))[0]))
        share = 100.0 * span / self.supply_volts
        words = "" if share > 30 else "; a known resistor nearer to full_ohms would use more"
        return (f"0 to {self.full_ohms:g} ohm is {share:.0f} % of the supply{words}",)

    def faults(self, volts: Array) -> tuple[Diagnosis, ...]:
        """Return "open" when readings lie at that rail; no resistance is an end of its travel."""
        return tuple(d for d in super().faults(volts) if d.name == "open")

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return contact resistance, a wrong known resistor, the other direction, or as stated."""
        found = []
        slope, error, offset, offset_error = straight(calibration)
        if turned := swapped(slope, "it falls where the meter rises: the meter and the board "
                                    "measure from different ends (0-5 k and 5-0 k), or to_ground "
                                    "is the other way"):
            return turned
        if deviates(slope, 1.0, _TOLERANCE, error):
            found.append(Diagnosis(
                "known resistor", f"1 ohm shows as {1 / slope:.3g}: the known resistor is about "
                f"{self.known_ohms * slope:.4g} ohm, not {self.known_ohms:g}, if the supply is "
                f"{self.supply_volts:g} V", self.known_ohms * slope))
        elif abs(offset) > 0.005 * self.full_ohms + 1.96 * offset_error:
            found.append(Diagnosis("lead resistance", f"{-offset:.3g} ohm too much everywhere: "
                                   "leads, plug or a worn contact; state lead_ohms"
                                   if offset < 0 else
                                   f"{offset:.3g} ohm too little everywhere: lead_ohms is stated "
                                   "too large, or the meter's own leads are in its reading",
                                   -offset))
        else:
            found.append(Diagnosis("as stated", "it shows the ohms that the meter shows", slope,
                                   wrong=False))
        highest = float(np.max(calibration.points.meter))
        if highest > 1.2 * self.full_ohms:
            best = min(COMMON_OHMS, key=lambda r: abs(np.log(r / highest)))
            found.append(Diagnosis("other full ohms", f"{highest:.4g} ohm were seen, stated "
                                   f"{self.full_ohms:g}: perhaps a {best:g} ohm one", best))
        return tuple(found)
