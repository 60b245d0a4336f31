"""What the returns that were seen say of later ones: three bounds, a trend, a catch, a doubt.

Each bound under a law of its own: normal scatter, scatter of a pedal that may stick, wilder
scatter (statistics.returns_bound.LAWS). Method: docs/method_deadband.md, "Returns".
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.finding import Reason, SweepCode
from analysis.model.recording import Array
from analysis.statistics import bounds
from analysis.statistics.resting_places import (
    Catch,
    effective_number,
    find_catch,
    share_bound,
)
from analysis.statistics.returns_bound import LEAN, lean_scale, returns_bound, returns_factor
from analysis.statistics.trend import trend

OUTLIER_SIGNIFICANCE = 0.01
# A rise counts as a trend when chance shows it once in two hundred sweeps.
TREND_SIGNIFICANCE = 0.005
# A rise is carried on through the later key-ons while that costs no more than this, % of travel.
CARRIED_PERCENT = 1.0
# Lift-offs offered at once, and the time each takes in the guided plan.
MORE_LIFT_OFFS, LIFT_OFF_SECONDS = 18, 4.8
# With fewer returns a tenth of the pedals that only stick are taken for catching; of those one in
# six or fewer once MORE_LIFT_OFFS are added to 13, and nearly all that catch (docs, "Returns").
TELLS_APART = 25
WITHDRAWN: SweepCode = "promise withdrawn"
OUTLIER: SweepCode = "return off the others"
CREEPS: SweepCode = "rest creeps"
CATCHES: SweepCode = "catches at rest"
# Every code under which a promise is withdrawn.
WITHDRAWALS = frozenset({WITHDRAWN, OUTLIER, CREEPS, CATCHES})


@dataclass(frozen=True)
class Scatter:
    """Hold the line "scatter of returns" under one law, volts, and its ground."""

    volts: float
    why: Reason


@dataclass(frozen=True)
class Returns:
    """Hold what the returns of one track say of later ones; volts towards pressed.

    scatter: by law. rise: of rest from the first return to the last where it is no chance, else
    0. carried: that rise followed on through the later returns. effective: how many independent
    returns they are worth. outlier: the furthest return by Grubbs' test for normal scatter, in
    standard deviations, NaN when it belongs to the others. scale: S of statistics.returns_bound.
    """

    count: int
    scatter: Mapping[str, Scatter]
    middle_volts: float
    middle_why: Reason
    drift_volts: float
    drift_why: Reason
    rise: float
    carried: float
    span: float
    effective: float
    catch: Catch | None
    outlier: float
    furthest: float
    scale: float

    def withdrawn_because(self, law: str) -> tuple[SweepCode, Reason] | None:
        """Return why the returns carry no promise under a law, as code and reason, or None."""
        if self.rise > 0 and self.carried > CARRIED_PERCENT / 100.0 * self.span:
            return CREEPS, Reason("rest creeps", {
                "rise_volts": self.rise, "returns": self.count, "carried_volts": self.carried})
        if self.catch is not None:
            return CATCHES, Reason("catches at rest", {
                "times": self.catch.times, "returns": self.catch.of,
                "apart_volts": self.catch.apart, "share": self.catch.share})
        if law == "even" and np.isfinite(self.outlier):
            return OUTLIER, Reason("return off the others", {
                "returns": self.count, "short_volts": self.furthest,
                "standard_deviations": self.outlier})
        return None


@dataclass(frozen=True)
class Offer:
    """Hold how many more lift-offs would pay, how long they take, s, and the line they leave, V."""

    more: int
    seconds: float
    scatter_volts: float


def offer_more(seen: Returns, law: str, later: int, risk: float) -> Offer | None:
    """Return the offer of more lift-offs under a law, None for "even" or with 40 returns or more.

    The furthest of more returns lies further out, as the largest of more normal values does (Blom
    1958), and so does the least, which S counts; the factor falls by more than that.
    """
    more = MORE_LIFT_OFFS
    if law == "even" or seen.count >= 40 or seen.furthest <= 0:
        return None
    further = _largest(seen.count + more) / _largest(seen.count)
    then = returns_factor(seen.count + more, later, 1.0 - risk, law)
    whole = seen.furthest * further + then * seen.scale * further**-LEAN
    return Offer(more, more * LIFT_OFF_SECONDS, max(whole - seen.middle_volts, 0.0))


def _largest(count: int) -> float:
    """Return where the largest of so many normal values lies on average, in sigma (Blom 1958)."""
    from scipy.special import ndtri

    return float(ndtri((count - 0.375) / (count + 0.25)))


def judge_returns(lifts: Array, moved: float, times: Array, step: float, span: float, later: int,
                  risk: float, in_car: bool = False) -> Returns:
    """Return what returns say of so many later ones, all of them with that risk.

    lifts: shape (n,), n of 3 or more, in order of time, volts towards pressed from their median.
    moved: how far a straight line through them moved, NaN or 0 when within chance. times: shape
    (n,), seconds. step, span: volts. risk: between 0 and 1. in_car: they are
    of the pedal as installed. Lines are never below 0: it may rest further from pressed there.
    """
    count, confidence = int(lifts.size), 1.0 - risk
    middle, left = float(np.mean(lifts)), lifts - np.mean(lifts)
    hidden = bounds.quantisation_noise(step)
    rise, carried = _rise(lifts, moved, step, later)
    degrees = count - 1
    if moved or rise > 0:
        x = times - times.mean()
        left = left - x * float(x @ left) / float(x @ x)
        degrees -= 1
    # Levels that rounding to steps left alike may still differ by what rounding hides.
    spread = max(float(np.sqrt(left @ left / degrees)), hidden)
    effective = effective_number(left)
    catch = find_catch(left, 2.0 * step)
    scatter = _even(lifts, middle, spread, degrees, later, confidence)
    whole = bounds.prediction_factor(count, later, confidence, degrees)
    bare = bounds.prediction_factor(count, later, confidence, degrees, True)
    itself = (whole - bare) * spread
    scale = lean_scale(left, hidden)
    laws = {"even": replace(scatter, volts=max(scatter.volts, 0.0))}
    for law in ("stick", "wide"):
        reach, factor = returns_bound(left, later, confidence, law, hidden, effective)
        line = max(middle + reach - itself, scatter.volts, 0.0)
        laws[law] = Scatter(line, Reason("furthest return", {
            "returns": count, "effective": effective, "furthest_volts": float(lifts.max()),
            "factor": factor, "key_ons": later, "confidence": confidence, "law": law,
            "scale_volts": scale, "in_car": in_car}))
    drift = max(1.5 * abs(moved), carried if carried <= CARRIED_PERCENT / 100 * span else 0.0)
    size = max(abs(moved), rise)
    return Returns(
        count, laws, itself,
        Reason("middle of returns", {"returns": count, "times_scatter": whole - bare}),
        drift, _drift_why(size, carried, drift, later, count), rise, carried, span, effective,
        catch, _outlier(left, spread, step), float(left.max()), scale)


def not_covered(count: int, later: int, risk: float, law: str) -> tuple[Reason, ...]:
    """Return what so many returns cannot tell of later ones, and what would cover it."""
    rarest = share_bound(0, count, 0.95)
    free = int(np.ceil(later * (1.0 - risk) / risk - 1e-9))
    wilder = () if law == "wide" else (Reason("pedal that sticks" if law == "even" else
                                              "wilder scatter"),)
    return (Reason("catch never seen", {"returns": max(int(1.0 / rarest), 1)}),
            Reason("later creep"), *wilder, Reason("key-ons would tell", {"key_ons": free}))


def _rise(lifts: Array, moved: float, step: float, later: int) -> tuple[float, float]:
    """Return the rise over all returns where it is no chance, and it carried on; else zeros."""
    count = lifts.size
    if count < 5:
        return 0.0, 0.0
    seen = trend(lifts)
    rise = seen.slope * (count - 1)
    if not (seen.chance < TREND_SIGNIFICANCE or moved > 0) or rise <= step:
        return 0.0, 0.0
    # From the middle of those seen, where the median lies.
    return rise, seen.upper_slope * (later + count / 2.0)


def _even(lifts: Array, middle: float, spread: float, degrees: int, later: int,
          confidence: float) -> Scatter:
    """Return the line if returns scatter evenly: the prediction limit of a normal population."""
    count = int(lifts.size)
    bare = bounds.prediction_factor(count, later, confidence, degrees, True)
    volts = max(bare * spread + middle, float(lifts.max()))
    return Scatter(volts, Reason("even scatter", {
        "returns": count, "scatter_volts": spread, "factor": bare, "key_ons": later,
        "confidence": confidence, "mean_volts": middle,
        "furthest_volts": volts if volts > bare * spread + middle else None}))


def _drift_why(size: float, carried: float, drift: float, later: int, count: int) -> Reason:
    if size <= 0:
        return Reason("no drift", {"returns": count})
    if drift == carried:
        return Reason("rise carried on", {"rise_volts": size, "returns": count, "key_ons": later})
    return Reason("rest moved", {"moved_volts": size})


def _outlier(left: Array, spread: float, step: float) -> float:
    """Return how many standard deviations off the furthest return is, if that is no chance."""
    far, own = float(left.max()), float(np.std(left, ddof=1))
    if far > bounds.outlier_limit(left.size, OUTLIER_SIGNIFICANCE) * own and far > 2.0 * step:
        return far / spread
    return float("nan")
