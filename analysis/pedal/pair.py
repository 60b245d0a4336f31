"""Two tracks: their relation, the fitted line, the mismatch along travel, the play between them.

Method and formulas: docs/method.md, "Two tracks".
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.model.estimate import Estimate
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.relations import Relation, relation_of
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.travel import Ends
from analysis.signal.segments import Segment
from analysis.signal.smoothing import bin_means, filled, median, running_mean, runs

BIN_PERCENT = 1.0
EDGES = np.arange(0.0, 100.0 + BIN_PERCENT, BIN_PERCENT)
MIDDLES = (EDGES[:-1] + EDGES[1:]) / 2
# A bin's mean is shown only with this many points behind it.
LEAST_POINTS = 3
# Above this standard error (% of travel) the bins are smoothed over three.
ROUGH = 0.06
# Weight of each end of travel in the line between the tracks.
ANCHOR = 0.3

PRESSING, RELEASING, NEITHER = 1, -1, 0
Way = NDArray[np.int8]


@dataclass(frozen=True)
class PairFindings:
    """Hold how track `second` relates to track `first`: second = gain * first + offset.

    relation: its name in `RELATIONS`.
    travel_percent: bin middles, shape (m,); mismatch arrays of the same shape, signed
        (first minus second), % of travel, NaN where a bin was not visited.
    play_percent: largest difference between pressing and releasing at one travel.
    mismatch_at_rest_percent: on the target rest and span, None without targets.
    """

    first: str
    second: str
    relation: Relation
    gain: Estimate
    offset_volts: Estimate
    travel_percent: Array
    mismatch_percent: Array
    mismatch_press_percent: Array
    mismatch_release_percent: Array
    mismatch_max_percent: Estimate
    mismatch_at_travel_percent: float
    mismatch_at_rest_percent: float | None
    play_percent: Estimate
    play_at_travel_percent: float


@dataclass(frozen=True)
class Curves:
    """Hold the mismatch along travel, pressing and releasing, with standard errors; shape (m,)."""

    press: Array
    release: Array
    press_error: Array
    release_error: Array

    def filled(self) -> tuple[Array, Array]:
        """Return both curves without holes; a curve never visited takes the other's values."""
        press, release = self.press, self.release
        if not np.isfinite(press).any():
            press = release
        if not np.isfinite(release).any():
            release = press
        return filled(press), filled(release)


