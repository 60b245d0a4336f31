"""Pack voltage through an isolation amplifier or an isolated converter module.

    V = (V_pin - zero) / gain * ratio
    ratio = (top + bottom') / bottom',  bottom' = bottom || input

zero: output at no input. A module that takes the line itself has no divider, and a gain of volts
out for each volt of the line.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.number_format import ohm_text
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import (
    DEFER,
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
BARRIER_CAUTION = (
    "The input side of an isolation amplifier stands at the pack's voltage: its parts, its own "
    "supply and its leads are touched by nobody and kept apart from the output side by a barrier "
    "that is rated for more than the pack's voltage as working voltage (a test voltage says "
    "nothing of that); fuse both taps at the pack; " + DEFER + ".")


@dataclass(frozen=True)
class Isolated(Sender):
    """Hold divider, gain and zero of an isolated reading of a line of highest_volts at the most.

    top_ohms, bottom_ohms: divider on the pack's side, both 0 for a module that takes the line
    itself. input_ohms: of the amplifier. input_limit_volts: most that the amplifier takes in, 0
    if not stated. gain: volts out per volt in; zero_volts: output at no input.
    """

    kind = "isolated"
    title = "pack voltage through an isolation amplifier or isolated module"
    unit = "V"
    shown_unit = "V"
    equation = "V = (V_pin - zero) / gain * (top + bottom') / bottom', bottom' = bottom || input"
    wiring = ("pack + -> fuse -> top resistor (several in series) -> amplifier's input -> bottom "
              "resistor -> pack - through a fuse; amplifier's input side from its own isolated "
              "supply; output side: board's supply, ground and input, nothing of the pack")
    always = (PACK_CAUTION, BARRIER_CAUTION)
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

    def notes(self) -> tuple[str, ...]:
        """Return what the highest voltage makes of input and output, and how to find the zero."""
        into = self.highest_volts / self.ratio
        notes = [f"{self.highest_volts:g} V puts {into:.4g} V on the amplifier's input and "
                 f"{self.zero_volts + self.gain * into:.4g} V on the board's",
                 "take one point with the pack's disconnect out and both taps joined: that is "
                 "the zero"]
        if self.bottom_ohms and np.isinf(self.input_ohms):
            notes.append("the amplifier's input resistance is not stated: one of a few kohm "
                         "loads the divider, so state input_ohms from its data sheet")
        return tuple(notes)

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return whether gain, load and zero are as stated."""
        slope, error, offset, offset_error = straight(calibration)
        if turned := swapped(slope, "the line falls where the meter rises: the amplifier's "
                                    "inputs are the other way round, or state a negative gain"):
            return turned
        found = []
        if deviates(slope, 1.0, _TOLERANCE, error):
            gain = self.gain / slope
            told = f"its gain would be {gain:.4g}, not {self.gain:g}, if the divider is as stated"
            if slope > 1.0 and self.bottom_ohms:
                # top / ratio is top || bottom || input, as for a divider.
                load = self.top_ohms / self.ratio / (slope - 1.0)
                told += (f"; or the amplifier's input loads the divider as {ohm_text(load)} "
                         "would: see input_ohms")
            found.append(Diagnosis("other gain", told, gain))
        if abs(offset) > _ZERO_SHARE * self.highest_volts + 1.96 * offset_error:
            volts = -offset / slope * self.gain / self.ratio
            found.append(Diagnosis(
                "zero offset", f"its zero is off by {1e3 * volts:+.3g} mV at the board's input, "
                               f"which is {-offset / slope:+.3g} V of the line: zero_volts is "
                f"{self.zero_volts + volts:.4g} V; or the grounds of board and amplifier differ",
                offset))
        return tuple(found) or (Diagnosis(
            "as stated", f"gain and divider are as stated (± {100 * 1.96 * error:.2g} %)", slope,
            wrong=False),)
