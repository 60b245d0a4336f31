"""Good enough? Enough points? Moved since last time?

A verdict counts the uncertainty (JCGM 106:2012, ISO 14253-1): pass when the deviation and its
95 % interval lie inside the tolerance, fail when they lie outside, else it cannot be told.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason, Value
from analysis.model.recording import Array
from analysis.senders.calibration.calibrate import Calibration, Prediction
from analysis.senders.calibration.points import levels_of

PASS, FAIL, CANNOT_TELL = "pass", "fail", "cannot tell"
LEAST_LEVELS = 3
# Points beyond the number of coefficients: the chi-squared test needs something to test.
LEAST_SPARE = 3
# A calibration should be several times better than what it is to decide (common practice).
USEFUL_SHARE = 1.0 / 3.0
# Levels of a table that were read again: it goes through all others, whatever they say.
LEAST_REPEATS = 2
_GRID = 41


@dataclass(frozen=True)
class Verdict:
    """Hold pass, fail or cannot tell, and the place that decided it.

    what: "as found" or "as calibrated". at: the quantity there; deviation: shown less true;
    half_width: of its 95 % interval; tolerance: allowed, all in `unit`, the quantity's. why: it is
    withheld, or what would tell; None where nothing is to be said. asked: a point, or the meter,
    must be looked at before anything is judged.
    """

    what: str
    result: str
    at: float
    deviation: float
    half_width: float
    tolerance: float
    unit: str
    why: Reason | None = None
    asked: bool = False


def judge_as_found(calibration: Calibration, tolerance: float,
                   stated: Callable[[Array], Array] | None = None) -> Verdict:
    """Return whether what the channel shows with its stated values is within the tolerance.

    stated: what the stated values make of x as the quantity, same shape; None where x is the
    quantity itself. The whole calibrated range is looked at.
    """
    _check(tolerance)
    grid = np.linspace(calibration.low, calibration.high, _GRID)
    shown = grid if stated is None else stated(grid)
    predicted = [calibration.predict(float(x)) for x in grid]
    deviation = np.array([x - p.value for x, p in zip(shown, predicted, strict=True)])
    return _verdict("as found", calibration, grid, predicted, deviation, tolerance)


def judge_as_calibrated(calibration: Calibration, tolerance: float) -> Verdict:
    """Return whether the channel is within the tolerance once this calibration is applied.

    The deviation of each point from the curve and the interval there are looked at.
    """
    _check(tolerance)
    predicted = [calibration.predict(float(x)) for x in calibration.x]
    return _verdict("as calibrated", calibration, calibration.x, predicted,
                    0.0 - calibration.residuals, tolerance)


def asked_first(verdict: Verdict, why: Reason) -> Verdict:
    """Return the verdict withheld, because a point must be asked about before it counts."""
    return replace(verdict, result=CANNOT_TELL, why=why, asked=True)


def _check(tolerance: float) -> None:
    if not (np.isfinite(tolerance) and tolerance > 0):
        raise BadParameter("tolerance not above 0", tolerance=tolerance)


def _points_limit(calibration: Calibration, own: float, whole: float) -> bool:
    """Return whether more points would narrow an interval, rather than a better meter.

    own, whole: half its width without and with the meter's own scale and zero error.
    """
    return own > 0.5 * whole and calibration.points.meter.size < 3 * _need(calibration)


def _need(calibration: Calibration) -> int:
    """Return how many points the curve needs at least."""
    return max(2, calibration.curve.coefficients.size) + LEAST_SPARE


def _unproven(calibration: Calibration) -> Reason | None:
    """Return why these points cannot bear a pass, or None when they can.

    A curve proves nothing of the points that it was bent through, nor of levels it never saw.
    """
    points, count, need = calibration.points, calibration.points.count, _need(calibration)
    if count < need:
        return Reason("too few points", {"points": count, "least": need})
    apart = float(np.max(calibration.meter.limit(points.meter))) + calibration.meter.resolution
    level = levels_of(points.meter, apart)
    levels = int(level.max()) + 1
    if calibration.curve.form == "table":
        again = int(np.sum(np.bincount(level) > 1))
        return None if again >= LEAST_REPEATS else Reason("table proves nothing", {
            "points": count, "least": LEAST_REPEATS})
    least = max(LEAST_LEVELS, calibration.curve.coefficients.size + 1)
    if levels < least:
        return Reason("too few levels", {"points": count, "levels": levels, "least": least})
    return None


def _own_hysteresis(calibration: Calibration) -> Reason | None:
    """Return that the sender itself, not the meter, makes the doubt; None where it does not."""
    seen = calibration.spread.hysteresis
    meter = calibration.meter
    allowed = float(np.max(meter.limit(calibration.points.meter))) + meter.resolution
    if not seen > 2.0 * allowed:
        return None
    return Reason("its own hysteresis makes the doubt", {
        "hysteresis": seen, "unit": calibration.unit, "meter_limit": allowed})


def _verdict(what: str, calibration: Calibration, x: Array, predicted: list[Prediction],
             deviation: Array, tolerance: float) -> Verdict:
    half = np.array([p.half_width for p in predicted])
    size = np.abs(deviation)
    if np.any(size - half > tolerance):
        result, place = FAIL, int(np.argmax(size - half))
    else:
        place = int(np.argmax(size + half))
        result = PASS if size[place] + half[place] <= tolerance else CANNOT_TELL
    why = _unproven(calibration) if result == PASS else None
    if result == CANNOT_TELL and half[place] > 0:
        own = calibration.predict(float(x[place]), with_meter=False).half_width
        why = _own_hysteresis(calibration) or (
            Reason("more points would tell") if _points_limit(calibration, own, half[place])
            else Reason("better meter would tell"))
    elif why is not None:
        result = CANNOT_TELL
    return Verdict(what, result, predicted[place].value, float(deviation[place]),
                   float(half[place]), tolerance, calibration.unit, why)


@dataclass(frozen=True)
class Enough:
    """Hold whether the points suffice, and what to do next."""

    enough: bool
    reason: Reason


def enough_points(calibration: Calibration, low: float | None = None, high: float | None = None,
                  tolerance: float | None = None) -> Enough:
    """Return whether the calibration can stand, or which point to take next.

    low, high: the range of the quantity that is to be covered; tolerance: to be decided, in
    the quantity's unit. The rules: three points more than coefficients, at three test points
    at least, the wanted range covered but for a tenth, and an interval of at most a third of
    the tolerance, as far as points can bring it there.
    """
    # A meter may show "-0.0"; a person reads 0.
    meter = np.sort(calibration.points.meter) + 0.0
    unit = calibration.unit
    need = _need(calibration)
    bottom = meter[0] if low is None else low
    top = meter[-1] if high is None else high
    room = 0.1 * (top - bottom)
    for end, name, short in ((bottom, "low", meter[0] - bottom), (top, "high", top - meter[-1])):
        if short > room:
            return Enough(False, Reason("end not covered", {
                "end": name, "at": float(end), "unit": unit}))
    if meter.size < need:
        wide = int(np.argmax(np.diff(np.concatenate([[bottom], meter, [top]]))))
        ends = np.concatenate([[bottom], meter, [top]])
        return Enough(False, Reason("further point wanted", {
            "points": int(meter.size), "least": need,
            "at": float(0.5 * (ends[wide] + ends[wide + 1])), "unit": unit}))
    missing = _unproven(calibration)
    if missing is not None:
        return Enough(False, missing)
    if tolerance is not None:
        ends = np.array([calibration.low, calibration.high])
        worst = max((calibration.predict(float(x)) for x in ends), key=lambda p: p.half_width)
        own = max(calibration.predict(float(x), with_meter=False).half_width for x in ends)
        if worst.half_width > USEFUL_SHARE * tolerance:
            values: dict[str, Value] = {"half_width": worst.half_width, "tolerance": tolerance,
                                        "unit": unit}
            if _points_limit(calibration, own, worst.half_width):
                return Enough(False, Reason("interval too wide", values))
            return Enough(True, Reason("meter limits the interval", values))
    return Enough(True, Reason("enough points", {
        "points": int(meter.size), "low": float(meter[0]), "high": float(meter[-1]),
        "unit": unit}))


@dataclass(frozen=True)
class Change:
    """Hold how far a channel moved between two calibrations, where it moved most.

    half_width: of the 95 % interval of the difference; real: whether it exceeds that. unit: of the
    quantity.
    """

    at_volts: float
    before: float
    after: float
    difference: float
    half_width: float
    real: bool
    unit: str


def change_since(before: Callable[[float], Prediction], after: Callable[[float], Prediction],
                 low_volts: float, high_volts: float, unit: str) -> Change:
    """Return the largest change between two calibrations over a range of volts at the input.

    before, after: volts at the input -> prediction; leave the meter's own error out of both
    when the same meter was used (`Calibration.predict(with_meter=False)`).
    """
    best: Change | None = None
    for volts in np.linspace(low_volts, high_volts, _GRID):
        old, new = before(float(volts)), after(float(volts))
        if not (np.isfinite(old.value) and np.isfinite(new.value)):
            continue
        gap = new.value - old.value
        half = float(np.hypot(old.half_width, new.half_width))
        if best is None or abs(gap) - half > abs(best.difference) - best.half_width:
            best = Change(float(volts), old.value, new.value, gap, half, abs(gap) > half, unit)
    if best is None:
        raise BadParameter("calibrations share no range", low_volts=low_volts,
                           high_volts=high_volts)
    return best
