"""Good enough? Enough points? Moved since last time?

A verdict counts the uncertainty (JCGM 106:2012, ISO 14253-1): pass when the deviation and its
95 % interval lie inside the tolerance, fail when they lie outside, else it cannot be told.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.number_format import rounded_pair
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
    half_width: of its 95 % interval; tolerance: allowed, all in the quantity's unit.
    """

    what: str
    result: str
    at: float
    deviation: float
    half_width: float
    tolerance: float
    text: str


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


def asked_first(verdict: Verdict, reason: str) -> Verdict:
    """Return the verdict withheld, because a point must be asked about before it counts."""
    return replace(verdict, result=CANNOT_TELL,
                   text=f"{verdict.what}: {CANNOT_TELL}; {reason}")


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


def _unproven(calibration: Calibration) -> str:
    """Return why these points cannot bear a pass, or "" when they can.

    A curve proves nothing of the points that it was bent through, nor of levels it never saw.
    """
    points, count, need = calibration.points, calibration.points.count, _need(calibration)
    if count < need:
        return f"not enough: {count} of at least {need} points"
    apart = float(np.max(calibration.meter.limit(points.meter))) + calibration.meter.resolution
    level = levels_of(points.meter, apart)
    levels = int(level.max()) + 1
    if calibration.curve.form == "table":
        again = int(np.sum(np.bincount(level) > 1))
        return "" if again >= LEAST_REPEATS else (
            "not enough: a curve with as many pieces as points cannot prove itself; take at "
            f"least {LEAST_REPEATS} of the {count} points again")
    least = max(LEAST_LEVELS, calibration.curve.coefficients.size + 1)
    if levels < least:
        place = "level" if levels == 1 else "levels"
        return (f"not enough: the {count} points lie at {levels} {place}; set at least {least} "
                "that are further apart than the meter may be off")
    return ""


def _own_hysteresis(calibration: Calibration) -> str:
    """Return that the sender itself, not the meter, makes the doubt; "" where it does not."""
    seen = calibration.spread.hysteresis
    meter = calibration.meter
    allowed = float(np.max(meter.limit(calibration.points.meter))) + meter.resolution
    if not seen > 2.0 * allowed:
        return ""
    return (f"the sender's own hysteresis of {seen:.2g} {calibration.unit} is more than the meter "
            f"may be off ({allowed:.2g}): neither more points nor a better meter would tell")


def _verdict(what: str, calibration: Calibration, x: Array, predicted: list[Prediction],
             deviation: Array, tolerance: float) -> Verdict:
    unit = calibration.unit
    half = np.array([p.half_width for p in predicted])
    size = np.abs(deviation)
    if np.any(size - half > tolerance):
        result, place = FAIL, int(np.argmax(size - half))
    else:
        place = int(np.argmax(size + half))
        result = PASS if size[place] + half[place] <= tolerance else CANNOT_TELL
    missing = _unproven(calibration) if result == PASS else ""
    result = CANNOT_TELL if missing else result
    at = predicted[place].value
    off, doubt = rounded_pair(float(deviation[place]), float(half[place]), signed=True)
    words = (f"{what}: {result}; at {at:.4g} {unit} it is off by {off} "
             f"± {doubt} {unit} (95 %), allowed ±{tolerance:.3g} {unit}")
    if missing:
        words += f"; {missing}"
    elif result == CANNOT_TELL and half[place] > 0:
        own = calibration.predict(float(x[place]), with_meter=False).half_width
        words += ("; " + _own_hysteresis(calibration)) if _own_hysteresis(calibration) else (
            "; more points would tell" if _points_limit(calibration, own, half[place])
                  else "; a better meter would tell")
    return Verdict(what, result, at, float(deviation[place]), float(half[place]), tolerance, words)


@dataclass(frozen=True)
class Enough:
    """Hold whether the points suffice, and what to do next, one sentence."""

    enough: bool
    text: str


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
            return Enough(False, f"the {name} end is not covered: take a point near "
                                 f"{end:.4g} {unit}")
    if meter.size < need:
        wide = int(np.argmax(np.diff(np.concatenate([[bottom], meter, [top]]))))
        ends = np.concatenate([[bottom], meter, [top]])
        return Enough(False, f"{meter.size} of at least {need} points; next take one near "
                             f"{0.5 * (ends[wide] + ends[wide + 1]):.4g} {unit}")
    missing = _unproven(calibration)
    if missing:
        return Enough(False, missing)
    if tolerance is not None:
        ends = np.array([calibration.low, calibration.high])
        worst = max((calibration.predict(float(x)) for x in ends), key=lambda p: p.half_width)
        own = max(calibration.predict(float(x), with_meter=False).half_width for x in ends)
        if worst.half_width > USEFUL_SHARE * tolerance:
            if _points_limit(calibration, own, worst.half_width):
                return Enough(False, f"the interval ±{worst.half_width:.2g} {unit} is more than a "
                                     f"third of the tolerance {tolerance:.3g} {unit}: take more "
                                     "points at both ends")
            return Enough(True, f"enough points; the meter itself limits the interval to "
                                f"±{worst.half_width:.2g} {unit}, more than a third of the "
                                f"tolerance {tolerance:.3g} {unit}: more points will not help, a "
                                "better meter would")
    return Enough(True, f"enough: {meter.size} points over {meter[0]:.4g} to {meter[-1]:.4g} "
                        f"{unit}")


@dataclass(frozen=True)
class Change:
    """Hold how far a channel moved between two calibrations, where it moved most.

    half_width: of the 95 % interval of the difference; real: whether it exceeds that.
    """

    at_volts: float
    before: float
    after: float
    difference: float
    half_width: float
    real: bool
    text: str


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
            best = Change(float(volts), old.value, new.value, gap, half, abs(gap) > half, "")
    if best is None:
        raise BadParameter("calibrations share no range", low_volts=low_volts,
                           high_volts=high_volts)
    words = "moved" if best.real else "did not move by more than the uncertainty"
    moved, doubt = rounded_pair(best.difference, best.half_width, signed=True)
    text = (f"since last time it {words}: {moved} ± {doubt} {unit} "
            f"at {best.after:.4g} {unit}")
    return Change(best.at_volts, best.before, best.after, best.difference, best.half_width,
                  best.real, text)
