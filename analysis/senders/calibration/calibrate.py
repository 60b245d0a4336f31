"""From points to a calibration: the simplest form that the points allow, and its intervals."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.errors import NoCalibration
from analysis.model.finding import Reason, Value
from analysis.model.recording import Array
from analysis.senders.calibration.coverage import half_width
from analysis.senders.calibration.curve import Curve, fit_curve
from analysis.senders.calibration.meter_spec import MeterSpec
from analysis.senders.calibration.points import (
    SAME_SHARE,
    Points,
    Spread,
    scatter_at_levels,
    spread,
)

LEVEL = 0.95
# Why a form may stand that only the meter's limits excuse.
_METER = "meter explains the residuals"
# A richer form must leave this many readings to contradict it before it is preferred.
_TO_CONTRADICT = 2
# Places at which two forms are compared.
_GRID = 101
# Points that a line with a kink needs at the least.
_LEAST_KINKED = 5
HIGHEST_DEGREE = 3
USUAL_FORMS = ("line", "polynomial", "table")


@dataclass(frozen=True)
class Prediction:
    """Hold a value with its standard uncertainty and its 95 % interval (low, high)."""

    value: float
    uncertainty: float
    low: float
    high: float

    @property
    def half_width(self) -> float:
        """Return half the width of the interval."""
        return 0.5 * (self.high - self.low)


@dataclass(frozen=True)
class Calibration:
    """Hold a channel's calibration: quantity = curve(x), x what the channel shows.

    x, x_uncertainty: shape (n,), the points' volts turned into what the sender's stated values
    make of them (unit `x_unit`). residuals: meter less curve, (n,), in `unit`. reason: why this
    form; a calibration that was stored has the sentence. tried: form, degree, chi-squared and its
    limit of every form looked at; of one that was stored the form has its degree in it.
    """

    points: Points
    x: Array
    x_uncertainty: Array
    x_unit: str
    unit: str
    meter: MeterSpec
    curve: Curve
    reason: Reason | str
    tried: tuple[tuple[str, int, float, float], ...]
    residuals: Array
    spread: Spread

    @property
    def low(self) -> float:
        """Return the lowest x that was calibrated."""
        return float(np.min(self.x))

    @property
    def high(self) -> float:
        """Return the highest x that was calibrated."""
        return float(np.max(self.x))

    def predict(self, x: float, x_uncertainty: float = 0.0, level: float = LEVEL,
                with_meter: bool = True) -> Prediction:
        """Return the quantity at x.

        x_uncertainty: of this reading. with_meter: False leaves the meter's own scale and zero
        error out, to compare two calibrations made with the same meter.
        """
        at = np.array([x], dtype=float)
        value = float(self.curve.value(at)[0])
        shift = self.curve.shift
        own = float(np.sqrt(max(self.curve.variance(at)[0] - shift**2, 0.0)
                            + (self.curve.slope(at)[0] * x_uncertainty) ** 2))
        scale = self.meter.scale_limit * abs(value) if with_meter else 0.0
        zero = self.meter.zero_limit if with_meter else 0.0
        half = half_width(own * _wider(self.curve, level), scale, zero, level, shift) \
            if np.isfinite(value) else float("nan")
        total = float(np.sqrt(own**2 + shift**2 + (scale**2 + zero**2) / 3.0))
        return Prediction(value, total, value - half, value + half)

    def inverse(self, y: float, y_uncertainty: float = 0.0) -> Prediction:
        """Return the x that belongs to the quantity y; raise NoCalibration when there is none."""
        from scipy.optimize import brentq

        reach = 0.0 if self.curve.form == "table" else 0.5 * (self.high - self.low)
        grid = np.linspace(self.low - reach, self.high + reach, 401)
        off = self.curve.value(grid) - y
        # A value met exactly at a place of the grid is one reading, not one from either side.
        change = np.flatnonzero((off[:-1] * off[1:] < 0) | (off[1:] == 0))
        if off[0] == 0:
            change = np.append(0, change)
        if change.size == 0:
            raise NoCalibration("outside what was calibrated", value=y, unit=self.unit)
        if change.size > 1:
            raise NoCalibration("curve turns", value=y, unit=self.unit)
        k = int(change[0])
        x = float(brentq(lambda v: float(self.curve.value(np.array([v]))[0]) - y,
                         grid[k], grid[k + 1]))
        there = self.predict(x)
        slope = abs(float(self.curve.slope(np.array([x]))[0]))
        spread_x = float(np.hypot(there.uncertainty, y_uncertainty)) / slope
        half = float(np.hypot(there.half_width, 1.96 * y_uncertainty)) / slope
        return Prediction(x, spread_x, x - half, x + half)

    def quantities(self, x: Array) -> tuple[Array, Array]:
        """Return quantity and standard uncertainty at many x, both of the shape of x."""
        value = self.curve.value(x)
        variance = self.curve.variance(x) + (
            (self.meter.scale_limit * value) ** 2 + self.meter.zero_limit**2) / 3.0
        return value, np.sqrt(variance)

    def full_covariance(self) -> Array:
        """Return the coefficients' covariance with the meter's scale and zero error counted.

        Only for lines, kinked ones and polynomials, where both errors move the coefficients in
        proportion.
        """
        if self.curve.form not in ("line", "polynomial", "kinked"):
            return self.curve.covariance
        c = self.curve.coefficients
        first = np.zeros(c.size)
        first[0] = self.meter.zero_limit
        scaled = self.meter.scale_limit * c
        if self.curve.form == "kinked":
            scaled[3] = 0.0  # the reading at the kink, which no meter moves
        result: Array = self.curve.covariance + (
            np.outer(scaled, scaled) + np.outer(first, first)) / 3.0
        return result


def _wider(curve: Curve, level: float) -> float:
    """Return the factor by which few degrees of freedom widen a normal interval."""
    from scipy.special import ndtri, stdtrit

    if not curve.from_scatter or curve.freedom < 1:
        return 1.0
    upper = 0.5 + 0.5 * level
    return float(stdtrit(curve.freedom, upper) / ndtri(upper))


def calibrate(points: Points, x: Array, x_uncertainty: Array, meter: MeterSpec,
              unit: str = "V", x_unit: str = "V",
              forms: Sequence[str] = USUAL_FORMS) -> Calibration:
    """Return the calibration with the first form that the points do not speak against.

    points: n >= 2. x, x_uncertainty: shape (n,), the points as the sender's stated values show
    them. forms: in the order to be tried; "polynomial" stands for degrees 2 and 3.

    A form is accepted when chi-squared allows it for (1) the meter's rounding and the channel's
    noise; (2) these and the scatter between repeats at one test point; (3) these and the meter's
    limits of error, should they differ from point to point. In (2) and (3) what was seen beyond
    (1) is counted in every prediction. Raises NoCalibration.
    """
    _check_points(points, x, x_uncertainty)
    y = points.meter
    rounding = _rounding(points, meter)
    chosen, reason, tried = _choose(points, x, x_uncertainty, meter, forms)
    if chosen.form == "polynomial" and not chosen.from_scatter:
        chosen, reason = _against_a_kink(chosen, reason, x, y, x_uncertainty, rounding)
    indicated = chosen.value(x)
    return Calibration(points, x, x_uncertainty, x_unit, unit, meter, chosen, reason,
                       tuple(tried), y - indicated, spread(points, indicated))


def _choose(points: Points, x: Array, x_uncertainty: Array, meter: MeterSpec,
            forms: Sequence[str]) -> tuple[
                Curve, Reason, list[tuple[str, int, float, float]]]:
    """Return the first form that the points do not speak against, why, and what was tried.

    The last is each form, its degree, chi-squared and the limit of it. Raises NoCalibration.
    """
    y, rounding = points.meter, _rounding(points, meter)
    tried: list[tuple[str, int, float, float]] = []
    chosen: Curve | None = None
    reason: Reason | None = None
    in_reserve: tuple[Curve, Reason] | None = None
    failures: list[Reason] = []
    for form, degree in _candidates(forms, points.count):
        if form == "table" and in_reserve is not None:
            break
        named: dict[str, Value] = {"form": form, "degree": degree}
        try:
            curve = fit_curve(form, x, y, x_uncertainty, rounding, degree)
        except NoCalibration as error:
            failures.append(error.reason)
            continue
        tried.append((form, degree, curve.chi_squared, curve.chi_limit))
        if curve.from_scatter and form == "line" and _bends(x, y):
            failures.append(Reason("bend shows"))
            continue
        accepted, why = _accept(curve, points, x, x_uncertainty, meter, degree)
        excused = why is not None and why.code == _METER
        if accepted is not None and excused and in_reserve is None:
            # Only the meter's limits excuse it: a further form that needs no excuse is better.
            in_reserve = accepted, _reason(named, why, failures)
        elif accepted is not None and (in_reserve is None or (
                not excused and accepted.freedom >= _TO_CONTRADICT)):
            chosen, reason = accepted, _reason(named, why, failures)
            break
        failures.append(Reason("form does not fit", {
            **named, "chi_squared": curve.chi_squared, "chi_limit": curve.chi_limit}))
    if chosen is None and in_reserve is not None:
        chosen, reason = in_reserve
    if chosen is None or reason is None:
        raise NoCalibration("no form fits", failures=tuple(failures))
    return chosen, reason, tried


def _check_points(points: Points, x: Array, x_uncertainty: Array) -> None:
    """Raise NoCalibration for fewer than two points and for one that is no value."""
    if points.count < 2:
        raise NoCalibration("one point", points=points.count)
    bad = np.flatnonzero(~(np.isfinite(x) & np.isfinite(x_uncertainty)))
    if bad.size:
        raise NoCalibration("point is no value", point=int(bad[0]) + 1,
                            volts=float(points.volts[bad[0]]))


def _rounding(points: Points, meter: MeterSpec) -> Array:
    """Return the standard uncertainty that the display's rounding gives each point, shape (n,).

    Of a value that was shown m times the rounding is the same each time, and does not average.
    """
    _, place, times = np.unique(points.meter, return_inverse=True, return_counts=True)
    result: Array = meter.rounding_uncertainty * np.sqrt(times[place])
    return result


def _against_a_kink(curve: Curve, reason: Reason, x: Array, y: Array, ux: Array,
                    uy: Array) -> tuple[Curve, Reason]:
    """Return the better of a polynomial and a line with a kink where the points bear both.

    The better by Akaike's criterion (chi-squared + 2 coefficients). The points cannot tell which
    of the two lies between them, so what they differ by counts as scatter at any one reading.
    """
    try:
        other = fit_curve("kinked", x, y, ux, uy)
    except NoCalibration:
        return curve, reason
    if not other.chi_squared <= other.chi_limit:
        return curve, reason
    grid = np.linspace(np.min(x), np.max(x), _GRID)
    apart = float(np.sqrt(np.mean((curve.value(grid) - other.value(grid)) ** 2)))
    first = curve.chi_squared + 2 * curve.coefficients.size \
        <= other.chi_squared + 2 * other.coefficients.size
    best, rival = (curve, other) if first else (other, curve)
    why = Reason("another form fits as well", {
        "chi_squared": best.chi_squared, "chi_limit": best.chi_limit, "form": rival.form,
        "degree": rival.degree})
    return replace(best, scatter=apart), Reason("form chosen", {
        "form": best.form, "degree": best.degree, "why": why,
        "simpler": reason.values.get("simpler")})


def _candidates(forms: Sequence[str], count: int) -> list[tuple[str, int]]:
    result = []
    for form in forms:
        if form == "polynomial":
            # One point more than coefficients at the least: else it fits anything.
            result += [(form, d) for d in range(2, HIGHEST_DEGREE + 1) if count > d + 2]
            result += [("kinked", 1)] if count > _LEAST_KINKED else []
        else:
            result.append((form, 1))
    return result


def _accept(curve: Curve, points: Points, x: Array, ux: Array, meter: MeterSpec,
            degree: int) -> tuple[Curve | None, Reason | None]:
    """Return the curve, widened where needed, and why it may stand; None when it may not."""
    if curve.form == "table":
        return curve, None
    if curve.from_scatter or not np.isfinite(curve.chi_squared):
        return curve, Reason("uncertainty from the scatter" if curve.from_scatter
                             else "points cannot contradict the form")
    if curve.fits:
        return curve, Reason("form fits", {"chi_squared": curve.chi_squared,
                                           "chi_limit": curve.chi_limit})
    repeat, freedom = scatter_at_levels(points, curve.value(x))
    for extra, why in (
        (np.full(points.count, np.sqrt(repeat)) if freedom >= 2 else None,
         Reason("repeats explain the residuals")),
        (np.hypot(meter.limit(points.meter) / np.sqrt(3.0),
                  np.sqrt(repeat) if freedom >= 2 else 0.0),
         Reason("meter explains the residuals")),
    ):
        if extra is None:
            continue
        rounding = _rounding(points, meter)
        wide = fit_curve(curve.form, x, points.meter, ux, np.hypot(rounding, extra), degree)
        if wide.fits:
            return _widened(curve, points, x, ux, rounding), why
    return None, None


def _widened(curve: Curve, points: Points, x: Array, ux: Array, uy: Array) -> Curve:
    """Return the curve with the scatter beyond its stated uncertainty counted (Birge 1932).

    The excess is counted twice over: in the coefficients, and as scatter at any one reading,
    for it may be the shape of the sender, which no number of points averages away. What goes
    with the way that a point was reached is no scatter: two places, either as likely.
    """
    variance = uy**2 + (curve.slope(x) * ux) ** 2
    stated = float(np.mean(variance))
    left = points.meter - curve.value(x)
    # Read again where a run turns, a point was reached by neither way.
    moved = np.concatenate([[True], np.abs(np.diff(points.meter)) > SAME_SHARE * np.ptp(
        points.meter)])
    way = np.where(moved, points.way, 0.0)
    shift, doubt = _by_way(left, way)
    if shift and curve.freedom > 2:
        rest = (left - np.where(way > 0, np.mean(left[way > 0]), np.mean(left[way < 0])))[moved]
        freedom = max(1.0, curve.freedom - 1 - np.sum(~moved))
        ratio = max(1.0, float(np.sum(rest**2 / variance[moved])) / freedom)
        return replace(curve, covariance=curve.covariance * ratio, from_scatter=True, shift=shift,
                       scatter=float(np.sqrt((ratio - 1.0) * stated + doubt**2)))
    ratio = curve.chi_squared / curve.freedom
    return replace(curve, covariance=curve.covariance * ratio, from_scatter=True,
                   scatter=float(np.sqrt((ratio - 1.0) * stated)))


def _by_way(left: Array, way: Array) -> tuple[float, float]:
    """Return how far points reached from either side lie off, and how sure that is; 0 if not.

    The larger of both sides' means, should the runs not be balanced. Told from three points on
    either side, where the sides differ by more than four standard errors (chance: 1 in 10 000).
    """
    up, down = left[way > 0], left[way < 0]
    if min(up.size, down.size) < 3:
        return 0.0, 0.0
    error = float(np.sqrt(np.var(up, ddof=1) / up.size + np.var(down, ddof=1) / down.size))
    above, below = float(np.mean(up)), float(np.mean(down))
    if abs(above - below) <= 4.0 * error or above * below >= 0:
        return 0.0, 0.0
    return max(abs(above), abs(below)), 0.5 * error


def _bends(x: Array, y: Array) -> bool:
    """Return whether a parabola is significantly better than a line (t test at 1 %)."""
    from scipy.special import stdtr

    if x.size < 5:
        return False
    zero = np.zeros(x.size)
    bent = fit_curve("polynomial", x, y, zero, zero, 2)
    error = float(np.sqrt(bent.covariance[2, 2]))
    if error == 0.0:
        return bool(abs(bent.coefficients[2]) > 1e-9 * np.ptp(y))
    return bool(2.0 * stdtr(bent.freedom, -abs(bent.coefficients[2]) / error) < 0.01)


def _reason(named: Mapping[str, Value], why: Reason | None, failures: list[Reason]) -> Reason:
    """Return why a form was taken: what speaks for it, and against the simplest one."""
    return Reason("form chosen", {**named, "why": why,
                                  "simpler": failures[0] if failures else None})
