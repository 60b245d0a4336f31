"""Senders with a standard output: 0-5 V (0.5-4.5 V, 1-5 V, 0-10 V) and 4-20 mA."""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import (
    Diagnosis,
    Sender,
    deviates,
    offset_diagnosis,
    positive,
    refuse_pin,
    straight,
    swapped,
)

_TOLERANCE = 0.02
# Ranges that senders come with (common practice, no source).
COMMON_RANGES = ((0.0, 5.0), (0.5, 4.5), (1.0, 5.0), (0.25, 4.75), (0.0, 10.0), (0.0, 3.3))
COMMON_SENSE_OHMS = (100.0, 120.0, 150.0, 165.0, 200.0, 220.0, 250.0, 270.0, 500.0)
LIVE_ZERO_MA, FULL_MA = 4.0, 20.0
_DEAD_MA = 0.5
# Above 21 mA the sender says that it failed (NAMUR NE 43; from memory).
FAULT_HIGH_MA = 21.0


@dataclass(frozen=True)
class VoltSender(Sender):
    """Hold a sender of low_value at low_volts and high_value at high_volts."""

    kind = "volts"
    unit = "unit"
    shown_unit = "unit"

    low_value: float = 0.0
    high_value: float = 100.0
    low_volts: float = 0.0
    high_volts: float = 5.0

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.high_volts == self.low_volts or self.high_value == self.low_value:
            raise BadParameter("ends of the range are the same", low_volts=self.low_volts,
                               high_volts=self.high_volts, low_value=self.low_value,
                               high_value=self.high_value)
        refuse_pin(self, max(self.low_volts, self.high_volts))

    def shown(self, volts: Array) -> Array:
        """Return the quantity by the stated range."""
        share = (np.asarray(volts, dtype=float) - self.low_volts) / (
            self.high_volts - self.low_volts)
        result: Array = self.low_value + share * (self.high_value - self.low_value)
        return result

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return whether the range is as stated, or which common one explains the points."""
        slope, error, offset, offset_error = straight(calibration)
        span = abs(self.high_value - self.low_value)
        if turned := swapped(slope, Reason("ends of the range exchanged")):
            return turned
        ends = np.array([self.low_value, self.high_value])
        per_volt = (self.high_value - self.low_value) / (self.high_volts - self.low_volts)
        real = self.low_volts + ((ends - offset) / slope - self.low_value) / per_volt
        low, high = float(real[0]), float(real[1])
        worst = float(np.max(np.abs(slope * ends + offset - ends)))
        if worst <= _TOLERANCE * span + 1.96 * (offset_error + error * float(np.max(np.abs(ends)))):
            return (Diagnosis("as stated", Reason("range as stated", {
                "low_value": self.low_value, "high_value": self.high_value,
                "low_volts": low, "high_volts": high}), wrong=False),)
        others = [r for r in COMMON_RANGES if r != (self.low_volts, self.high_volts)]
        near = min(others, key=lambda r: float(np.max(np.abs(real - np.array(r)))))
        width = abs(near[1] - near[0])
        stated = {"stated_low_volts": self.low_volts, "stated_high_volts": self.high_volts}
        if float(np.max(np.abs(real - np.array(near)))) <= 2.0 * _TOLERANCE * width:
            return (Diagnosis("other range", Reason("another common range", {
                "low_volts": near[0], "high_volts": near[1], **stated}), near[0]),)
        zero = () if deviates(slope, 1.0, _TOLERANCE, error) else offset_diagnosis(
            calibration, self.unit, _TOLERANCE * span,
            Reason("ground carries current or its zero"))
        # Slope and zero may each be within their tolerance and too far off together.
        return zero or (Diagnosis("unknown range", Reason("another range", {
            "low_volts": low, "high_volts": high, **stated}), low),)


@dataclass(frozen=True)
class LoopSender(Sender):
    """Hold a 4-20 mA sender over sense_ohms: low_value at 4 mA, high_value at 20 mA."""

    kind = "loop"
    unit = "unit"
    shown_unit = "unit"

    low_value: float = 0.0
    high_value: float = 100.0
    sense_ohms: float = 220.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "sense_ohms")
        if self.high_value == self.low_value:
            raise BadParameter("values of the range are the same", low_value=self.low_value)
        refuse_pin(self, FULL_MA * 1e-3 * self.sense_ohms, sense_ohms=self.sense_ohms)

    def milliamperes(self, volts: Array) -> Array:
        """Return the loop's current in mA, same shape."""
        result: Array = np.asarray(volts, dtype=float) / self.sense_ohms * 1e3
        return result

    def shown(self, volts: Array) -> Array:
        """Return the quantity by the stated range."""
        share = (self.milliamperes(volts) - LIVE_ZERO_MA) / (FULL_MA - LIVE_ZERO_MA)
        result: Array = self.low_value + share * (self.high_value - self.low_value)
        return result

    def notes(self) -> tuple[Reason, ...]:
        """Return what the input gets when the sender reports a fault."""
        top = FAULT_HIGH_MA * 1e-3 * self.sense_ohms
        if top > self.pin_limit_volts:
            return (Reason("fault current beyond the input", {
                "milliamps": FAULT_HIGH_MA, "pin_volts": top,
                "limit_volts": self.pin_limit_volts}),)
        return ()

    def faults(self, volts: Array) -> tuple[Diagnosis, ...]:
        """Return "open" when the loop carries no current."""
        if np.any(self.milliamperes(volts) < _DEAD_MA):
            return (Diagnosis("open", Reason("loop carries no current")),)
        return ()

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return a live zero forgotten, another sense resistor, or as stated."""
        slope, error, offset, offset_error = straight(calibration)
        if turned := swapped(slope, Reason("ends of the range exchanged")):
            return turned
        width = FULL_MA - LIVE_ZERO_MA
        per_ma = (self.high_value - self.low_value) / width
        ends = np.array([self.low_value, self.high_value])
        # The currents, by the stated resistor, at which the quantity has its two ends.
        real = LIVE_ZERO_MA + ((ends - offset) / slope - self.low_value) / per_ma
        low, high = float(real[0]), float(real[1])
        room = _TOLERANCE * width + 1.96 * float(
            np.hypot(offset_error, error * np.max(np.abs(ends)))) / abs(per_ma)
        if float(np.max(np.abs(real - [LIVE_ZERO_MA, FULL_MA]))) <= room:
            return (Diagnosis("as stated", Reason("loop as stated", {
                "low_milliamps": low, "high_milliamps": high}), wrong=False),)
        factor = real[1] / FULL_MA
        if abs(real[0]) <= 1.5 * room and abs(real[1] - FULL_MA) <= 1.5 * room:
            return (Diagnosis("no live zero", Reason("sender of 0 to 20 mA"), 0.0),)
        if abs(real[0] - LIVE_ZERO_MA * factor) <= 1.5 * room * max(1.0, factor):
            ohms = self.sense_ohms * factor
            near = min(COMMON_SENSE_OHMS, key=lambda r: abs(np.log(r / ohms)))
            named = not deviates(ohms, near, _TOLERANCE, 0.0)
            return (Diagnosis("sense resistor", Reason("another sense resistor", {
                "sense_ohms": float(ohms), "perhaps_ohms": near if named else None,
                "stated": self.sense_ohms}), near if named else float(ohms)),)
        return (Diagnosis("unknown range", Reason("loop of another range", {
            "low_milliamps": low, "high_milliamps": high}), low),)
