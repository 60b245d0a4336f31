"""The two low-voltage lines of a charge port (SAE J1772): proximity and pilot.

Proximity: 5 V through 330 ohm, 2.7 kohm to ground in the vehicle; the plug adds 150 ohm, with
its latch pressed 480 ohm. Pilot: +12 V through 1 kohm in the supply equipment; the vehicle pulls
the high level down to 9, 6 or 3 V; a square wave's duty says the current on offer (IEC 61851-1,
annex A, which has SAE J1772's table).
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason, Value
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import Diagnosis, Sender, positive, refuse_pin
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
_CAUTION = "charge port carries mains"


@dataclass(frozen=True)
class Proximity(Sender):
    """Hold the proximity line's feed: supply_volts through pullup_ohms, vehicle_ohms to ground."""

    kind = "proximity"
    unit = "V"
    shown_unit = "V"
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
        """Return the code of a level's state, or of what is wrong with it."""
        room = _PROXIMITY_TOLERANCE * self.supply_volts
        state, level = min(self.levels().items(), key=lambda s: abs(s[1] - volts))
        if abs(level - volts) <= room:
            return state
        if volts < 0.05 * self.supply_volts:
            return "short to ground"
        if volts > 0.97 * self.supply_volts:
            return "no resistor in the vehicle"
        return "between the states"

    def notes(self) -> tuple[Reason, ...]:
        """Return the levels."""
        return (Reason("levels of the proximity line", {"states": tuple(self.levels().items())}),)

    def diagnose(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return the state of every level that was seen."""
        seen: dict[str, float] = {}
        for volts in calibration.points.meter:
            seen.setdefault(self.state(float(volts)), float(volts))
        return tuple(Diagnosis(state, Reason("level of the proximity line", {
            "volts": volts, "state": state, "vehicle_ohms": self.vehicle_ohms}), volts,
                               wrong=state not in PROXIMITY_OHMS) for state, volts in seen.items())


@dataclass(frozen=True)
class Pilot(Sender):
    """Hold the pilot line behind three resistors: to the pilot, to a supply, and to ground.

    -12 V must never reach an input: the resistor to the supply lifts it above ground.
    duty_percent: share of the time that the pilot is high, hertz: its frequency, both as the
    person's own meter shows them, 0 if not measured.
    """

    kind = "pilot"
    unit = "V"
    shown_unit = "V"
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

    def notes(self) -> tuple[Reason, ...]:
        """Return that a mean of a square wave is not its level, and what the stated duty offers."""
        mean = Reason("pilot is a square wave")
        if self.duty_percent == 0.0:
            return (mean, Reason("duty not stated"))
        return (mean, Reason("duty offers", {
            "duty_percent": self.duty_percent, **pilot_offer(self.duty_percent).values()}))

    def seen(self, time_s: Array, readings: Array) -> tuple[Diagnosis, ...]:
        """Return state and offer of a recording of volts at the input."""
        return pilot_seen(time_s, self.shown(readings))

    def seen_notes(self) -> tuple[Reason, ...]:
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
        return (Diagnosis("offer", Reason("typed duty offers", {
            "duty_percent": self.duty_percent, **offer.values(), "checked": self.hertz != 0}),
                          offer.amps, wrong=False),)

    def diagnose(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return the state of every level that was seen."""
        seen: dict[str, float] = {}
        for volts in calibration.points.meter:
            seen.setdefault(pilot_state(float(volts)), float(volts))
        return tuple(Diagnosis(state, Reason("level of the pilot", {
            "volts": volts, "state": state}), volts,
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

    def values(self) -> dict[str, Value]:
        """Return it as the values of a reason."""
        return {"amps": self.amps, "digital": self.digital}


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
    level = Diagnosis(state, Reason("high level of the pilot", {
        "volts": found.high_volts, "state": state}), found.high_volts,
                      wrong=state not in PILOT_VOLTS)
    if found.state == "no pulses":
        if not np.isfinite(found.high_volts):
            return (Diagnosis("not seen", Reason("too few readings for a level")),)
        return (Diagnosis("offer", Reason("pilot stands still", {
            "slow": not found.most_hertz >= PILOT_HERTZ}), 0.0, wrong=False), level)
    return (_offer_seen(found), level, *_low_level(found.low_volts))


def _offer_seen(found: Pulses) -> Diagnosis:
    """Return what the pulses offer, or why that stays open."""
    rate = 4.0 * found.most_hertz
    if found.most_hertz < PILOT_HERTZ:
        return Diagnosis("open", Reason("too slow for the pilot", {
            "rate_hz": rate, "rate_for_all_hz": _READINGS_FOR_ALL}))
    if found.state == "too fast":
        return Diagnosis("open", Reason("too slow for this duty", {
            "rate_hz": rate, "rate_for_all_hz": _READINGS_FOR_ALL}))
    if found.state != "seen" or not np.isfinite(found.duty.value):
        return Diagnosis("open", Reason("pulses of the pilot too few or uneven"))
    if not _is_pilot(found.hertz.value):
        return _no_pilot(found.hertz.value)
    duty, doubt = 100.0 * found.duty.value, 200.0 * found.duty.uncertainty
    ends = [pilot_offer(float(np.clip(d, 0.0, 100.0))) for d in (duty - doubt, duty + doubt)]
    told: dict[str, Value] = {"duty_percent": duty, "half_width": max(doubt, 0.05),
                              "hertz": found.hertz.value}
    if ends[0].digital != ends[1].digital or (ends[0].amps == 0.0) != (ends[1].amps == 0.0):
        return Diagnosis("open", Reason("duty near a bound", {
            **told, **ends[0].values(), "or_amps": ends[1].amps, "or_digital": ends[1].digital}))
    # The lower end, rounded down: less than offered harms nobody.
    amps = float(np.floor(10.0 * min(e.amps for e in ends) + 1e-9) / 10.0)
    least = PilotOffer(amps, ends[0].digital)
    return Diagnosis("offer", Reason("measured duty offers", {**told, **least.values()}),
                     least.amps, wrong=False)


def _low_level(low_volts: float) -> tuple[Diagnosis, ...]:
    low = PILOT_VOLTS["F (fault)"]
    if abs(low_volts - low) <= _PILOT_TOLERANCE:
        return ()
    return (Diagnosis("low level", Reason("low level of the pilot", {
        "volts": low_volts, "usual_volts": low}), low_volts),)


def _is_pilot(hertz: float) -> bool:
    return abs(hertz / PILOT_HERTZ - 1.0) <= _HERTZ_TOLERANCE


def _no_pilot(hertz: float) -> Diagnosis:
    return Diagnosis("no pilot", Reason("frequency of no pilot", {"hertz": hertz}), hertz)
