"""Pulses in a fast recording: how often, how long, and what this rate cannot see.

Method: the two levels are the middles of the readings above and below half way; a change counts
once it has crossed to 35 % beyond. An edge lies half way between the two readings that straddle
it, unsure by a rectangle one step wide. Period: a straight line through the rising edges
against their number, u(T)^2 = 12 u^2 / (K (K^2 - 1)) (least squares, K edges of u each). Duty: mean
width of a pulse over the period; where the edges fall on the same few places of the sampling grid,
their errors do not average and none is claimed to.

A pulse faster than half the rate folds down to a slower one and looks just as good: from one
recording alone that cannot be told (Nyquist). A second recording at another rate tells.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.model.estimate import Estimate
from analysis.model.recording import Array

PulseState = Literal["seen", "no pulses", "too few", "too fast", "irregular"]
# Levels must stand apart by so many times their own scatter.
APART = 8.0
HIGH, LOW = 0.65, 0.35
LEAST_PULSES = 4
# The shorter of the two levels must last for so many readings.
LEAST_READINGS = 2.0
# Edges further from their straight line than this share of a period: pulses come and go.
IRREGULAR = 0.25
# The sampling grid's places that edges must fall on before their errors average out.
PLACES = 8


@dataclass(frozen=True)
class Pulses:
    """Hold what a channel's pulses are.

    state: "seen"; "no pulses"; "too few" to measure; "too fast": a level lasts less than two
    readings; "irregular": pulses are missing or come unevenly, hertz is their mean rate.
    hertz, duty: with standard uncertainties, NaN unless seen (hertz also when irregular); duty as a
    share of the period that is high. low_volts, high_volts: the levels. count: rising edges.
    most_hertz: the fastest even pulse that this rate can measure.
    """

    state: PulseState
    hertz: Estimate
    duty: Estimate
    low_volts: float
    high_volts: float
    count: int
    most_hertz: float


_UNKNOWN = Estimate(float("nan"), float("nan"))


def pulses_of(time_s: Array, volts: Array) -> Pulses:
    """Return the pulses in a stretch of readings.

    time_s, volts: shape (n,), seconds rising and volts, blanks NaN. Two stretches with a gap
    between them are two calls.
    """
    step = float(np.median(np.diff(time_s))) if time_s.size > 1 else float("nan")
    most = 1.0 / (2.0 * LEAST_READINGS * step) if step > 0 else float("nan")
    good = np.isfinite(volts)
    if np.count_nonzero(good) < 10:
        return Pulses("no pulses", _UNKNOWN, _UNKNOWN, float("nan"), float("nan"), 0, most)
    low, high = _levels(volts[good])
    if low is None or high is None:
        middle = float(np.median(volts[good]))
        return Pulses("no pulses", _UNKNOWN, _UNKNOWN, middle, middle, 0, most)
    rises, falls, shortest = _edges(time_s[good], volts[good], low, high)
    if rises.size < LEAST_PULSES:
        return Pulses("too few", _UNKNOWN, _UNKNOWN, low, high, int(rises.size), most)
    if shortest < LEAST_READINGS:
        return Pulses("too fast", _UNKNOWN, _UNKNOWN, low, high, int(rises.size), most)
    period, u_period, regular = _period(rises, step)
    if not regular:
        usual = (rises[-1] - rises[0]) / (rises.size - 1)
        return Pulses("irregular", Estimate(1.0 / usual, float("nan")), _UNKNOWN, low, high,
                      int(rises.size), most)
    return Pulses("seen", Estimate(1.0 / period, u_period / period**2),
                  _duty(rises, falls, period, step), low, high, int(rises.size), most)


def _levels(volts: Array) -> tuple[float | None, float | None]:
    """Return the low and the high level; None where there are no two."""
    bottom, top = float(volts.min()), float(volts.max())
    split = 0.5 * (bottom + top)
    below, above = volts[volts < split], volts[volts >= split]
    if below.size < 3 or above.size < 3:
        return None, None
    low, high = float(np.median(below)), float(np.median(above))
    scatter = 1.4826 * max(float(np.median(np.abs(below - low))),
                           float(np.median(np.abs(above - high))))
    # Two levels that hold most readings; hum and ramps spend theirs in between.
    near = (np.abs(volts - low) < 0.25 * (high - low)) | (np.abs(volts - high)
                                                          < 0.25 * (high - low))
    if high - low < APART * scatter or np.mean(near) < 0.6 or high <= low:
        return None, None
    return low, high


def _edges(time_s: Array, volts: Array, low: float, high: float) -> tuple[Array, Array, float]:
    """Return the times of rising and falling edges, and the fewest readings of a level."""
    level = (volts - low) / (high - low)
    sure = np.flatnonzero((level >= HIGH) | (level <= LOW))
    up = level[sure] >= HIGH
    turns = np.flatnonzero(up[1:] != up[:-1])
    before, after = sure[turns], sure[turns + 1]
    # Somewhere between the last reading of one level and the first of the next.
    at = 0.5 * (time_s[before] + time_s[after])
    rising = up[turns + 1]
    lengths = np.diff(np.concatenate([[0], turns + 1, [up.size]]))[1:-1]
    shortest = float(np.median(np.sort(lengths)[: max(1, lengths.size // 4)])) if (
        lengths.size) else 0.0
    return at[rising], at[~rising], shortest


def _period(rises: Array, step: float) -> tuple[float, float, bool]:
    """Return the period, its standard uncertainty, and whether the pulses come evenly."""
    count = rises.size
    number = np.arange(count, dtype=np.float64)
    period, start = np.polyfit(number, rises, 1)
    left = rises - start - period * number
    regular = bool(np.max(np.abs(left)) < max(IRREGULAR * period, step))
    u_edge = max(step / np.sqrt(12.0), float(np.std(left, ddof=2)) if count > 2 else 0.0)
    return float(period), float(u_edge * np.sqrt(12.0 / (count * (count**2 - 1.0)))), regular


def _duty(rises: Array, falls: Array, period: float, step: float) -> Estimate:
    """Return the share of the period that is high, with its standard uncertainty."""
    following = np.searchsorted(falls, rises)
    known = following < falls.size
    widths = falls[following[known]] - rises[known]
    widths = widths[widths < period]
    if widths.size < 2:
        return _UNKNOWN
    # Each width has two edges, each a rectangle one step wide (JCGM 100:2008, 4.3.7).
    one = step / np.sqrt(6.0)
    ideal = np.mod(rises[0] / step + np.arange(rises.size) * period / step, 1.0)
    places = np.unique(np.round(ideal * 2 * PLACES)).size
    averaged = one / np.sqrt(widths.size) if places > PLACES else one
    scatter = float(np.std(widths, ddof=1)) / np.sqrt(widths.size)
    return Estimate(float(widths.mean()) / period, float(max(averaged, scatter)) / period)
