"""Points of a calibration, and what runs up and down say about them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.model.errors import NoCalibration
from analysis.model.recording import Array

UP, DOWN = 1, -1
# Meter values within this share of the span are the same test point.
SAME_SHARE = 0.02
# The input has not moved when it stays within this share of its span.
_STILL_SHARE = 0.01
LEAST_PAIRS = 3


@dataclass(frozen=True)
class Points:
    """Hold the points, each of shape (n,).

    volts: mean at the board's input. volts_uncertainty: its standard uncertainty. meter: what
    the meter showed, in the unit of the quantity. way: +1 run up, -1 run down.
    """

    volts: Array
    volts_uncertainty: Array
    meter: Array
    way: Array

    def __post_init__(self) -> None:
        n = self.volts.size
        for name in ("volts_uncertainty", "meter", "way"):
            if getattr(self, name).shape != (n,):
                raise NoCalibration("points of unequal number", what=name,
                                    values=int(getattr(self, name).size), points=n)
        for name in ("volts", "volts_uncertainty", "meter"):
            bad = np.flatnonzero(~np.isfinite(getattr(self, name)))
            if bad.size:
                raise NoCalibration("point lacks a value", point=int(bad[0]) + 1, what=name)

    @property
    def count(self) -> int:
        """Return the number of points."""
        return int(self.volts.size)


def points_from(volts: ArrayLike, meter: ArrayLike,
                volts_uncertainty: ArrayLike = 0.0) -> Points:
    """Return points in the order they were taken; the way of each follows from that order."""
    v, m = np.asarray(volts, dtype=float), np.asarray(meter, dtype=float)
    if v.size == 0:
        raise NoCalibration("no points")
    u = np.broadcast_to(np.asarray(volts_uncertainty, dtype=float), v.shape).copy()
    return Points(v, u, m, ways(m))


def ways(meter: Array) -> Array:
    """Return +1 for points reached upwards and -1 for those reached downwards, shape (n,).

    The turning point belongs to the run that led to it; a repeat at the same value, as at the
    top of a run up followed by a run down, begins the next run.
    """
    if meter.size < 2:
        return np.ones(meter.shape)
    steps = np.sign(np.diff(meter))
    same = np.abs(np.diff(meter)) <= SAME_SHARE * np.ptp(meter)
    result = np.ones(meter.size)
    for k in range(1, meter.size):
        if same[k - 1]:
            later = np.flatnonzero(~same[k:])
            result[k] = steps[k + later[0]] if later.size else result[k - 1]
        else:
            result[k] = steps[k - 1]
    first = np.flatnonzero(~same)
    result[0] = steps[first[0]] if first.size else 1.0
    return result


def levels_of(meter: Array, apart: float = 0.0) -> NDArray[np.int64]:
    """Return for each point the number of its test point, 0 upwards; shape (n,), ints.

    A test point holds what lies within 2 % of the span of its lowest member, or within `apart`
    where that is more, in the meter's unit.
    """
    order = np.argsort(meter, kind="stable")
    limit = max(SAME_SHARE * float(np.ptp(meter)), apart)
    level = np.empty(meter.size, dtype=np.int64)
    number, lowest = -1, -np.inf
    for k in order:
        if meter[k] - lowest > limit or number < 0:
            number, lowest = number + 1, float(meter[k])
        level[k] = number
    return level


def _visits(points: Points) -> NDArray[np.int64]:
    """Return for each point the number of its visit, shape (n,).

    A new visit begins where the way turns, and where the point before is repeated: the meter
    and the input are where they were.
    """
    turned = np.diff(points.way) != 0
    near = np.abs(np.diff(points.meter)) <= SAME_SHARE * np.ptp(points.meter)
    still = np.abs(np.diff(points.volts)) <= _STILL_SHARE * np.ptp(points.volts)
    return np.concatenate([[0], np.cumsum(turned | (near & still))])


def _at_level(errors: Array, visits: NDArray[np.int64], here: NDArray[np.bool_]) -> Array:
    """Return the mean error of each visit to a test point, shape (visits,)."""
    return np.array([np.mean(errors[here & (visits == v)]) for v in np.unique(visits[here])])


@dataclass(frozen=True)
class Spread:
    """Hold hysteresis and repeatability, in the unit of the quantity and in % of span.

    hysteresis: largest difference between an ascending and a descending reading at one test
    point of one pair of runs; repeatability: largest difference among the ascending (or among
    the descending) readings at one test point (43 CFR 3175.135). NaN when not seen.
    pairs: pairs of runs; `weak` says that fewer than the three the rule asks for were made.
    """

    hysteresis: float
    hysteresis_percent: float
    hysteresis_at: float
    repeatability: float
    repeatability_percent: float
    pairs: int
    weak: bool


def spread(points: Points, indicated: Array) -> Spread:
    """Return hysteresis and repeatability of `indicated` at the meter's test points.

    indicated: shape (n,), the channel's reading turned into the quantity; what the meter showed
    differently from the test point's mean is taken off first.
    """
    level = levels_of(points.meter)
    error = indicated - points.meter
    span = float(np.ptp(points.meter))
    run = np.concatenate([[0], np.cumsum(np.diff(points.way) != 0)])
    visits = _visits(points)
    worst, at, repeat, pairs = np.nan, np.nan, np.nan, 0
    for k in range(int(level.max()) + 1):
        here = level == k
        ups = np.flatnonzero(here & (points.way > 0))
        downs = np.flatnonzero(here & (points.way < 0))
        for way in (UP, DOWN):
            means = _at_level(error, visits, here & (points.way == way))
            if means.size > 1:
                repeat = np.fmax(repeat, float(np.ptp(means)))
        matched = [(i, j) for i in ups for j in downs if abs(run[i] - run[j]) == 1
                   and run[min(i, j)] // 2 == run[max(i, j)] // 2]
        pairs = max(pairs, len(matched))
        for i, j in matched:
            gap = abs(float(error[i] - error[j]))
            if not gap <= worst:
                worst, at = gap, float(np.mean(points.meter[here]))
    share = 100.0 / span if span > 0 else np.nan
    return Spread(float(worst), float(worst * share), float(at), float(repeat),
                  float(repeat * share), pairs, pairs < LEAST_PAIRS)


def scatter_at_levels(points: Points, indicated: Array) -> tuple[float, int]:
    """Return the pooled variance of the errors within test points, and its degrees of freedom."""
    level = levels_of(points.meter)
    visits = _visits(points)
    error = indicated - points.meter
    total, freedom = 0.0, 0
    for k in range(int(level.max()) + 1):
        means = _at_level(error, visits, level == k)
        if means.size > 1:
            total += float(np.sum((means - means.mean()) ** 2))
            freedom += means.size - 1
    return (total / freedom if freedom else 0.0), freedom
