"""What a sound pedal reads, and the limits beyond which the controller is to stop power."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array, Channel, Recording

# Formula SAE rules T.4.2: power stops when two readings differ by more than 10 % of travel for
# more than 100 ms (CHECK_VALUES).
RULE_PERCENT, RULE_TIME_S = 10.0, 0.1


@dataclass(frozen=True)
class TrackLimits:
    """Hold one track's levels in volts at the sensor, at nominal supply; NaN where not issued."""

    rest_volts: float
    full_volts: float
    start_volts: float
    fault_low_volts: float
    fault_high_volts: float

    def travel(self, volts: Array) -> Array:
        """Return travel in % of volts, shape as given; 0 at rest, 100 at full travel."""
        result: Array = 100.0 * (volts - self.rest_volts) / (self.full_volts - self.rest_volts)
        return result

    @property
    def sign(self) -> float:
        """Return +1 for a track that rises when pressed, -1 for one that falls."""
        return 1.0 if self.full_volts > self.rest_volts else -1.0


@dataclass(frozen=True)
class Limits:
    """Hold the tracks' levels, the mismatch limit in % of travel and the time allowed, s."""

    tracks: Mapping[str, TrackLimits]
    mismatch_percent: float = RULE_PERCENT
    allowed_s: float = RULE_TIME_S


def volts_in_the_log(recording: Recording, channel: Channel) -> Array:
    """Return a track's volts at nominal supply, shape (n,), by the log's usual supply.

    Not row by row: with a lead open the supply of that row is no yardstick for what the controller
    reads.
    """
    usual = recording.usual_supply_volts
    volts = channel.volts()
    if np.isfinite(usual) and usual > 0.1 * recording.nominal_volts:
        volts *= recording.nominal_volts / usual
    return volts


def beyond_own_limits(volts: Array, limits: TrackLimits) -> np.ndarray:
    """Return where a track reads beyond its fault limits, shape (n,); a blank is not beyond."""
    result: np.ndarray = (volts < limits.fault_low_volts) | (volts > limits.fault_high_volts)
    return result


def beyond(travel: Mapping[str, Array], volts: Mapping[str, Array], limits: Limits) -> np.ndarray:
    """Return the rows at which a controller is to see a fault, shape (n,)."""
    names = list(travel)
    seen = np.zeros(volts[names[0]].shape, dtype=bool)
    for name in names:
        seen |= beyond_own_limits(volts[name], limits.tracks[name])
    for name in names[1:]:
        seen |= np.abs(travel[names[0]] - travel[name]) > limits.mismatch_percent
    return seen
