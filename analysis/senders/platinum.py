"""A platinum thermometer (IEC 60751).

    t >= 0 C:  R = R0 (1 + A t + B t^2)
    t <  0 C:  R = R0 (1 + A t + B t^2 + C (t - 100) t^3)          -200 C to 850 C
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.resistive import Resistive
from analysis.senders.sender import Diagnosis, deviates, fahrenheit_diagnosis, positive, straight

A, B, C = 3.9083e-3, -5.775e-7, -4.183e-12
LOWEST, HIGHEST = -200.0, 850.0
# A table's last place, 0.005 ohm, is 0.013 K; the ends of the range are not lost to it.
_ROOM = 0.02
COMMON_R0 = (100.0, 500.0, 1000.0)
# The usual current, with the same heat in any R0 (common practice, no source).
USUAL_AMPS_PT100 = 1e-3
# Class B is 0.3 K + 0.005 |t|; twice that leaves room for the known resistor.
_OFFSET_KELVIN = 0.6
_SLOPE_TOLERANCE = 0.015
_R0_TOLERANCE = 0.1


def resistance(celsius: Array, r0: float = 100.0) -> Array:
    """Return ohms at -200 to 850 C, same shape; NaN outside."""
    t = np.asarray(celsius, dtype=float)
    cold = np.where(t < 0, C * (t - 100.0) * t**3, 0.0)
    result: Array = r0 * (1.0 + A * t + B * t * t + cold)
    return np.where((t >= LOWEST) & (t <= HIGHEST), result, np.nan)


def temperature(ohms: Array, r0: float = 100.0) -> Array:
    """Return degrees Celsius, same shape; NaN outside the range of the standard."""
    ratio = np.asarray(ohms, dtype=float) / r0
    with np.errstate(invalid="ignore"):
        t = (-A + np.sqrt(A * A - 4.0 * B * (1.0 - ratio))) / (2.0 * B)
        # Below zero the quadratic is off by up to 2.5 K; Newton's steps mend it.
        for _ in range(6):
            cold = t < 0
            value = 1.0 + A * t + B * t * t + np.where(cold, C * (t - 100.0) * t**3, 0.0)
            slope = A + 2.0 * B * t + np.where(cold, C * (4.0 * t**3 - 300.0 * t * t), 0.0)
            t = t - (value - ratio) / slope
        result: Array = np.where((t >= LOWEST - _ROOM) & (t <= HIGHEST + _ROOM), t, np.nan)
    return result


@dataclass(frozen=True)
class Platinum(Resistive):
    """Hold a platinum thermometer of r0_ohms at 0 C."""

    kind = "platinum"
    unit = "°C"
    shown_unit = "°C"

    r0_ohms: float = 1000.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "r0_ohms")
        if self.r0_ohms > 1e5:
            raise BadParameter("no platinum of that resistance", r0_ohms=self.r0_ohms)

    def shown(self, volts: Array) -> Array:
        """Return degrees Celsius; NaN where open, short or outside the standard's range."""
        return temperature(self.sound_ohms(volts), self.r0_ohms)

    def notes(self) -> tuple[Reason, ...]:
        """Return how far its current warms it and what a volt is worth."""
        current = self.supply_volts / (self.known_ohms + self.r0_ohms)
        notes = []
        if current > USUAL_AMPS_PT100 * np.sqrt(100.0 / self.r0_ohms):
            notes.append(Reason("its own current warms the platinum", {
                "milliamps": 1e3 * current}))
        step = np.diff(self.volts(resistance(np.array([20.0, 21.0]), self.r0_ohms)))[0]
        notes.append(Reason("volts of a kelvin", {"volts": abs(float(step))}))
        return tuple(notes)

    def hint(self, volts: Array, meter: Array) -> Reason | None:
        """Return which other R0 the resistance would suit."""
        factor, other = self._other_r0(volts, meter)
        return None if other is None else Reason("resistance of another platinum", {
            "times": factor, "r0_ohms": other, "stated": None})

    def _other_r0(self, volts: Array, meter: Array) -> tuple[float, float | None]:
        """Return the resistance seen over that stated, and the common R0 that explains it."""
        share = self.ohms(volts) / resistance(meter, self.r0_ohms)
        share = share[np.isfinite(share)]
        factor = float(np.median(share)) if share.size else float("nan")
        for r0 in COMMON_R0:
            if r0 != self.r0_ohms and abs(factor * self.r0_ohms / r0 - 1.0) < _R0_TOLERANCE:
                return factor, r0
        return factor, None

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return lead resistance, another R0, or that all is as stated."""
        fahrenheit = fahrenheit_diagnosis(calibration.x, calibration.points.meter)
        if fahrenheit and self.shown_unit == self.unit:
            return fahrenheit
        found = []
        true = resistance(calibration.points.meter, self.r0_ohms)
        seen = self.ohms(calibration.points.volts)
        factor, other = self._other_r0(calibration.points.volts, calibration.points.meter)
        if other is not None:
            return (Diagnosis("other R0", Reason("resistance of another platinum", {
                "times": factor, "r0_ohms": other, "stated": self.r0_ohms}), other),)
        slope, error, offset, offset_error = straight(calibration)
        extra = float(np.median(seen - true))
        if abs(offset) > _OFFSET_KELVIN + 1.96 * offset_error and not deviates(
                slope, 1.0, _SLOPE_TOLERANCE, error):
            if extra > 0:
                found.append(Diagnosis("lead resistance", Reason("leads of the platinum count", {
                    "extra_ohms": extra, "kelvin": extra / (A * self.r0_ohms)}), extra))
            else:
                found.append(Diagnosis("zero offset", Reason("platinum is off everywhere", {
                    "too_much_kelvin": -offset}), offset))
        elif deviates(slope, 1.0, _SLOPE_TOLERANCE, error):
            found.append(Diagnosis("other slope", Reason("degrees of another size", {
                "one_degree_shows": 1 / slope, "known_ohms": self.known_ohms,
                "supply_volts": self.supply_volts}), slope))
        else:
            found.append(Diagnosis("as stated", Reason("platinum as stated", {
                "r0_ohms": self.r0_ohms, "offset_kelvin": offset}), offset, wrong=False))
        return tuple(found)
