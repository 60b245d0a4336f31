"""A current shunt read through an amplifier."""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason, Value
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import (
    ISOLATION_CAUTION,
    Diagnosis,
    Sender,
    deviates,
    offset_diagnosis,
    positive,
    refuse_pin,
    straight,
    swapped,
)

RATED_MILLIVOLTS = (50.0, 60.0, 75.0, 100.0)
# Ratings that shunts of electric vehicles come with (common practice, no source).
RATED_AMPS = (50.0, 75.0, 100.0, 150.0, 200.0, 250.0, 300.0, 400.0, 500.0, 600.0, 800.0, 1000.0,
              1500.0, 2000.0)
COMMON_GAINS = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
# Shunt 0.5 %, amplifier 1 % (common practice, no source).
TOLERANCE = 0.015
# Continuous use at about two thirds of the rating (common practice, no source).
CONTINUOUS_SHARE = 2.0 / 3.0


@dataclass(frozen=True)
class Shunt(Sender):
    """Hold a shunt of rated_millivolts at rated_amps, amplified `gain` times.

    zero_volts: the amplifier's output at no current. highest_amps: the most, of either sign,
    that is to be read; 0: the rating. continuous_amps: of the drive, 0 if not known.
    """

    kind = "shunt"
    unit = "A"
    shown_unit = "A"
    always = ("shunt sits in the main lead", ISOLATION_CAUTION)
    must_state = ("rated_amps", "rated_millivolts")

    rated_amps: float = 0.0
    rated_millivolts: float = 0.0
    gain: float = 1.0
    zero_volts: float = 0.0
    highest_amps: float = 0.0
    continuous_amps: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, *self.must_state)
        if not (np.isfinite(self.gain) and self.gain != 0):
            raise BadParameter("gain is 0", kind=self.kind, gain=self.gain)
        if self.highest_amps < 0 or self.continuous_amps < 0:
            raise BadParameter("amperes below 0", highest_amps=self.highest_amps,
                               continuous_amps=self.continuous_amps)
        most = self.highest_amps or self.rated_amps
        top = self.zero_volts + most * self.ohms * abs(self.gain)
        refuse_pin(self, top, most_amps=most, shunt_ohms=self.ohms, gain=abs(self.gain))

    @property
    def ohms(self) -> float:
        """Return the shunt's resistance."""
        return self.rated_millivolts * 1e-3 / self.rated_amps

    def shown(self, volts: Array) -> Array:
        """Return amperes."""
        result: Array = (np.asarray(volts, dtype=float) - self.zero_volts) / (
            self.gain * self.ohms)
        return result

    def notes(self) -> tuple[Reason, ...]:
        """Return resistance, heat at rating, and what it may carry continuously."""
        allowed = CONTINUOUS_SHARE * self.rated_amps
        notes = [Reason("shunt at its rating", {
            "ohms": self.ohms, "watts": self.rated_amps * self.rated_millivolts / 1e3,
            "continuous_amps": allowed})]
        if self.continuous_amps > allowed:
            notes.append(Reason("shunt too small", {
                "amps": self.continuous_amps, "continuous_amps": allowed}))
        if self.zero_volts == 0:
            notes.append(Reason("one sign of current only"))
        return tuple(notes)

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return whether the shunt is as stated, or which other one explains the ratio."""
        slope, error, *_ = straight(calibration)
        found = [*swapped(slope, Reason("wires of the shunt exchanged"))]
        found += self._ratio(abs(slope), error)
        _, _, offset, _ = straight(calibration)
        zero = self.zero_volts - offset * self.gain * self.ohms / slope if slope else np.nan
        found += offset_diagnosis(
            calibration, "A", 0.002 * self.rated_amps,
            Reason("another zero of the amplifier", {
                "zero_volts": float(zero), "stated": self.zero_volts}))
        return tuple(found)

    def _ratio(self, slope: float, error: float) -> tuple[Diagnosis, ...]:
        # True amperes are `slope` times those shown, so the real shunt is so much smaller.
        real = self.ohms / slope if slope else float("inf")
        if not deviates(slope, 1.0, TOLERANCE, error):
            return (Diagnosis("as stated", Reason("shunt as stated", {
                "ohms": real, "half_width_ohms": 1.96 * error * real}), self.ohms, wrong=False),)
        relative = error / slope if slope else 0.0
        near = [(a, mv) for a in RATED_AMPS for mv in RATED_MILLIVOLTS
                if not deviates(real, mv * 1e-3 / a, TOLERANCE, relative * real)]
        gains = [g for g in COMMON_GAINS if g != abs(self.gain)
                 and not deviates(abs(self.gain) / slope, g, TOLERANCE, relative * g)]
        shows: dict[str, Value] = {"times": 1.0 / slope if slope else 0.0, "ohms": real,
                                   "gain": gains[0] if gains else None,
                                   "stated_gain": abs(self.gain), "stated_ohms": self.ohms}
        if near:
            best = min(abs(mv * 1e-3 / a / real - 1.0) for a, mv in near)
            closest = [(a, mv) for a, mv in near
                       if abs(mv * 1e-3 / a / real - 1.0) <= best + 1e-9]
            names = self._ordered(closest)
            ohms = closest[0][1] * 1e-3 / closest[0][0]
            return (Diagnosis("other shunt", Reason("another shunt", {
                **shows, "ohms": ohms, "rated_amps": self.rated_amps,
                "rated_millivolts": self.rated_millivolts, "shunts": tuple(names)}), ohms),)
        if gains:
            return (Diagnosis("other gain", Reason("another gain before the shunt", shows),
                              gains[0]),)
        return (Diagnosis("unknown ratio", Reason("no common shunt", shows), real),)

    def _ordered(self, shunts: list[tuple[float, float]]) -> list[tuple[float, float]]:
        """Return the likelier ones first: those that share the stated millivolts or amperes."""
        return sorted(shunts, key=lambda s: (s[1] != self.rated_millivolts,
                                             s[0] != self.rated_amps, s[0]))
