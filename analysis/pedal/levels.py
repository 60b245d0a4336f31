"""How sure a median level is: chance, wandering, the converter's limits, a supply's tolerance.

Half of the 95 % interval that all of them make together is two uncertainties (JCGM 101:2008;
`analysis/statistics/coverage.py`). Method: docs/method.md, "One track".
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.estimate import Estimate
from analysis.model.recording import Array, Channel, Recording
from analysis.statistics.coverage import half_width, standard_deviation

# A converter that rounds down is off by half a step everywhere: it does or it does not, so the
# whole of it counts, either way.
OFFSET_STEPS = 0.5
# What it bends by at its worst code (common practice, no source; +-1 step of integral
# non-linearity is what datasheets of cheap converters promise). A smooth bend swings like a sine
# along the codes, and the phase at those read is not known.
BEND_STEPS = 0.82
# Levels that follow their neighbours as chance would make them in one sweep of twenty: to hold
# them for wandering costs a wider interval, no fault.
_NEIGHBOURS = 1.64
_LEAST_LEVELS = 5


@dataclass(frozen=True)
class Input:
    """Hold how levels were read: one step in volts at nominal supply, and what stands beside it.

    supply_share: the supply's step over the supply, 0 where none was recorded. one_converter:
    whether one converter read both, so that its offset is in both. tolerance: relative, of a
    supply that was not recorded, or of what a board measures volts by.
    """

    step_volts: float
    supply_share: float = 0.0
    one_converter: bool = False
    tolerance: float = 0.0

    def limits(self, volts: float) -> list[float]:
        """Return the limits of the parts of `volts` that may lie anywhere."""
        alone = 0.0 if self.one_converter else OFFSET_STEPS * self.supply_share
        return [self.tolerance * abs(volts), alone * abs(volts)]

    def bends(self, volts: float, levels: int = 1) -> list[float]:
        """Return how far the converter's bend shifts `volts` of so many levels at most."""
        return [BEND_STEPS * self.step_volts] * levels + [
            BEND_STEPS * self.supply_share * abs(volts)]

    def offset(self, volts: float, own: float = 1.0) -> float:
        """Return how far the offset shifts a level; own 0 for a difference of levels."""
        common = self.supply_share * abs(volts) if self.one_converter else 0.0
        return OFFSET_STEPS * abs(own * self.step_volts - common)


@dataclass(frozen=True)
class Series:
    """Hold the levels of one kind in order of time, shape (n,), how many rows and what noise.

    times_s: their middle times, shape (n,).
    """

    levels: Array
    times_s: Array
    rows: int
    noise_volts: float

    @property
    def chance(self) -> float:
        """Return the standard uncertainty of the median by chance; NaN below two levels.

        sqrt(pi/2) s / sqrt(n), wider where n is small, and the noise averaged over the rows.
        """
        count = self.levels.size
        if count < 2:
            return float("nan")
        spread, degrees = (_between_neighbours(self.levels), 2 * (count - 1) // 3) if wanders(
            self.levels, self.times_s) else (float(np.std(self.levels, ddof=1)), count - 1)
        between = np.sqrt(np.pi / 2) * spread / np.sqrt(count) * wider_for_few(degrees)
        within = (self.noise_volts / np.sqrt(max(self.rows, 1))
                  if np.isfinite(self.noise_volts) else 0.0)
        return float(np.hypot(between, within))


def input_of(recording: Recording, channel: Channel, step_volts: float,
             supply_tolerance: float) -> Input:
    """Return how a channel was read. supply_tolerance: relative, of a supply not recorded.

    Volts of a sensor that does not follow its supply are as unsure, recorded or not: what the board
    measured them by is in them.
    """
    feed = recording.supply
    if feed is None or not recording.pedal.ratiometric:
        return Input(step_volts, tolerance=supply_tolerance)
    alike = (feed.unit, feed.full_scale, feed.reference_volts) == (
        channel.unit, channel.full_scale, channel.reference_volts)
    return Input(step_volts, feed.step_volts / recording.usual_supply_volts, alike)


def level_estimate(series: Series, by: Input, otherwise: float) -> Estimate:
    """Return the median level; `otherwise`, as sure as nothing, when there is none."""
    if series.levels.size == 0:
        return Estimate(otherwise, float("nan"))
    middle = float(np.median(series.levels))
    return _estimate(middle, series.chance, (by.limits(middle), by.bends(middle)),
                     by.offset(middle), _wandering(series.levels, series.times_s))


