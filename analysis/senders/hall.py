"""A Hall current sensor with a voltage output around a zero of its own."""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import (
    ISOLATION_CAUTION,
    Diagnosis,
    Sender,
    deviates,
    positive,
    refuse_pin,
    straight,
    swapped,
)

# Sensors are good to about 2 % with their temperature (common practice, no source).
_TOLERANCE = 0.03
# A zero off by less than this share of the rating is not worth a word (common practice, no source).
_ZERO_SHARE = 0.005


@dataclass(frozen=True)
class Hall(Sender):
    """Hold a Hall sensor: zero_volts at no current, span_volts more at rated_amps."""

    kind = "hall"
    unit = "A"
    shown_unit = "A"
    always = ("main lead through the sensor", ISOLATION_CAUTION)
    must_state = ("rated_amps",)

    rated_amps: float = 0.0
    span_volts: float = 2.0
    zero_volts: float = 2.5

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, *self.must_state)
        if not (np.isfinite(self.span_volts) and self.span_volts != 0):
            raise BadParameter("span is 0", span_volts=self.span_volts)
        refuse_pin(self, self.zero_volts + abs(self.span_volts), rated_amps=self.rated_amps)

    @property
    def amps_per_volt(self) -> float:
        """Return amperes for one volt of output."""
        return self.rated_amps / self.span_volts

    def shown(self, volts: Array) -> Array:
        """Return amperes."""
        result: Array = (np.asarray(volts, dtype=float) - self.zero_volts) * self.amps_per_volt
        return result

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return whether span and zero are as stated, a zero error with both its meanings."""
        slope, error, offset, offset_error = straight(calibration)
        found = [*swapped(slope, Reason("sensor turned round"))]
        if deviates(abs(slope), 1.0, _TOLERANCE, error):
            real = abs(self.rated_amps * slope)
            turns = round(1.0 / abs(slope)) if slope else 0
            several = turns > 1 and abs(1.0 / abs(slope) - turns) < 0.05 * turns
            found.append(Diagnosis("other rating", Reason("another rating", {
                "rated_amps": real, "stated": self.rated_amps,
                "turns": turns if several else None}), real))
        if abs(offset) > _ZERO_SHARE * self.rated_amps + 1.96 * offset_error:
            # The meter reads `offset` where the sensor shows no current.
            amps = -offset / slope if slope else np.nan
            volts = amps / self.amps_per_volt
            found.append(Diagnosis("zero offset", Reason("zero of the sensor is off", {
                "off_volts": float(volts), "amps": float(amps),
                "zero_volts": float(self.zero_volts + volts)}), offset))
        return tuple(found) or (Diagnosis("as stated", Reason("sensor as stated", {
            "rated_amps": self.rated_amps, "span_volts": self.span_volts,
            "zero_volts": self.zero_volts}), wrong=False),)
