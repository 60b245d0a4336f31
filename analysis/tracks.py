"""One track: rest, full travel, span, direction, noise, clipping, linearity."""

from dataclasses import dataclass

from analysis.estimate import Estimate
from analysis.recording import Array


@dataclass(frozen=True)
class TrackFindings:
    """Hold what one track does. All volts are at the sensor, at nominal supply.

    rest_levels, full_levels: one level per return and per full press, in order of time.
    rest_times_s: middle time of each rest, same length as rest_levels.
    rest_scatter: standard deviation between returns.
    noise_volts: root mean square of the reading about its own level within one rest.
    crossing_slope: standard deviation of the noise's rate of change over that of the noise,
        in 1/s (Rice 1945), NaN when the noise is below one converter step.
    drift_volts_per_minute: slope of the rest levels against time.
    lowest_volts, highest_volts: extremes ever read, dropouts left out.
    step_volts: one converter step at the sensor, at nominal supply.
    nominal_volts: the supply at which the volts are stated; supply_recorded says whether the
        ratio to it was measured.
    noise_map_percent, noise_map_volts: rms noise in bins of travel (NaN: bin not visited).
    linearity_percent: independent linearity, % of nominal supply, against the other track's
        travel (NaN with one track).
    """

    column: str
    direction: str
    rest: Estimate
    rest_levels: Array
    rest_times_s: Array
    rest_scatter: Estimate
    noise_volts: float
    crossing_slope: float
    drift_volts_per_minute: Estimate
    full: Estimate
    full_levels: Array
    span: Estimate
    lowest_volts: float
    highest_volts: float
    step_volts: float
    nominal_volts: float
    supply_recorded: bool
    clipped: bool
    noise_map_percent: Array
    noise_map_volts: Array
    linearity_percent: float
