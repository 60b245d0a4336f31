"""Pack voltage through an isolation amplifier or an isolated converter module.

    V = (V_pin - zero) / gain * ratio
    ratio = (top + bottom') / bottom',  bottom' = bottom || input

zero: output at no input. A module that takes the line itself has no divider, and a gain of volts
out for each volt of the line.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import (
    PACK_CAUTION,
    Diagnosis,
    Sender,
    both_or_none,
    deviates,
    positive,
    refuse_pin,
    straight,
    swapped,
)

# Resistors, gain and its drift together (common practice, no source).
_TOLERANCE = 0.03
_ZERO_SHARE = 0.005


@dataclass(frozen=True)
class Isolated(Sender):
    """Hold divider, gain and zero of an isolated reading of a line of highest_volts at the most.

    top_ohms, bottom_ohms: divider on the pack's side, both 0 for a module that takes the line
    itself. input_ohms: of the amplifier. input_limit_volts: most that the amplifier takes in, 0
    if not stated. gain: volts out per volt in; zero_volts: output at no input.
    """

    kind = "isolated"
    unit = "V"
    shown_unit = "V"
    always = (PACK_CAUTION, "input side stands at the pack's voltage")
    must_state = ("highest_volts", "gain")

    highest_volts: float = 0.0
    gain: float = 0.0
    zero_volts: float = 0.0
    top_ohms: float = 0.0
    bottom_ohms: float = 0.0
    input_ohms: float = float("inf")
    input_limit_volts: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "highest_volts")
        if not (np.isfinite(self.gain) and self.gain != 0):
            raise BadParameter("gain is 0", kind=self.kind, gain=self.gain)
        both_or_none(self, "top_ohms", "bottom_ohms")
        if not self.input_ohms > 0 or self.input_limit_volts < 0:
            raise BadParameter("input of the amplifier out of reason", input_ohms=self.input_ohms,
                               input_limit_volts=self.input_limit_volts)
        into = self.highest_volts / self.ratio
        if self.input_limit_volts and into > self.input_limit_volts:
            raise BadParameter("amplifier beyond its limit", highest_volts=self.highest_volts,
                               ratio=self.ratio, into_volts=into,
                               limit_volts=self.input_limit_volts)
        refuse_pin(self, self.zero_volts + self.gain * into, highest_volts=self.highest_volts,
                   ratio=self.ratio, gain=self.gain)

    @property
    def ratio(self) -> float:
        """Return line volts per volt at the amplifier's input."""
        if not self.bottom_ohms:
            return 1.0
        bottom = 1.0 / (1.0 / self.bottom_ohms + 1.0 / self.input_ohms)
        return (self.top_ohms + bottom) / bottom

    def shown(self, volts: Array) -> Array:
        """Return volts on the line."""
        result: Array = (np.asarray(volts, dtype=float) - self.zero_volts) / self.gain * self.ratio
        return result

    def notes(self) -> tuple[Reason, ...]:
        """Return what the highest voltage makes of input and output, and how to find the zero."""
        into = self.highest_volts / self.ratio
        notes = [Reason("amplifier at its most", {
            "highest_volts": self.highest_volts, "into_volts": into,
            "pin_volts": self.zero_volts + self.gain * into}), Reason("take the zero of the taps")]
        if self.bottom_ohms and np.isinf(self.input_ohms):
            notes.append(Reason("input of the amplifier not stated"))
        return tuple(notes)

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return whether gain, load and zero are as stated."""
        slope, error, offset, offset_error = straight(calibration)
        if turned := swapped(slope, Reason("inputs of the amplifier turned round")):
            return turned
        found = []
        if deviates(slope, 1.0, _TOLERANCE, error):
            gain = self.gain / slope
            # top / ratio is top || bottom || input, as for a divider.
            load = self.top_ohms / self.ratio / (slope - 1.0) \
                if slope > 1.0 and self.bottom_ohms else None
            found.append(Diagnosis("other gain", Reason("another gain of the amplifier", {
                "gain": gain, "stated": self.gain, "load_ohms": load}), gain))
        if abs(offset) > _ZERO_SHARE * self.highest_volts + 1.96 * offset_error:
            volts = -offset / slope * self.gain / self.ratio
            found.append(Diagnosis("zero offset", Reason("zero of the amplifier is off", {
                "off_volts": volts, "line_volts": -offset / slope,
                "zero_volts": self.zero_volts + volts}), offset))
        return tuple(found) or (Diagnosis("as stated", Reason("gain and divider as stated", {
            "percent": 100 * 1.96 * error}), slope, wrong=False),)