def span_estimate(rest: Series, full: Series, ends: tuple[float, float], by: Input) -> Estimate:
    """Return |full - rest| of two medians; ends: both of them.

    What moves both alike moves no span, so its wandering is that of full less the rest before it:
    each rest but once, as shared ones would make neighbours alike.
    """
    span = abs(ends[1] - ends[0])
    if not (rest.levels.size and full.levels.size):
        return Estimate(span, float("nan"))
    earlier = np.maximum(np.searchsorted(rest.times_s, full.times_s) - 1, 0)
    apart = full.levels - rest.levels[earlier]
    return _estimate(span, float(np.hypot(rest.chance, full.chance)),
                     (by.limits(span), by.bends(span, levels=2)), by.offset(span, own=0.0),
                     _wandering(apart, full.times_s))


def _estimate(value: float, sigma: float, within: tuple[list[float], list[float]], offset: float,
              wandering: Array) -> Estimate:
    shifts = np.concatenate([wandering - offset, wandering + offset])
    return Estimate(value, 0.5 * half_width(sigma, *within, shifts),
                    standard_deviation(sigma, *within, shifts))


def repeats(series: Series, step_volts: float) -> float:
    """Return how well a median level repeats on one board, as a standard uncertainty in volts.

    Without what stays the same from one recording to the next: the converter's own error but for
    rounding (half a step either way), a supply's tolerance, a drift. NaN without two levels.
    """
    count = series.levels.size
    if count < 2:
        return float("nan")
    between = (np.sqrt(np.pi / 2) * float(np.std(series.levels, ddof=1)) / np.sqrt(count)
               * wider_for_few(count - 1))
    within = (series.noise_volts / np.sqrt(max(series.rows, 1))
              if np.isfinite(series.noise_volts) else 0.0)
    return float(np.sqrt(between**2 + within**2 + step_volts**2 / 12.0))


def wanders(levels: Array, times_s: Array) -> bool:
    """Return whether levels follow time or their neighbours: which of them is meant then?

    A straight line through them, steeper than three of its uncertainties; or von Neumann's ratio
    of the mean square successive difference to the variance (1941), 2 for independent levels
    with a variance of 4 (n - 2) / (n^2 - 1), too small for chance.
    """
    count = levels.size
    if count < _LEAST_LEVELS or not np.ptp(levels) > 0:
        return False
    drift = drift_of(times_s, levels)
    if abs(drift.value) > 3.0 * drift.uncertainty:
        return True
    ratio = 2.0 * (_between_neighbours(levels) / float(np.std(levels, ddof=1))) ** 2
    return bool(ratio < 2.0 - _NEIGHBOURS * 2.0 * np.sqrt((count - 2.0) / (count**2 - 1.0)))


def _between_neighbours(levels: Array) -> float:
    """Return the standard deviation of independent levels, from those that follow each other."""
    return float(np.sqrt(np.mean(np.diff(levels) ** 2) / 2.0))


def _wandering(levels: Array, times_s: Array) -> Array:
    """Return how far the level lay from its median at even times from first to last, (m,).

    One zero where they do not wander plainly.
    """
    if not wanders(levels, times_s):
        return np.zeros(1)
    even = np.linspace(times_s[0], times_s[-1], 41)
    result: Array = np.interp(even, times_s, levels) - np.median(levels)
    return result


def wider_for_few(degrees: int) -> float:
    """Return by how much few levels widen a standard uncertainty (JCGM 101:2008, 6.4.9.4).

    The standard deviation of Student's t, sqrt(f / (f - 2)); where it has none, half of t at
    95 % (JCGM 100:2008, table G.2), so that two uncertainties hold 95 % all the same.
    """
    if degrees > 2:
        return float(np.sqrt(degrees / (degrees - 2)))
    return {1: 6.35, 2: 2.15}.get(degrees, float("nan"))


def drift_of(times_s: Array, levels: Array) -> Estimate:
    """Return the slope of levels against time in volts per minute, least squares."""
    if levels.size < 3 or float(np.ptp(times_s)) <= 0:
        return Estimate(float("nan"), float("nan"))
    x = (times_s - times_s.mean()) / 60.0
    y = levels - levels.mean()
    slope = float(x @ y / (x @ x))
    left = y - slope * x
    degrees = levels.size - 2
    variance = float(left @ left) / degrees
    return Estimate(slope, float(np.sqrt(variance / (x @ x))) * wider_for_few(degrees))
