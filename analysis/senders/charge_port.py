"""The two low-voltage lines of a charge port (SAE J1772): proximity and pilot.

Proximity: 5 V through 330 ohm, 2.7 kohm to ground in the vehicle; the plug adds 150 ohm, with
its latch pressed 480 ohm. Pilot: +12 V through 1 kohm in the supply equipment; the vehicle pulls
the high level down to 9, 6 or 3 V; a square wave's duty says the current on offer (IEC 61851-1,
annex A, which has SAE J1772's table).
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import DEFER, Diagnosis, Sender, positive, refuse_pin
from analysis.signal.pulses import Pulses, pulses_of

# state -> resistance from the plug to ground
PROXIMITY_OHMS = {"unplugged": float("inf"), "plugged in": 150.0, "latch pressed": 480.0}
# state -> high level at the vehicle's inlet, V
PILOT_VOLTS = {"A (no vehicle)": 12.0, "B (vehicle present)": 9.0, "C (charging)": 6.0,
               "D (charging, ventilated)": 3.0, "E (no supply)": 0.0, "F (fault)": -12.0}
_PROXIMITY_TOLERANCE = 0.06
_PILOT_TOLERANCE = 1.0
# The square wave's frequency, and how far it may be off before it is taken for none: SAE J1772
# allows 2 % where it is made; what a vehicle must bear, from memory.
PILOT_HERTZ, _HERTZ_TOLERANCE = 1000.0, 0.05
# A duty of 5 % lasts 50 us; two readings must fall into it.
_READINGS_FOR_ALL = 40000.0
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
        refuse_pin(self, self.supply_volts)

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
    duty_percent: share of the time that the pilot is high, hertz: its frequency, both as the
    person's own meter shows them, 0 if not measured.
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
    duty_percent: float = 0.0
    hertz: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "supply_volts", "series_ohms", "lift_ohms", "ground_ohms")
        pilot_offer(self.duty_percent)
        if not (np.isfinite(self.hertz) and self.hertz >= 0):
            raise BadParameter("hertz below 0", hertz=self.hertz)
        for level in (12.0, -12.0):
            refuse_pin(self, (level + self._lift) / self._ratio, line_volts=level)

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
        """Return that a mean of a square wave is not its level, and what the stated duty offers."""
        mean = ("the pilot is a 1 kHz square wave while it offers current: the state is its high "
                "level, which a mean of readings does not show")
        if self.duty_percent == 0.0:
            return (mean, "its duty (share of the time that it is high) says the current on offer: "
                    "state duty_percent as a scope or a meter with a duty range shows it")
        return (mean, f"duty {self.duty_percent:g} %: {pilot_offer(self.duty_percent).words}")

    def seen(self, time_s: Array, readings: Array) -> tuple[Diagnosis, ...]:
        """Return state and offer of a recording of volts at the input."""
        return pilot_seen(time_s, self.shown(readings))

    def seen_notes(self) -> tuple[str, ...]:
        """Return nothing: the notes speak of means, and of a duty that is not known."""
        return ()

    def typed(self) -> tuple[Diagnosis, ...]:
        """Return what the typed duty and frequency say of the offer."""
        # A duty of 0 stands for "not measured", unless a frequency was measured with it.
        if self.duty_percent == 0.0 and not self.hertz:
            return ()
        if self.hertz and not _is_pilot(self.hertz):
            return (_no_pilot(self.hertz),)
        offer = pilot_offer(self.duty_percent)
        checked = "" if self.hertz else " (1000 Hz would say that it is a pilot: type hertz too)"
        told = f"duty {self.duty_percent:g} %: {offer.words}{checked}"
        return (Diagnosis("offer", told, offer.amps, wrong=False),)

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


@dataclass(frozen=True)
class PilotOffer:
    """Hold what a pilot's duty means: the most the vehicle may draw, A, 0 where it may not charge.

    digital: the current is told by digital communication, and there is no charging without it.
    """

    amps: float
    digital: bool = False

    @property
    def words(self) -> str:
        """Return it in words."""
        if self.digital:
            return ("digital communication says what may be drawn; it is no 3 A, and without it "
                    "there is no charging")
        return f"at most {self.amps:.3g} A" if self.amps else "no charging allowed"


def pilot_offer(duty_percent: float) -> PilotOffer:
    """Return what a duty of 0 to 100 % offers, as the vehicle has to take it.

    IEC 61851-1, annex A, and SAE J1772. 5 % (3 to 7 %) is digital communication; 8 to 10 % is 6 A,
    10 to 85 % 0.6 A for each percent, up to 96 % 2.5 A for each percent above 64, up to 97 % 80 A;
    anything else, a steady level too, allows nothing. Raises BadParameter outside 0 to 100 %.
    """
    if not 0.0 <= duty_percent <= 100.0:
        raise BadParameter("duty out of reason", duty_percent=duty_percent)
    if 3.0 <= duty_percent <= 7.0:
        return PilotOffer(0.0, digital=True)
    if not 8.0 <= duty_percent <= 97.0:
        return PilotOffer(0.0)
    if duty_percent < 10.0:
        return PilotOffer(6.0)
    if duty_percent <= 85.0:
        return PilotOffer(0.6 * duty_percent)
    return PilotOffer(min(2.5 * (duty_percent - 64.0), 80.0))


def pilot_seen(time_s: Array, pilot_volts: Array) -> tuple[Diagnosis, ...]:
    """Return what a recording of the pilot shows: its offer, its state, its low level.

    time_s, pilot_volts: shape (n,), s rising and volts on the pilot line. The offer is told by the
    lower end of what the duty may be, and stays open where the readings are too slow for it.
    """
    found = pulses_of(time_s, pilot_volts)
    state = pilot_state(found.high_volts) if np.isfinite(found.high_volts) else "not seen"
    told = f"high level {found.high_volts:.3g} V: state {state}"
    level = Diagnosis(state, told, found.high_volts, wrong=state not in PILOT_VOLTS)
    if found.state == "no pulses":
        if not np.isfinite(found.high_volts):
            return (Diagnosis("not seen", "too few readings to tell a level; record for longer"),)
        slow = "" if found.most_hertz >= PILOT_HERTZ else (
            "; slow readings may have met one level only, so record once more")
        return (Diagnosis("offer", "the level stands still, no square wave: no charging "
                                   f"allowed{slow}",
                          0.0, wrong=False), level)
    return (_offer_seen(found), level, *_low_level(found.low_volts))


def _offer_seen(found: Pulses) -> Diagnosis:
    """Return what the pulses offer, or why that stays open."""
    rate = 4.0 * found.most_hertz
    if found.most_hertz < PILOT_HERTZ:
        return Diagnosis(
            "open", f"offer open: {rate:.4g} readings a second are too slow for the pilot's 1000 "
                    f"Hz; 4000 are the least and show duties of 50 %, {_READINGS_FOR_ALL:.0f} "
            "show all; or type "
            "what a meter with a duty range shows (duty_percent, hertz)")
    if found.state == "too fast":
        return Diagnosis(
            "open", f"offer open: one of its levels lasts less than two of these {rate:.4g} "
                    f"readings a second; {_READINGS_FOR_ALL:.0f} show every duty")
    if found.state != "seen" or not np.isfinite(found.duty.value):
        return Diagnosis("open", "offer open: too few or uneven pulses; record a second or more in "
                         "which nothing is plugged or switched")
    if not _is_pilot(found.hertz.value):
        return _no_pilot(found.hertz.value)
    duty, doubt = 100.0 * found.duty.value, 200.0 * found.duty.uncertainty
    ends = [pilot_offer(float(np.clip(d, 0.0, 100.0))) for d in (duty - doubt, duty + doubt)]
    told = f"duty {duty:.1f} ± {max(doubt, 0.05):.1f} % (95 %), {found.hertz.value:.1f} Hz: "
    if ends[0].digital != ends[1].digital or (ends[0].amps == 0.0) != (ends[1].amps == 0.0):
        return Diagnosis("open", f"{told}either {ends[0].words}, or {ends[1].words}: it lies too "
                                 "near a bound of the table; read faster")
    # The lower end, rounded down: less than offered harms nobody.
    amps = float(np.floor(10.0 * min(e.amps for e in ends) + 1e-9) / 10.0)
    least = PilotOffer(amps, ends[0].digital)
    return Diagnosis("offer", told + least.words, least.amps, wrong=False)


def _low_level(low_volts: float) -> tuple[Diagnosis, ...]:
    low = PILOT_VOLTS["F (fault)"]
    if abs(low_volts - low) <= _PILOT_TOLERANCE:
        return ()
    return (Diagnosis("low level", f"the low level is {low_volts:.3g} V, not {low:g}: the "
                                   "vehicle's diode is shorted or missing, or the three "
                      "resistors are not as stated",
                      low_volts),)


def _is_pilot(hertz: float) -> bool:
    return abs(hertz / PILOT_HERTZ - 1.0) <= _HERTZ_TOLERANCE


def _no_pilot(hertz: float) -> Diagnosis:
    return Diagnosis("no pilot", f"{hertz:.4g} Hz is no pilot (1000 Hz): its duty says nothing "
                                 "of an offer", hertz)
