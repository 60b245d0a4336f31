"""The curve of a calibration: a line first; a polynomial, a thermistor's law or a table else.

| form           | quantity y of the abscissa x                       | least points |
|----------------|----------------------------------------------------|--------------|
| line           | y = a + b x                                        | 2            |
| polynomial     | y = c0 + c1 z + ... with z = (x - centre) / scale  | degree + 1   |
| kinked         | y = c0 + c1 z + c2 max(0, z - c3)                  | 5            |
| beta           | 1/T = c0 + c1 ln x, T = y + 273.15 K               | 2            |
| steinhart-hart | 1/T = c0 + c1 ln x + c2 (ln x)^3                   | 3            |
| table          | straight pieces between the test points            | 3            |
"""

from dataclasses import dataclass, field

import numpy as np

from analysis.model.errors import NoCalibration
from analysis.model.recording import Array
from analysis.statistics.straight_line import chi_quantile, fit_line

KELVIN = 273.15
_LOG_FORMS = ("beta", "steinhart-hart")
_TURNS = 8
# Points of a table within this share of its range are one knot.
_SAME_KNOT = 0.01


@dataclass(frozen=True)
class Curve:
    """Hold a fitted curve; see the module for the forms.

    coefficients: shape (p,), covariance: (p, p), from what differs from point to point only.
    degree, centre, scale: of a polynomial. knots_*: of a table, shape (k,), x rising.
    scatter: further standard uncertainty of y at any x, for what the form does not explain.
    shift: half of the sender's own hysteresis: y lies so far above or below, either as likely.
    chi_squared, chi_limit: NaN where they cannot be tested. freedom: points less coefficients.
    from_scatter: True when the points' uncertainty was not known and was taken from the scatter.
    """

    form: str
    coefficients: Array
    covariance: Array
    chi_squared: float = float("nan")
    chi_limit: float = float("nan")
    freedom: int = 0
    from_scatter: bool = False
    degree: int = 1
    centre: float = 0.0
    scale: float = 1.0
    scatter: float = 0.0
    shift: float = 0.0
    knots_x: Array = field(default_factory=lambda: np.empty(0))
    knots_y: Array = field(default_factory=lambda: np.empty(0))
    knots_u: Array = field(default_factory=lambda: np.empty(0))

    @property
    def fits(self) -> bool:
        """Return whether nothing speaks against the form."""
        return not self.chi_squared > self.chi_limit

    def value(self, x: Array) -> Array:
        """Return y at x, same shape; NaN where the form has none (outside a table)."""
        if self.form == "kinked":
            first, slope, more, knot = self.coefficients
            z = (np.asarray(x, dtype=float) - self.centre) / self.scale
            bent: Array = first + slope * z + more * np.maximum(0.0, z - knot)
            return bent
        if self.form == "table":
            # A point that was averaged into an end knot may lie just beyond it.
            room = _SAME_KNOT * self.scale
            inside = (x >= self.knots_x[0] - room) & (x <= self.knots_x[-1] + room)
            result: Array = np.where(inside, np.interp(x, self.knots_x, self.knots_y), np.nan)
            return result
        linear = self._basis(x) @ self.coefficients
        result = linear
        if self.form in _LOG_FORMS:
            with np.errstate(divide="ignore", invalid="ignore"):
                result = np.where(linear > 0, 1.0 / linear - KELVIN, np.nan)
        return result

    def slope(self, x: Array) -> Array:
        """Return dy/dx at x, same shape."""
        if self.form == "line":
            return np.full(np.shape(x), self.coefficients[1])
        if self.form == "table":
            pieces = np.diff(self.knots_y) / np.diff(self.knots_x)
            place = np.clip(np.searchsorted(self.knots_x, x) - 1, 0, pieces.size - 1)
            found: Array = pieces[place]
            return found
        step = 1e-5 * np.maximum(np.abs(x), 1e-3 * self.scale)
        result: Array = (self.value(x + step) - self.value(x - step)) / (2.0 * step)
        return result

    def variance(self, x: Array) -> Array:
        """Return the variance of y at x: the points' own uncertainty, scatter and shift."""
        if self.form == "table":
            own: Array = np.interp(x, self.knots_x, self.knots_u) ** 2 \
                + _between_knots(self.knots_x, self.knots_y, x) ** 2 / 3.0
        else:
            basis = self._basis(x)
            own = np.einsum("...i,ij,...j->...", basis, self.covariance, basis)
            if self.form in _LOG_FORMS:
                own = own * (self.value(x) + KELVIN) ** 4
        result: Array = np.maximum(own, 0.0) + self.scatter**2 + self.shift**2
        return result

    def _basis(self, x: Array) -> Array:
        if self.form == "kinked":
            z = (np.asarray(x, dtype=float) - self.centre) / self.scale
            beyond = z > self.coefficients[3]
            return np.stack([np.ones(z.shape), z, np.where(beyond, z - self.coefficients[3], 0.0),
                             np.where(beyond, -self.coefficients[2], 0.0)], axis=-1)
        return _basis(self.form, self.degree, self.centre, self.scale, x)


