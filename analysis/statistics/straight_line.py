"""A straight line through points, with uncertainty in y, in x and y, and covariances.

Model: y_i = a + b x_i. With r = y - a - b x, variance of r: V(b) = Vy + b^2 Vx - b (Cxy + Cxy'),
and the adjusted abscissas X = x + (b Vx - Cxy) V^-1 r, the least sum r' V^-1 r is where
[1, X]' V^-1 r = 0. That is solved by iteration; the covariance of (a, b) is
([1, X]' V^-1 [1, X])^-1. With diagonal matrices this is York's line (York et al. 2004, "Unified
equations for the slope, intercept, and standard errors of the best straight line") and
ISO/TS 28037:2010 clause 7; with Vx = 0 it is clause 6, with full matrices clauses 8 to 10.

| known about the points             | call                           | interval of the result |
|------------------------------------|--------------------------------|------------------------|
| u(y) of each                       | fit_line(x, y, uy)             | normal                 |
| u(x) and u(y) of each              | fit_line(x, y, uy, ux)         | normal                 |
| covariance matrices                | fit_line(x, y, Vy, Vx, Cxy)    | normal                 |
| only that all y scatter alike      | fit_line(x, y)                 | Student t, n - 2       |
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.model.errors import NoCalibration
from analysis.model.estimate import Estimate
from analysis.model.recording import Array

_MOST_TURNS = 500
_CHI_LEVEL = 0.05


@dataclass(frozen=True)
class Line:
    """Hold y = intercept + slope * x and how sure it is.

    x, y: the points, shape (n,). adjusted_x: where on the line each point belongs, (n,).
    residuals: y - intercept - slope * x, (n,). covariance: of intercept and slope.
    chi_squared: weighted sum of squares, to be at most chi_limit (95 % quantile with `freedom`
        = n - 2); both NaN without freedom, and when u(y) was taken from the scatter.
    scatter: standard deviation of the residuals with n - 2 degrees of freedom; NaN for n = 2.
    from_scatter: True when u(y) was not known and was taken from the scatter.
    """

    intercept: Estimate
    slope: Estimate
    covariance: float
    chi_squared: float
    chi_limit: float
    freedom: int
    scatter: float
    from_scatter: bool
    x: Array
    y: Array
    adjusted_x: Array
    residuals: Array

    @property
    def matrix(self) -> Array:
        """Return the covariance matrix of (intercept, slope), shape (2, 2)."""
        return np.array([[self.intercept.uncertainty**2, self.covariance],
                         [self.covariance, self.slope.uncertainty**2]])

    def at(self, x: float, x_uncertainty: float = 0.0) -> Estimate:
        """Return y at x with its standard uncertainty (ISO/TS 28037:2010, 11.2)."""
        variance = self._variance(x) + (self.slope.value * x_uncertainty) ** 2
        return Estimate(self.intercept.value + self.slope.value * x, float(np.sqrt(variance)))

    def where(self, y: float, y_uncertainty: float = 0.0) -> Estimate:
        """Return the x at which the line has y (ISO/TS 28037:2010, 11.1).

        Raises NoCalibration when the slope is zero within twice its uncertainty.
        """
        slope = self.slope.value
        if not abs(slope) > 2.0 * self.slope.uncertainty:
            raise NoCalibration("slope is none", slope=slope, uncertainty=self.slope.uncertainty,
                                y=y)
        x = (y - self.intercept.value) / slope
        return Estimate(x, float(np.sqrt(self._variance(x) + y_uncertainty**2) / abs(slope)))

    def coverage_factor(self, level: float = 0.95) -> float:
        """Return by what to multiply a standard uncertainty for a two-sided interval."""
        from scipy.special import ndtri, stdtrit

        upper = 0.5 + 0.5 * level
        if self.from_scatter:
            return float(stdtrit(self.freedom, upper))
        return float(ndtri(upper))

    def _variance(self, x: float) -> float:
        return max(0.0, self.intercept.uncertainty**2 + 2.0 * x * self.covariance
                   + (x * self.slope.uncertainty) ** 2)


def fit_line(x: ArrayLike, y: ArrayLike, y_uncertainty: ArrayLike | None = None,
             x_uncertainty: ArrayLike | None = None,
             xy_covariance: ArrayLike | None = None) -> Line:
    """Fit y = intercept + slope * x.

    x, y: shape (n,), n >= 2 finite values, at least two different x. y_uncertainty: standard
    uncertainty, one number, shape (n,), or a covariance matrix (n, n); None: unknown but the
    same for all, taken from the scatter (n >= 3). x_uncertainty: likewise, None for 0.
    xy_covariance: of the pairs, shape (n,), or (n, n) with [i, j] = cov(x_i, y_j).
    Raises NoCalibration. Source: see the module.
    """
    px, py = _points(x, y)
    n = px.size
    from_scatter = y_uncertainty is None
    if from_scatter and (x_uncertainty is not None or xy_covariance is not None):
        raise NoCalibration("uncertainty of x alone")
    if from_scatter and n < 3:
        raise NoCalibration("too few points without uncertainty", points=n)
    vy = np.eye(n) if y_uncertainty is None else _matrix(y_uncertainty, n, "y")
    vx = _matrix(0.0 if x_uncertainty is None else x_uncertainty, n, "x")
    cxy = _cross(xy_covariance, n)
    # Centred and scaled, so that neither far-off zeros nor odd units cost digits.
    x0, y0 = float(np.mean(px)), float(np.mean(py))
    sx, sy = float(np.ptp(px)), float(np.ptp(py)) or 1.0
    a, b, cov, adjusted, chi = _solve(
        (px - x0) / sx, (py - y0) / sy, vy / sy**2, vx / sx**2, cxy / (sx * sy))
    slope = b * sy / sx
    intercept = y0 + a * sy - slope * x0
    back = np.array([[sy, -x0 * sy / sx], [0.0, sy / sx]])
    cov = back @ cov @ back.T
    residuals = py - intercept - slope * px
    freedom = n - 2
    scatter = float(np.sqrt(residuals @ residuals / freedom)) if freedom else float("nan")
    if from_scatter:
        cov = cov * scatter**2
    testable = freedom > 0 and not from_scatter
    return Line(
        Estimate(float(intercept), float(np.sqrt(cov[0, 0]))),
        Estimate(float(slope), float(np.sqrt(cov[1, 1]))), float(cov[0, 1]),
        chi if testable else float("nan"), chi_quantile(freedom) if testable else float("nan"),
        freedom, scatter, from_scatter, px, py, adjusted * sx + x0, residuals)


def chi_quantile(freedom: int, level: float = 1.0 - _CHI_LEVEL) -> float:
    """Return the quantile of chi-squared with `freedom` degrees at probability `level`."""
    from scipy.special import chdtri

    return float(chdtri(freedom, 1.0 - level))


def _solve(x: Array, y: Array, vy: Array, vx: Array, cxy: Array,
           ) -> tuple[float, float, Array, Array, float]:
    """Return intercept, slope, their covariance, adjusted x and chi-squared."""
    ones = np.ones(x.size)
    design = np.column_stack([ones, x])
    # An ordinary line to begin with.
    a, b = np.linalg.lstsq(design, y, rcond=None)[0]
    exact = not vx.any() and not cxy.any()
    adjusted = x
    for _turn in range(_MOST_TURNS):
        spread = vy + b * b * vx - b * (cxy + cxy.T)
        try:
            weight = np.linalg.inv(spread)
            np.linalg.cholesky(spread)
            residual = y - a - b * x
            adjusted = x + (b * vx - cxy) @ (weight @ residual)
            instrument = np.column_stack([ones, adjusted])
            new = np.linalg.solve(instrument.T @ weight @ design, instrument.T @ weight @ y)
        except np.linalg.LinAlgError:
            raise NoCalibration("uncertainties contradict each other") from None
        # Scaled as the points are, a and b are near 1 or below.
        change = float(np.max(np.abs(new - np.array([a, b])))) / (1.0 + float(np.abs(new).sum()))
        a, b = float(new[0]), float(new[1])
        if exact or change <= 1e-14:
            break
    else:
        if not change <= 1e-9:
            raise NoCalibration("line does not settle")
    residual = y - a - b * x
    weight = np.linalg.inv(vy + b * b * vx - b * (cxy + cxy.T))
    adjusted = x + (b * vx - cxy) @ (weight @ residual)
    instrument = np.column_stack([ones, adjusted])
    cov = np.linalg.inv(instrument.T @ weight @ instrument)
    return a, b, cov, adjusted, float(residual @ weight @ residual)


def _points(x: ArrayLike, y: ArrayLike) -> tuple[Array, Array]:
    px, py = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if px.ndim != 1 or px.shape != py.shape:
        raise NoCalibration("x and y of unequal number", x_values=int(px.size),
                            y_values=int(py.size))
    if px.size < 2:
        raise NoCalibration("too few points for a line", points=int(px.size))
    if not (np.all(np.isfinite(px)) and np.all(np.isfinite(py))):
        raise NoCalibration("point is not a number")
    if np.ptp(px) == 0:
        raise NoCalibration("points of one x", x=float(px[0]))
    return px, py


def _matrix(uncertainty: ArrayLike, n: int, name: str) -> Array:
    given = np.asarray(uncertainty, dtype=float)
    if given.shape == (n, n):
        result: Array = given
        diagonal = np.diagonal(given)
    elif given.shape in ((), (n,)):
        spread = np.broadcast_to(given, (n,))
        diagonal = spread
        result = np.diag(spread**2)
    else:
        raise NoCalibration("uncertainty of another shape", axis=name, shape=str(given.shape),
                            points=n)
    if not np.all(np.isfinite(result)) or np.any(diagonal < 0):
        raise NoCalibration("uncertainty below 0", axis=name, least=float(np.min(diagonal)))
    return result


def _cross(covariance: ArrayLike | None, n: int) -> Array:
    if covariance is None:
        return np.zeros((n, n))
    given = np.asarray(covariance, dtype=float)
    if given.shape == (n, n):
        return given
    if given.shape in ((), (n,)):
        return np.diag(np.broadcast_to(given, (n,)))
    raise NoCalibration("covariance of another shape", shape=str(given.shape), points=n)
