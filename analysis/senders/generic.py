"""Senders with a standard output: 0-5 V (0.5-4.5 V, 1-5 V, 0-10 V) and 4-20 mA."""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.number_format import in_span
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
_ENDS_EXCHANGED = ("the reading falls where the meter rises: exchange low_value and "
                   "high_value")
# Above 21 mA the sender says that it failed (NAMUR NE 43; from memory).
FAULT_HIGH_MA = 21.0


def _told(ends: Array) -> tuple[str, str]:
    """Return both ends of a range as text, to three digits of the span between them."""
    span = float(np.ptp(ends))
    return in_span(float(ends[0]), span), in_span(float(ends[1]), span)


@dataclass(frozen=True)
class VoltSender(Sender):
    """Hold a sender of low_value at low_volts and high_value at high_volts."""

    kind = "volts"
    title = "sender with 0-5 V output (or 0.5-4.5 V, 1-5 V)"
    unit = "unit"
    shown_unit = "unit"
    equation = "q = low_value + (V - low_volts) (high_value - low_value) / (high_volts - low_volts)"
    wiring = ("sender's supply and ground from the board's own; output -> board's input; with a "
              "10 V output a 1:2 divider in between")

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
        if turned := swapped(slope, _ENDS_EXCHANGED):
            return turned
        ends = np.array([self.low_value, self.high_value])
        per_volt = (self.high_value - self.low_value) / (self.high_volts - self.low_volts)
        real = self.low_volts + ((ends - offset) / slope - self.low_value) / per_volt
        low, high = _told(real)
        worst = float(np.max(np.abs(slope * ends + offset - ends)))
        if worst <= _TOLERANCE * span + 1.96 * (offset_error + error * float(np.max(np.abs(ends)))):
            return (Diagnosis("as stated", f"{self.low_value:g} to {self.high_value:g} is "
                              f"{low} to {high} V, as stated", wrong=False),)
        others = [r for r in COMMON_RANGES if r != (self.low_volts, self.high_volts)]
        near = min(others, key=lambda r: float(np.max(np.abs(real - np.array(r)))))
        width = abs(near[1] - near[0])
        if float(np.max(np.abs(real - np.array(near)))) <= 2.0 * _TOLERANCE * width:
            return (Diagnosis("other range", f"its range is {near[0]:g} to {near[1]:g} V, not "
                              f"{self.low_volts:g} to {self.high_volts:g} V", near[0]),)
        zero = () if deviates(slope, 1.0, _TOLERANCE, error) else offset_diagnosis(
            calibration, self.unit, _TOLERANCE * span,
            "a ground lead that carries current, or the sender's zero")
        # Slope and zero may each be within their tolerance and too far off together.
        return zero or (Diagnosis(
            "unknown range", f"its range is {low} to {high} V, not "
            f"{self.low_volts:g} to {self.high_volts:g} V: state that", real[0]),)


@dataclass(frozen=True)
class LoopSender(Sender):
    """Hold a 4-20 mA sender over sense_ohms: low_value at 4 mA, high_value at 20 mA."""

    kind = "loop"
    title = "4-20 mA sender"
    unit = "unit"
    shown_unit = "unit"
    equation = "I = V / sense; q = low_value + (I - 4 mA) (high_value - low_value) / 16 mA"
    wiring = ("loop supply -> sender -> board's input and sense resistor -> ground; 250 ohm makes "
              "1-5 V, 165 ohm fits a 3.3 V input")

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

    def notes(self) -> tuple[str, ...]:
        """Return what the input gets when the sender reports a fault."""
        top = FAULT_HIGH_MA * 1e-3 * self.sense_ohms
        if top > self.pin_limit_volts:
            return (f"a sender that reports a fault drives {FAULT_HIGH_MA:g} mA and puts "
                    f"{top:.3g} V on the input (limit {self.pin_limit_volts:g} V): use a smaller "
                    "sense resistor",)
        return ()

    def faults(self, volts: Array) -> tuple[Diagnosis, ...]:
        """Return "open" when the loop carries no current."""
        if np.any(self.milliamperes(volts) < _DEAD_MA):
            return (Diagnosis("open", "the loop carries no current: broken, or the leads are the "
                              "other way round"),)
        return ()

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return a live zero forgotten, another sense resistor, or as stated."""
        slope, error, offset, offset_error = straight(calibration)
        if turned := swapped(slope, _ENDS_EXCHANGED):
            return turned
        width = FULL_MA - LIVE_ZERO_MA
        per_ma = (self.high_value - self.low_value) / width
        ends = np.array([self.low_value, self.high_value])
        # The currents, by the stated resistor, at which the quantity has its two ends.
        real = LIVE_ZERO_MA + ((ends - offset) / slope - self.low_value) / per_ma
        low, high = _told(real)
        room = _TOLERANCE * width + 1.96 * float(
            np.hypot(offset_error, error * np.max(np.abs(ends)))) / abs(per_ma)
        if float(np.max(np.abs(real - [LIVE_ZERO_MA, FULL_MA]))) <= room:
            return (Diagnosis("as stated", f"{low} to {high} mA, as stated",
                              wrong=False),)
        factor = real[1] / FULL_MA
        if abs(real[0]) <= 1.5 * room and abs(real[1] - FULL_MA) <= 1.5 * room:
            return (Diagnosis("no live zero", "it is a 0-20 mA sender, not 4-20 mA", 0.0),)
        if abs(real[0] - LIVE_ZERO_MA * factor) <= 1.5 * room * max(1.0, factor):
            ohms = self.sense_ohms * factor
            near = min(COMMON_SENSE_OHMS, key=lambda r: abs(np.log(r / ohms)))
            named = not deviates(ohms, near, _TOLERANCE, 0.0)
            return (Diagnosis("sense resistor", f"the sense resistor is {ohms:.4g} ohm"
                              + (f" (a {near:g} ohm one)" if named else "")
                              + f", not {self.sense_ohms:g}", near if named else ohms),)
        return (Diagnosis("unknown range", f"its ends lie at {low} and {high} mA, "
                          "not at 4 and 20: state low_value and high_value anew", real[0]),)
