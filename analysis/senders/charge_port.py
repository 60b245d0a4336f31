"""The two low-voltage lines of a charge port (SAE J1772): proximity and pilot.

Proximity: 5 V through 330 ohm, 2.7 kohm to ground in the vehicle; the plug adds 150 ohm, with
its latch pressed 480 ohm. Pilot: +12 V through 1 kohm in the supply equipment; the vehicle pulls
the high level down to 9, 6 or 3 V; a square wave's duty says the current on offer.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import DEFER, Diagnosis, Sender, positive, refuse_pin

# state -> resistance from the plug to ground
PROXIMITY_OHMS = {"unplugged": float("inf"), "plugged in": 150.0, "latch pressed": 480.0}
# state -> high level at the vehicle's inlet, V
PILOT_VOLTS = {"A (no vehicle)": 12.0, "B (vehicle present)": 9.0, "C (charging)": 6.0,
               "D (charging, ventilated)": 3.0, "E (no supply)": 0.0, "F (fault)": -12.0}
_PROXIMITY_TOLERANCE = 0.06
_PILOT_TOLERANCE = 1.0
_CAUTION = ("The charge port also carries mains: open no plug or inlet that is connected, take "
            "only the two low-voltage lines, and never feed them; " + DEFER + ".")


@dataclass(frozen=True)
class Proximity(Sender):
    """Hold the proximity line's feed: supply_volts through pullup_ohms, vehicle_ohms to ground."""

    kind = "proximity"
    title = "charge port, proximity line (SAE J1772)"
    unit = "V"
    shown_unit = "V"
    equation = "V = supply * R / (pullup + R), R = vehicle || plug"
    wiring = "proximity pin -> board's input; pin's ground -> board's ground; nothing else"
    always = (_CAUTION,)

    supply_volts: float = 5.0
    pullup_ohms: float = 330.0
    vehicle_ohms: float = 2700.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "supply_volts", "pullup_ohms", "vehicle_ohms")
        refuse_pin(self.supply_volts, self.pin_limit_volts, "an unplugged proximity line",
                   "use a divider of at least 100 kohm")

    def levels(self) -> dict[str, float]:
        """Return state -> volts."""
        result = {}
        for state, plug in PROXIMITY_OHMS.items():
            ohms = 1.0 / (1.0 / self.vehicle_ohms + 1.0 / plug)
            result[state] = self.supply_volts * ohms / (self.pullup_ohms + ohms)
        return result

    def state(self, volts: float) -> str:
        """Return the state of a level, or what is wrong with it."""
        room = _PROXIMITY_TOLERANCE * self.supply_volts
        state, level = min(self.levels().items(), key=lambda s: abs(s[1] - volts))
        if abs(level - volts) <= room:
            return state
        if volts < 0.05 * self.supply_volts:
            return "short to ground"
        if volts > 0.97 * self.supply_volts:
            return f"no {self.vehicle_ohms:g} ohm to ground in the vehicle"
        return "between the states: corroded contact, or a plug of another standard"

    def notes(self) -> tuple[str, ...]:
        """Return the levels."""
        return ("; ".join(f"{s} {v:.2f} V" for s, v in self.levels().items()),)

    def diagnose(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return the state of every level that was seen."""
        seen: dict[str, float] = {}
        for volts in calibration.points.meter:
            seen.setdefault(self.state(float(volts)), float(volts))
        return tuple(Diagnosis(state, f"{volts:.3g} V: {state}", volts,
                               wrong=state not in PROXIMITY_OHMS) for state, volts in seen.items())


@dataclass(frozen=True)
class Pilot(Sender):
    """Hold the pilot line behind three resistors: to the pilot, to a supply, and to ground.

    -12 V must never reach an input: the resistor to the supply lifts it above ground.
    """

    kind = "pilot"
    title = "charge port, pilot line (SAE J1772)"
    unit = "V"
    shown_unit = "V"
    equation = ("pilot = V_pin * ratio - lift, ratio = 1 + series/lift + series/ground, lift = "
                "supply * series/lift; the state is the high level, the offer its duty")
    wiring = ("pilot pin -> series resistor (100 kohm) -> board's input; 39 kohm from input to the "
              "supply and 68 kohm to ground, so that -12 to +12 V becomes 0.2 to 4.9 V")
    always = (_CAUTION,)

    supply_volts: float = 5.0
    series_ohms: float = 100e3
    lift_ohms: float = 39e3
    ground_ohms: float = 68e3

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "supply_volts", "series_ohms", "lift_ohms", "ground_ohms")
        for level in (12.0, -12.0):
            refuse_pin((level + self._lift) / self._ratio, self.pin_limit_volts,
                       f"{level:+g} V on the pilot line", "change the three resistors")

    @property
    def _ratio(self) -> float:
        return 1.0 + self.series_ohms / self.lift_ohms + self.series_ohms / self.ground_ohms

    @property
    def _lift(self) -> float:
        return self.supply_volts * self.series_ohms / self.lift_ohms

    def shown(self, volts: Array) -> Array:
        """Return volts on the pilot line."""
        result: Array = np.asarray(volts, dtype=float) * self._ratio - self._lift
        return result

    def notes(self) -> tuple[str, ...]:
        """Return that a mean of a square wave is not its level."""
        return ("the pilot is a 1 kHz square wave while it offers current: the state is its high "
                "level, which a mean of readings does not show",)

    def diagnose(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return the state of every level that was seen."""
        seen: dict[str, float] = {}
        for volts in calibration.points.meter:
            seen.setdefault(pilot_state(float(volts)), float(volts))
        return tuple(Diagnosis(state, f"{volts:.3g} V: state {state}", volts,
                               wrong=state not in PILOT_VOLTS) for state, volts in seen.items())


def pilot_state(high_volts: float) -> str:
    """Return the state of a high level in volts, or "between the states"."""
    state, level = min(PILOT_VOLTS.items(), key=lambda s: abs(s[1] - high_volts))
    return state if abs(level - high_volts) <= _PILOT_TOLERANCE else "between the states"