def _basis(form: str, degree: int, centre: float, scale: float, x: Array) -> Array:
    x = np.asarray(x, dtype=float)
    if form in _LOG_FORMS:
        with np.errstate(divide="ignore", invalid="ignore"):
            log = np.where(x > 0, np.log(np.where(x > 0, x, 1.0)), np.nan)
        powers = [np.ones(x.shape), log] + ([log**3] if form == "steinhart-hart" else [])
    else:
        z = (x - centre) / scale
        powers = [z**k for k in range(degree + 1)]
    return np.stack(powers, axis=-1)


def fit_curve(form: str, x: Array, y: Array, x_uncertainty: Array, y_uncertainty: Array,
              degree: int = 2) -> Curve:
    """Return the curve of that form through points of shape (n,).

    Uncertainties are independent from point to point; all zero says they are not known and are
    taken from the scatter. Uncertainty in x counts by the slope of the curve, for the line in
    full (ISO/TS 28037:2010 clause 7). Raises NoCalibration with too few points, or with an x that
    the form cannot take.
    """
    if np.ptp(x) == 0:
        raise NoCalibration("points of one reading", reading=float(x[0]))
    known = float(np.max(np.hypot(x_uncertainty / (np.ptp(x) or 1.0),
                                  y_uncertainty / (np.ptp(y) or 1.0)))) > 1e-9
    if form == "table":
        return _table(x, y, np.hypot(x_uncertainty * _overall_slope(x, y), y_uncertainty))
    if form == "kinked":
        return _kinked(x, y, x_uncertainty, y_uncertainty, known)
    if form == "line":
        if not known:
            line = fit_line(x, y)
        else:
            floor = 1e-9 * (np.ptp(y) or 1.0)
            line = fit_line(x, y, np.maximum(y_uncertainty, floor), x_uncertainty)
        return Curve(
            "line", np.array([line.intercept.value, line.slope.value]), line.matrix,
            line.chi_squared, line.chi_limit, line.freedom, line.from_scatter)
    return _fit_linear(form, degree, x, y, x_uncertainty, y_uncertainty, known)


def _fit_linear(form: str, degree: int, x: Array, y: Array, ux: Array, uy: Array,
                known: bool) -> Curve:
    centre, scale = 0.0, 1.0
    if form == "polynomial":
        centre, scale = float(np.mean(x)), float(0.5 * np.ptp(x)) or 1.0
    elif np.any(x <= 0):
        raise NoCalibration("no resistance of a thermistor", ohms=float(np.min(x)))
    basis = _basis(form, degree, centre, scale, x)
    n, p = basis.shape
    if n < p + (0 if known else 1):
        raise NoCalibration("too few points for the form", points=n, form=form,
                            least=p + (not known))
    target = 1.0 / (y + KELVIN) if form in _LOG_FORMS else y
    gain = (y + KELVIN) ** -2 if form in _LOG_FORMS else np.ones(n)
    floor = 1e-9 * (np.ptp(y) or 1.0)
    slope = np.zeros(n)
    coefficients, covariance, chi = np.zeros(p), np.zeros((p, p)), 0.0
    for _turn in range(_TURNS if ux.any() else 1):
        spread = np.hypot(np.maximum(uy, floor), slope * ux) * gain if known else gain
        scaled = basis / spread[:, None]
        # The columns of a thermistor's law differ by powers of ten; scaling keeps the digits.
        size = np.linalg.norm(scaled, axis=0)
        q, r = np.linalg.qr(scaled / size)
        if np.min(np.abs(np.diagonal(r))) < 1e-12:
            raise NoCalibration("too few different points", form=form)
        inverse = np.linalg.inv(r) / size[:, None]
        coefficients = inverse @ (q.T @ (target / spread))
        covariance = inverse @ inverse.T
        residual = (target - basis @ coefficients) / spread
        chi = float(residual @ residual)
        trial = Curve(form, coefficients, covariance, degree=degree, centre=centre, scale=scale)
        slope = np.nan_to_num(trial.slope(x))
    freedom = n - p
    if not known:
        covariance = covariance * (chi / freedom)
    testable = known and freedom > 0
    return Curve(form, coefficients, covariance, chi if testable else float("nan"),
                 chi_quantile(freedom) if testable else float("nan"), freedom, not known,
                 degree, centre, scale)


