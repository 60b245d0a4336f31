"""Points of a calibration that do not belong: mistyped, exchanged, or read at another value.

Every form is fitted without one point (leave-one-out, in closed form: Cook and Weisberg 1982,
"Residuals and Influence in Regression", 2.2), and that point is set against what the others say
of it. It is named when it lies further off than the meter's limits allow and chance alone would
hardly put it there, provided that a curve with one more coefficient, or a kink, does not explain
all points as well: then the sender may bend, and nothing is named. A point that stands alone at
an end is another matter: a wrong one and a sender that bends just there look the same, whatever
the arithmetic. Where all others follow the simple form it is asked about, with both meanings.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.finding import Reason, Value
from analysis.model.recording import Array
from analysis.senders.calibration.calibrate import HIGHEST_DEGREE
from analysis.senders.calibration.curve import KELVIN
from analysis.senders.calibration.meter_spec import MeterSpec
from analysis.senders.calibration.points import Points
from analysis.senders.calibration.typing_slips import recognised
from analysis.statistics.straight_line import chi_quantile

# Named when chance alone puts any of the points so far off less often than this.
CHANCE = 0.005
# A point off by less than this many limits of the meter is no mistake of the person's.
LEAST_LIMITS = 1.5
# The rounding and the noise of the means are known beforehand: they count as so many readings
# beside those that the curve has to spare (a scaled inverse chi-squared prior; Gelman et al.,
# "Bayesian Data Analysis", 2.6).
_TRUST = 4
# Readings that the curve must have to spare once a point is left out.
_LEAST_SPARE = 2
# How much better leaving a point out must be than one more coefficient (ratio of chi-squared).
_BETTER = 4.0
# Where between two points a sender may have its kink, as shares of their distance.
_KINKS = (1 / 6, 1 / 3, 1 / 2, 2 / 3, 5 / 6)
# A point within this share of the range bears another one out.
_BESIDE = 0.02
# Slips so large that no sender bends like that.
_NO_BEND = ("decimal point", "sign", "Fahrenheit")
# Pairs are looked at among so many points at the most, those that lie furthest off.
_MOST_IN_PAIRS = 24


@dataclass(frozen=True)
class Outlier:
    """Hold one point that does not belong, or two whose values were exchanged.

    kind: "point", "exchanged", or "end" for one alone at an end, which may be wrong or the only
    one that shows a bend. places: indices of the points, from 0. shown: what was typed;
    expected: what the other points say, half_width of its 95 % interval, in the quantity's unit.
    chance: probability that sound points put one so far off. slip: "decimal point", "digits
    exchanged", "one digit", "sign", "Fahrenheit" or "". meant: what the slip would have been.
    """

    kind: str
    places: tuple[int, ...]
    shown: tuple[float, ...]
    expected: tuple[float, ...]
    half_width: float
    chance: float
    slip: str
    meant: float

    def reason(self, called: Sequence[int], unit: str) -> Reason:
        """Return what a person is asked about it.

        called: what the person calls these points, in order. unit: of the quantity.
        """
        if self.kind == "exchanged":
            return Reason("points look exchanged", {
                "points": tuple(called), "shown": self.shown, "unit": unit})
        values: dict[str, Value] = {
            "point": called[0], "shown": self.shown[0], "unit": unit,
            "expected": self.expected[0], "half_width": self.half_width,
            "chance_percent": 100.0 * self.chance, "slip": self.slip,
            "meant": self.meant if self.slip else None}
        if self.kind == "end":
            return Reason("point alone at its end does not fit", values)
        return Reason("point does not belong", values)


@dataclass(frozen=True)
class _Fit:
    """Hold one form fitted to all points, and each point against the others, shape (n,).

    spare: degrees of freedom with all points. chi, chi_limits: sum of squares over the points'
    own scatter, and over the meter's limits as well. gone, gone_limits: the same without each
    point. off: shown less what the others say; sigma: its standard uncertainty with the meter's
    limits counted; own: without them; allowed: the meter's limit there.
    """

    spare: int
    chi: float
    chi_limits: float
    gone: Array
    gone_limits: Array
    off: Array
    sigma: Array
    own: Array
    allowed: Array
    annihilator: Array
    target: Array
    spread: Array


def outlying_points(points: Points, x: Array, x_uncertainty: Array, meter: MeterSpec,
                    forms: Sequence[str] = ("line", "polynomial")) -> tuple[Outlier, ...]:
    """Return the points that do not belong, none when the points bear each other out.

    points: n >= 5, fewer cannot tell. x, x_uncertainty: shape (n,), as `calibrate` takes them.
    forms: in the order to be tried; tables are passed over, for a table bends through anything.
    """
    y = points.meter
    if not (np.isfinite(x).all() and np.isfinite(x_uncertainty).all()) or np.ptp(x) == 0:
        return ()
    bases = _bases(forms, x)
    fits = [_fit(basis, log, x, y, x_uncertainty, meter) for basis, log in bases]
    for k, fit in enumerate(fits):
        if fit is None:
            continue
        if fit.spare - 1 < _LEAST_SPARE:
            break
        richer = fits[k + 1] if k + 1 < len(fits) and bases[k + 1][1] == bases[k][1] else None
        found = _judge(fit, richer, bases[k][0], x, y, meter)
        if found is not None:
            return (found,)
        if fit.chi <= chi_quantile(fit.spare):
            return ()
    return ()


def without(points: Points, places: Sequence[int]) -> Points:
    """Return the points but for those at these places (from 0)."""
    keep = np.ones(points.count, dtype=bool)
    keep[list(places)] = False
    return Points(points.volts[keep], points.volts_uncertainty[keep], points.meter[keep],
                  points.way[keep])


def _bases(forms: Sequence[str], x: Array) -> list[tuple[Array, bool]]:
    """Return (columns of shape (n, p), whether y stands for 1/T) of every form, in order."""
    z = (x - np.mean(x)) / (0.5 * float(np.ptp(x)))
    found: list[tuple[Array, bool]] = []
    for form in forms:
        if form == "line":
            found.append((np.stack([np.ones(x.size), z], axis=-1), False))
        elif form == "polynomial":
            found += [(np.stack([z**k for k in range(d + 1)], axis=-1), False)
                      for d in range(2, HIGHEST_DEGREE + 1)]
        elif form in ("beta", "steinhart-hart") and np.all(x > 0):
            log = np.log(x)
            # Powers of the centred logarithm span the same curves and keep the digits.
            w = log - np.mean(log)
            columns = [np.ones(x.size), log] if form == "beta" else [np.ones(x.size), w, log**3]
            found.append((np.stack(columns, axis=-1), True))
    return found


def _fit(basis: Array, log: bool, x: Array, y: Array, ux: Array, meter: MeterSpec) -> _Fit | None:
    n, p = basis.shape
    if n - p < 1:
        return None
    kelvin = y + KELVIN
    if log and np.any(kelvin <= 0):
        return None
    target = 1.0 / kelvin if log else y
    gain = kelvin**-2 if log else np.ones(n)
    slope = _slope(np.log(x), y) / x if log else _slope(x, y)
    own = np.sqrt(meter.rounding_uncertainty**2 + (slope * ux) ** 2
                  + (1e-7 * float(np.ptp(y))) ** 2)
    spread = own * gain
    scaled = basis / spread[:, None]
    size = np.linalg.norm(scaled, axis=0)
    q, r = np.linalg.qr(scaled / size)
    if np.min(np.abs(np.diagonal(r))) < 1e-10:
        return None
    keep = np.eye(n) - q @ q.T
    residual = keep @ (target / spread)
    left = np.maximum(np.diagonal(keep), 1e-9)
    deleted = residual / left
    said = target - deleted * spread
    if log:
        with np.errstate(divide="ignore"):
            said = np.where(said > 0, 1.0 / np.where(said > 0, said, 1.0) - KELVIN, 1e6)
    off = y - said
    # A slipped decimal point must not widen its own limit.
    shown = np.where(np.abs(said) < np.abs(y), said, y)
    allowed = meter.limit(shown) + 0.5 * meter.resolution
    # The limits of all points, as the prediction sees them: the median is not moved by one slip.
    usual = float(np.median(allowed)) / np.sqrt(3.0)
    lever = (1.0 - left) / left
    sigma = np.sqrt(own**2 / left + allowed**2 / 3.0 + lever * usual**2)
    share = own**2 / (own**2 + usual**2)
    chi = float(residual @ residual)
    gone = np.maximum(chi - residual**2 / left, 0.0)
    ratio = float(np.median(share))
    return _Fit(n - p, chi, chi * ratio, gone, gone * ratio, off, sigma, own / np.sqrt(left),
                allowed, keep, target, spread)


def _slope(x: Array, y: Array) -> float:
    """Return the median slope between neighbours, which one wrong point does not move."""
    order = np.argsort(x)
    run, rise = np.diff(x[order]), np.diff(y[order])
    good = run > 0.005 * float(np.ptp(x))
    return float(np.median(np.abs(rise[good] / run[good]))) if good.any() else 0.0


def _judge(fit: _Fit, richer: _Fit | None, basis: Array, x: Array, y: Array,
           meter: MeterSpec) -> Outlier | None:
    """Return the stranger by this form, or None."""
    from scipy.special import ndtr, stdtr

    n = y.size
    spare = fit.spare - 1
    place = int(np.argmin(fit.gone))
    trusted = spare + _TRUST
    scatter = max(1.0, float(np.sqrt((fit.gone[place] + _TRUST) / trusted)))
    limits = 2.0 * n * float(ndtr(-abs(fit.off[place]) / fit.sigma[place]))
    known = 2.0 * n * float(stdtr(trusted, -abs(fit.off[place]) / (fit.own[place] * scatter)))
    chance = min(1.0, limits, known)
    swap = _exchanged(fit, y)
    if swap is not None:
        return swap
    if fit.gone_limits[place] > chi_quantile(spare, 0.99) or chance > CHANCE \
            or abs(fit.off[place]) < LEAST_LIMITS * fit.allowed[place]:
        return None
    other = _kinked(fit, basis, x) if richer is None else min(richer.chi, _kinked(fit, basis, x))
    bends = other < _BETTER * (fit.gone[place] + float(chi_quantile(spare, 0.5)))
    alone = _alone_at_an_end(x, place)
    # Asked about only where nothing else speaks for a bend.
    if bends and not (alone and fit.gone[place] <= chi_quantile(spare, 0.99)):
        return None
    said = float(y[place] - fit.off[place])
    half = 1.96 * float(fit.sigma[place])
    slip, meant = recognised(float(y[place]), said, half, meter.resolution)
    kind = "end" if alone and slip not in _NO_BEND else "point"
    return Outlier(kind, (place,), (float(y[place]),), (said,), half, chance, slip, meant)


def _alone_at_an_end(x: Array, place: int) -> bool:
    """Return whether a point is the lowest or the highest, and no other lies beside it."""
    away = np.delete(x, place) - x[place]
    return bool((np.all(away > 0) or np.all(away < 0))
                and np.min(np.abs(away)) > _BESIDE * np.ptp(x))


def _kinked(fit: _Fit, basis: Array, x: Array) -> float:
    """Return the least sum of squares of all points with one kink added to the form.

    Two points at least lie on either side, and no kink lies next to the last of them: else a
    wrong point at an end would always be a kink.
    """
    order = np.sort(x)
    best = np.inf
    for k in range(1, order.size - 2):
        for share in _KINKS:
            if (k == 1 and share < 0.5) or (k == order.size - 3 and share > 0.5):
                continue
            knot = order[k] + share * (order[k + 1] - order[k])
            column = fit.annihilator @ (np.maximum(0.0, x - knot) / fit.spread)
            power = float(column @ column)
            residual = fit.annihilator @ (fit.target / fit.spread)
            if power > 0:
                best = min(best, fit.chi - float(column @ residual) ** 2 / power)
    return float(best)


def _exchanged(fit: _Fit, y: Array) -> Outlier | None:
    """Return the two points whose values, exchanged, make all points fit; None when none do."""
    n = y.size
    if fit.chi_limits <= chi_quantile(fit.spare):
        return None
    residual = fit.annihilator @ (fit.target / fit.spread)
    far = np.argsort(-np.abs(residual))[:_MOST_IN_PAIRS]
    best: tuple[float, int, int] | None = None
    for i, j in itertools.combinations(sorted(int(k) for k in far), 2):
        step = np.zeros(n)
        gap = fit.target[j] - fit.target[i]
        step[i], step[j] = gap / fit.spread[i], -gap / fit.spread[j]
        after = residual + fit.annihilator @ step
        chi = float(after @ after)
        if best is None or chi < best[0]:
            best = (chi, i, j)
    if best is None:
        return None
    chi, i, j = best
    alone = float(np.min(fit.gone))
    allowed = float(max(fit.allowed[i], fit.allowed[j]))
    # The exchange costs no coefficient, so it must do at least as well as leaving one point out.
    if chi > 2.0 * alone + chi_quantile(fit.spare, 0.5) or abs(y[i] - y[j]) < 2.5 * allowed \
            or chi * (fit.chi_limits / fit.chi) > chi_quantile(fit.spare, 0.99):
        return None
    return Outlier("exchanged", (i, j), (float(y[i]), float(y[j])), (float(y[j]), float(y[i])),
                    1.96 * float(max(fit.sigma[i], fit.sigma[j])), 0.0, "", float("nan"))