def ways(segments: tuple[Segment, ...], points: int, size: int) -> Way:
    """Return for every thinned point whether it is PRESSING, RELEASING (slowly) or NEITHER.

    Only when there is no slow move at all are the quick ones used.
    """
    result = np.zeros(points, dtype=np.int8)
    for quick_too in (False, True):
        for segment in segments:
            if segment.kind in ("press", "release") and (quick_too or not segment.quick):
                way = PRESSING if segment.kind == "press" else RELEASING
                result[segment.start // size: segment.stop // size] = way
        if np.any(result):
            break
    return result


def mismatch_curves(pedal: Array, difference: Array, way: Way) -> Curves:
    """Return mean difference of the two tracks' travel in bins of pedal travel, by way.

    pedal, difference: shape (m,), % of travel, NaN where a track is not trusted.
    """
    curves = []
    for which in (PRESSING, RELEASING):
        chosen = way == which
        mean, spread, number = bin_means(pedal[chosen], difference[chosen], EDGES)
        enough = number >= LEAST_POINTS
        mean[~enough] = np.nan
        # No spread (NaN) where there is no point, so nothing is divided by 0.
        error = np.where(enough, spread / np.sqrt(number), np.nan)
        if enough.any() and float(np.nanmedian(error)) > ROUGH:
            mean = np.where(enough, running_mean(filled(mean), 3), np.nan)
            error = error / np.sqrt(3.0)
        curves.append((mean, error))
    (press, press_error), (release, release_error) = curves
    return Curves(press, release, press_error, release_error)


def robust_line(x: Array, y: Array, anchors: tuple[Array, Array] | None = None) -> tuple[
        Estimate, Estimate]:
    """Return slope and intercept of y on x by iteratively reweighted least squares.

    Tukey's bisquare weights with tuning constant 4.685 (95 % efficiency for normal errors),
    scale 1.4826 * MAD; standard uncertainties from the weighted normal equations.
    anchors: x and y of points known better than the others. Once the line without them is
    found they join with ANCHOR of the whole weight each, unless they are outliers to it.
    """
    good = np.isfinite(x) & np.isfinite(y)
    x, y = x[good], y[good]
    if x.size < 3 or float(np.ptp(x)) == 0.0:
        missing = Estimate(float("nan"), float("nan"))
        return missing, missing
    base = np.ones_like(x)
    solution, scale, weights, left = _reweighted(x, y, base, _weighted(x, y, base), None)
    if anchors is not None:
        x, y = np.append(x, anchors[0]), np.append(y, anchors[1])
        heavy = ANCHOR * base.size / (1.0 - ANCHOR * anchors[0].size)
        base = np.append(base, np.full(anchors[0].size, heavy))
        solution, scale, weights, left = _reweighted(x, y, base, solution, scale)
    design = np.column_stack([x, np.ones_like(x)])
    degrees = max(float(np.count_nonzero(weights)) - 2, 1.0)
    variance = float((weights * left**2).sum()) / degrees * weights.size / base.sum()
    variance *= bending_of(left, x)
    covariance = variance * np.linalg.pinv((design * weights[:, None]).T @ design)
    return (Estimate(float(solution[0]), float(np.sqrt(covariance[0, 0]))),
            Estimate(float(solution[1]), float(np.sqrt(covariance[1, 1]))))


def bending_of(left: Array, x: Array) -> float:
    """Return by how much residuals that follow their neighbours widen the variance.

    (1 + rho) / (1 - rho), rho the lag-one correlation along x, at most that of five independent
    stretches.
    """
    along = left[np.argsort(x, kind="stable")]
    along = along - along.mean()
    power = float(along @ along)
    if power <= 0 or along.size < 10:
        return 1.0
    rho = max(float(along[1:] @ along[:-1]) / power, 0.0)
    return float(min((1 + rho) / (1 - rho), along.size / 5.0))


def _reweighted(x: Array, y: Array, base: Array, solution: Array, fixed: float | None) -> tuple[
        Array, float, Array, Array]:
    """Return solution, scale, weights and residuals, from a first solution; fixed: the scale."""
    for _turn in range(50):
        left = y - solution[0] * x - solution[1]
        # Points that lie on a line to the last digit still have a scale.
        scale = max(1.4826 * median(np.abs(left)), 1e-9) if fixed is None else fixed
        weights = base * np.clip(1 - (left / (4.685 * scale)) ** 2, 0, None) ** 2
        before, solution = solution, _weighted(x, y, weights)
        if all(abs(new - old) <= 1e-14 + 1e-10 * abs(old)
               for new, old in zip(solution.tolist(), before.tolist(), strict=True)):
            break
    return solution, scale, weights, y - solution[0] * x - solution[1]


def _weighted(x: Array, y: Array, weights: Array) -> Array:
    """Return slope and intercept with the least weighted sum of squares."""
    root = np.sqrt(weights)
    design = np.column_stack([x * root, root])
    return np.asarray(np.linalg.lstsq(design, y * root, rcond=None)[0], dtype=np.float64)


def measure_pair(first: TrackFindings, second: TrackFindings, volts: Mapping[str, Array],
                 pedal: Array, ends: Mapping[str, Ends], way: Way,
                 parameters: Parameters) -> PairFindings:
    """Return how two tracks relate.

    volts: thinned, by track, shape (m,), NaN where not trusted; pedal: shape (m,), %.
    """
    a, b = volts[first.column], volts[second.column]
    difference = ends[first.column].percent(a) - ends[second.column].percent(b)
    whole = mismatch_curves(pedal, difference, way)
    gain, offset = fit_tracks(first, second, a, b, pedal, way, whole)
    worst, worst_at = Estimate(float("nan"), float("nan")), float("nan")
    for curve, error in ((whole.press, whole.press_error), (whole.release, whole.release_error)):
        if not np.isfinite(curve).any():
            continue
        k = int(np.nanargmax(np.abs(curve)))
        if not abs(curve[k]) <= worst.value:
            worst, worst_at = Estimate(abs(float(curve[k])), float(error[k])), MIDDLES[k]
    ends_error = 100.0 * np.hypot(first.rest.standard / first.span.value,
                                  second.rest.standard / second.span.value)
    worst = Estimate(worst.value, float(np.hypot(worst.uncertainty, ends_error)))
    play, play_at = play_between(whole, repeats_within(pedal, difference, way))
    return PairFindings(
        first.column, second.column,
        relation_of(gain.value, offset.value / first.nominal_volts), gain, offset,
        MIDDLES.copy(), mean_of(whole), whole.press, whole.release,
        worst, float(worst_at), _against_targets(first, second, parameters), play, play_at)


def fit_tracks(first: TrackFindings, second: TrackFindings, a: Array, b: Array, pedal: Array,
               way: Way, curves: Curves) -> tuple[Estimate, Estimate]:
    """Return the line of the second track on the first: bins of both ways, anchored at the ends.

    The uncertainty counts that neighbouring bins bend together, half of what the ends change
    against the bins alone (with bent elements no straight line is the right one), and what the
    ends themselves are uncertain by, which the converter's bend is part of.
    The ends are rest and full level, known better than any bin. At rest the play between the
    shafts stands on the side of releasing, at full on that of pressing; half of it is taken out
    of either, so that the line runs in the middle like the bins do.
    """
    xs, ys = [], []
    for which in (PRESSING, RELEASING):
        both = (way == which) & np.isfinite(a) & np.isfinite(b)
        xs.append(bin_means(pedal[both], a[both], EDGES)[0])
        ys.append(bin_means(pedal[both], b[both], EDGES)[0])
    gap = (curves.press - curves.release)[10:-10]
    half = float(np.nanmedian(gap)) / 200.0 if np.isfinite(gap).any() else 0.0
    span = second.full.value - second.rest.value
    ends = (np.array([first.rest.value, first.full.value]),
            np.array([second.rest.value - half * span, second.full.value + half * span]))
    x, y = np.concatenate(xs), np.concatenate(ys)
    lines = robust_line(x, y), robust_line(x, y, ends)
    gain, offset = (Estimate(with_ends.value, float(np.hypot(
        with_ends.uncertainty, (with_ends.value - bins.value) / 2.0)))
        for bins, with_ends in zip(*lines, strict=True))
    slope = abs(gain.value)
    at_rest = float(np.hypot(second.rest.standard, slope * first.rest.standard))
    at_full = float(np.hypot(second.full.standard, slope * first.full.standard))
    turned = float(np.hypot(at_rest, at_full)) / first.span.value
    return (Estimate(gain.value, float(np.hypot(gain.uncertainty, turned))),
            Estimate(offset.value, float(np.hypot(
                offset.uncertainty, np.hypot(at_rest, first.rest.value * turned)))))


def mean_of(curves: Curves) -> Array:
    """Return the mean of both ways, shape (bins,), %; of one where it alone was seen."""
    press = np.where(np.isfinite(curves.press), curves.press, curves.release)
    release = np.where(np.isfinite(curves.release), curves.release, curves.press)
    result: Array = (press + release) / 2
    return result


def play_between(curves: Curves, repeated: float) -> tuple[Estimate, float]:
    """Return the largest press-to-release difference and where; repeated: how well it repeats."""
    gap = _gap(curves)
    if not np.isfinite(gap).any():
        return Estimate(float("nan"), float("nan")), float("nan")
    k = int(np.nanargmax(np.abs(gap)))
    error = float(np.nanmedian(np.hypot(curves.press_error, curves.release_error))) / 3.0
    # The largest of about ten independent places lies some two errors above the truth of none.
    return Estimate(abs(float(gap[k])), 2.0 * float(np.hypot(error, repeated))), float(MIDDLES[k])


def _gap(curves: Curves) -> Array:
    """Return pressing less releasing, smoothed over 9 % of travel; NaN where one is missing."""
    gap = curves.press - curves.release
    both = np.isfinite(gap)
    if both.sum() < 10:
        return np.full(gap.shape, np.nan)
    return np.where(both, running_mean(filled(gap), 9), np.nan)


def repeats_within(pedal: Array, difference: Array, way: Way) -> float:
    """Return the standard error of the gap between the ways, %, from its two halves; 0 for one.

    Every other press and release makes one half. Slow noise and a pivot that sticks do not
    average out within a press, so the spread within the bins does not show them.
    """
    halves = [way.copy(), way.copy()]
    for which in (PRESSING, RELEASING):
        for k, (start, stop) in enumerate(zip(*runs(way == which), strict=True)):
            halves[k % 2][start:stop] = NEITHER
    apart = np.subtract(*(_gap(mismatch_curves(pedal, difference, half)) for half in halves)) / 2.0
    seen = apart[np.isfinite(apart)]
    return float(np.sqrt(np.mean(seen**2))) if seen.size else 0.0


def _against_targets(
    first: TrackFindings, second: TrackFindings, parameters: Parameters
) -> float | None:
    """Return the mismatch at rest with both tracks put on their target rest and span, in %."""
    named = {first.column, second.column}
    if not named & (parameters.target_rest_volts.keys() | parameters.target_full_volts.keys()):
        return None
    travels = []
    for track in (first, second):
        rest = parameters.target_rest_volts.get(track.column, track.rest.value)
        full = parameters.target_full_volts.get(track.column, track.full.value)
        if full == rest:
            return None
        travels.append(100.0 * (track.rest.value - rest) / (full - rest))
    return float(abs(travels[0] - travels[1]))