def _kinked(x: Array, y: Array, ux: Array, uy: Array, known: bool) -> Curve:
    """Return two straight lines that meet, two different readings at least on either side.

    Between two readings the best knot is where the lines through either side meet, or else one
    of the two (Hudson 1966, "Fitting segmented curves whose join points have to be estimated").
    """
    levels = np.unique(x)
    if levels.size < 5 or not known:
        raise NoCalibration("too few points for a kink", points=int(levels.size), least=5)
    centre, scale = float(np.mean(x)), float(0.5 * np.ptp(x))
    z, knots = (x - centre) / scale, (levels - centre) / scale
    spread = np.hypot(np.maximum(uy, 1e-9 * (np.ptp(y) or 1.0)), _overall_slope(x, y) * ux)
    best: tuple[float, Array, float] | None = None
    for k in range(1, knots.size - 2):
        left, right = z <= knots[k], z > knots[k]
        a, b = (np.polyfit(z[side], y[side], 1, w=1.0 / spread[side]) for side in (left, right))
        meet = (b[1] - a[1]) / (a[0] - b[0]) if a[0] != b[0] else knots[k]
        inside = knots[k] <= meet <= knots[k + 1]
        for knot in (meet,) if inside else (knots[k], knots[k + 1]):
            basis = np.stack([np.ones(z.size), z, np.maximum(0.0, z - knot)], axis=-1)
            c = np.asarray(np.linalg.lstsq(basis / spread[:, None], y / spread, rcond=None)[0],
                           dtype=np.float64)
            chi = float(np.sum(((y - basis @ c) / spread) ** 2))
            if best is None or chi < best[0]:
                best = chi, c, float(knot)
    assert best is not None
    chi, c, knot = best
    trial = Curve("kinked", np.append(c, knot), np.zeros((4, 4)), centre=centre, scale=scale)
    design = trial._basis(x) / spread[:, None]
    # Where the two slopes are alike the knot may be anywhere.
    covariance = np.asarray(np.linalg.pinv(design.T @ design, rcond=1e-12, hermitian=True),
                            dtype=np.float64)
    freedom = x.size - 4
    return Curve("kinked", np.append(c, knot), covariance, chi, chi_quantile(freedom), freedom,
                 False, 1, centre, scale)


def _overall_slope(x: Array, y: Array) -> float:
    return float(np.ptp(y) / (np.ptp(x) or 1.0))


def _table(x: Array, y: Array, uncertainty: Array) -> Curve:
    """Return straight pieces through the means of points that lie together."""
    order = np.argsort(x, kind="stable")
    gap = _SAME_KNOT * np.ptp(x)
    group = np.zeros(x.size, dtype=np.int64)
    first = x[order[0]]
    for k in range(1, x.size):
        # Counted from a knot's first point, so that many close points do not chain into one.
        new = x[order[k]] - first > gap
        group[k] = group[k - 1] + new
        first = x[order[k]] if new else first
    knots = int(group[-1]) + 1
    if knots < 3:
        raise NoCalibration("too few points for a table", points=knots)
    kx, ky, ku = np.empty(knots), np.empty(knots), np.empty(knots)
    for k in range(knots):
        here = order[group == k]
        kx[k], ky[k] = np.mean(x[here]), np.mean(y[here])
        own = np.sqrt(np.sum(uncertainty[here] ** 2)) / here.size
        ku[k] = np.hypot(own, np.std(y[here]))
    return Curve("table", np.empty(0), np.empty((0, 0)), knots_x=kx, knots_y=ky, knots_u=ku,
                 scale=float(np.ptp(x)))


def _between_knots(kx: Array, ky: Array, x: Array) -> Array:
    """Return what a table may miss at x, as limits either side, same shape.

    A curve that bends one way between two knots lies between the straight piece and what the
    pieces on either side of it make when they go on; a kink lies on these. At an end only one
    piece goes on, and the other end of the piece is a knot.
    """
    slope = np.diff(ky) / np.diff(kx)
    place = np.clip(np.searchsorted(kx, x, side="right") - 1, 0, slope.size - 1)
    left, right = x - kx[place], kx[place + 1] - x
    from_left = np.abs(slope[np.maximum(place - 1, 0)] - slope[place]) * np.maximum(left, 0.0)
    from_right = np.abs(slope[np.minimum(place + 1, slope.size - 1)] - slope[place]) \
        * np.maximum(right, 0.0)
    # Three times as steep from the knot at the end: a kink may lie anywhere in the last piece.
    at_end = 3.0
    limit = np.minimum(from_left, from_right)
    first, last = place == 0, place == slope.size - 1
    length = kx[place + 1] - kx[place]
    limit = np.where(first, from_right * np.minimum(1.0, at_end * left / np.maximum(
        right, 1e-12 * length)), limit)
    limit = np.where(last, from_left * np.minimum(1.0, at_end * right / np.maximum(
        left, 1e-12 * length)), limit)
    result: Array = np.maximum(limit, 0.0)
    return result
