"""Straight lines: certified data, the standard's examples, and reference libraries."""

from dataclasses import replace

import numpy as np
import odrpack
import pytest
from said import refuses
from scipy import stats

from analysis.model.errors import NoCalibration
from analysis.model.estimate import Estimate
from analysis.statistics.straight_line import chi_quantile, fit_line

# NIST StRD, data set Norris (linear regression), y and x as certified.
NORRIS = np.array([
    0.1, 0.2, 338.8, 337.4, 118.1, 118.2, 888.0, 884.6, 9.2, 10.1, 228.1, 226.5, 668.5, 666.3,
    998.5, 996.3, 449.1, 448.6, 778.9, 777.0, 559.2, 558.2, 0.3, 0.4, 0.1, 0.6, 778.1, 775.5,
    668.8, 666.9, 339.3, 338.0, 448.9, 447.5, 10.8, 11.6, 557.7, 556.0, 228.3, 228.1, 998.0,
    995.8, 888.8, 887.6, 119.6, 120.2, 0.3, 0.3, 0.6, 0.3, 557.6, 556.8, 339.3, 339.1, 888.0,
    887.2, 998.5, 999.0, 778.9, 779.0, 10.2, 11.1, 117.6, 118.3, 228.9, 229.2, 668.4, 669.1,
    449.2, 448.9, 0.2, 0.5]).reshape(-1, 2)


def test_norris_comes_out_as_certified():
    """The certified coefficients and deviations are met to nine digits."""
    # NIST StRD Norris, certified values.
    line = fit_line(NORRIS[:, 1], NORRIS[:, 0])
    assert line.intercept.value == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.slope.value == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.intercept.uncertainty == pytest.approx(0.232818234301152, rel=1e-9)
    assert line.slope.uncertainty == pytest.approx(0.429796848199937e-3, rel=1e-9)
    assert line.scatter == pytest.approx(0.884796396144373, rel=1e-9)


def test_thermometer_of_the_gum():
    """The calibration of GUM H.3 comes out to the digits printed there."""
    # JCGM 100:2008, H.3.
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010,
                  26.511])
    b = -np.array([.171, .169, .166, .159, .164, .165, .156, .157, .159, .161, .160])
    line = fit_line(t - 20.0, b)
    assert round(line.intercept.value, 4) == -0.1712
    assert round(line.intercept.uncertainty, 4) == 0.0029
    assert round(line.slope.value, 5) == 0.00218
    assert round(line.slope.uncertainty, 5) == 0.00067
    correlation = line.covariance / line.intercept.uncertainty / line.slope.uncertainty
    assert round(correlation, 3) == -0.930
    assert round(line.scatter, 4) == 0.0035
    at_30 = line.at(10.0)
    assert round(at_30.value, 4) == -0.1494
    assert round(at_30.uncertainty, 4) == 0.0041


def test_known_uncertainty_in_y():
    """The example of clause 6 comes out, its inverse and forward evaluation too."""
    # ISO/TS 28037:2010, clause 6 example.
    line = fit_line(range(1, 7), [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], 0.5)
    assert line.intercept.value == pytest.approx(1.867, abs=5e-4)
    assert line.slope.value == pytest.approx(1.757, abs=5e-4)
    assert line.intercept.uncertainty == pytest.approx(0.465, abs=5e-4)
    assert line.slope.uncertainty == pytest.approx(0.120, abs=5e-4)
    assert line.covariance == pytest.approx(-0.050, abs=5e-4)
    assert line.chi_squared == pytest.approx(1.665, abs=5e-4)
    assert line.chi_limit == pytest.approx(9.488, abs=5e-4)
    assert line.chi_squared <= line.chi_limit
    # ISO/TS 28037:2010, clause 11 examples (from memory).
    back = line.where(10.5, 0.5)
    assert (back.value, back.uncertainty) == pytest.approx((4.913, 0.322), abs=5e-4)
    forward = line.at(3.5, 0.2)
    assert (forward.value, forward.uncertainty) == pytest.approx((8.017, 0.406), abs=5e-4)


def test_known_uncertainty_in_x_and_y():
    """The example of clause 7 comes out."""
    # ISO/TS 28037:2010, clause 7 example; uncertainties from memory.
    line = fit_line([1.2, 1.9, 2.9, 4.0, 4.7, 5.9], [3.4, 4.4, 7.2, 8.5, 10.8, 13.5],
                    [.2, .2, .2, .4, .4, .4], 0.2)
    assert line.intercept.value == pytest.approx(0.5788, abs=5e-5)
    assert line.slope.value == pytest.approx(2.1597, abs=5e-5)
    assert line.chi_squared == pytest.approx(2.743, abs=5e-4)
    assert line.intercept.uncertainty == pytest.approx(0.4764, abs=5e-5)
    assert line.slope.uncertainty == pytest.approx(0.1355, abs=5e-5)
    assert line.covariance == pytest.approx(-0.0577, abs=5e-5)


PEARSON_X = [0, .9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]
PEARSON_Y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]
YORK_WX = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
YORK_WY = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def test_pearsons_data_with_yorks_weights():
    """The classic hard case comes out to nine digits."""
    # York 1966, Table II.
    line = fit_line(PEARSON_X, PEARSON_Y, YORK_WY**-0.5, YORK_WX**-0.5)
    assert line.intercept.value == pytest.approx(5.47991022, abs=5e-9)
    assert line.slope.value == pytest.approx(-0.480533407, abs=5e-10)
    assert line.chi_squared == pytest.approx(11.866353, abs=5e-7)


def random_case(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(4, 20))
    ux, uy = rng.uniform(0.02, 0.3, n), rng.uniform(0.02, 0.5, n)
    true = np.sort(rng.uniform(-5, 20, n))
    a, b = rng.normal(0, 10), rng.normal(0, 3)
    return true + rng.normal(0, ux), a + b * true + rng.normal(0, uy), ux, uy


@pytest.mark.parametrize("seed", range(25))
def test_random_cases_against_odrpack(seed):
    """Errors in both: the same line and the same sum as the reference library finds."""
    # Reference library: odrpack.
    x, y, ux, uy = random_case(seed)
    line = fit_line(x, y, uy, ux)
    guess = np.polyfit(x, y, 1)[::-1]
    found = odrpack.odr_fit(lambda x, b: b[0] + b[1] * x, x, y, guess, weight_x=ux**-2.0,
                            weight_y=uy**-2.0, partol=1e-14, sstol=1e-14, maxit=500)
    size = np.array([line.intercept.uncertainty, line.slope.uncertainty])
    off = np.abs(found.beta - [line.intercept.value, line.slope.value]) / size
    assert np.max(off) < 2e-3
    assert line.chi_squared == pytest.approx(found.sum_square, rel=1e-6)


@pytest.mark.parametrize("seed", range(25))
def test_random_cases_against_numpy(seed):
    """Errors in y only: coefficients and covariance as numpy.polyfit gives them."""
    # Reference library: numpy.polyfit.
    x, y, _, uy = random_case(100 + seed)
    line = fit_line(x, y, uy)
    (b, a), cov = np.polyfit(x, y, 1, w=1 / uy, cov="unscaled")
    assert (line.intercept.value, line.slope.value) == pytest.approx((a, b), rel=1e-9)
    assert line.matrix == pytest.approx(cov[::-1, ::-1], rel=1e-8)
    free = fit_line(x, y)
    _, scaled = np.polyfit(x, y, 1, cov=True)
    assert free.matrix == pytest.approx(scaled[::-1, ::-1], rel=1e-8)


@pytest.mark.parametrize("seed", range(10))
def test_a_covariance_matrix_is_generalised_least_squares(seed):
    """Whitened by its Cholesky factor and solved by numpy, correlated y give the same line."""
    # Aitken's estimator, by numpy.linalg.lstsq; covers ISO/TS 28037 clause 9.
    rng = np.random.default_rng(seed)
    x, y, _, uy = random_case(200 + seed)
    common = rng.uniform(0, 0.5)
    v = np.diag(uy**2) + common**2
    line = fit_line(x, y, v)
    root = np.linalg.cholesky(v)
    white = np.linalg.solve(root, np.column_stack([np.ones(x.size), x]))
    solved = np.linalg.lstsq(white, np.linalg.solve(root, y), rcond=None)[0]
    assert (line.intercept.value, line.slope.value) == pytest.approx(tuple(solved), rel=1e-8)
    assert line.matrix == pytest.approx(np.linalg.inv(white.T @ white), rel=1e-7)


def test_correlated_pairs_minimise_what_york_minimises():
    """With correlated x and y no line near by has a smaller sum (York 2004)."""
    # The sum itself, by scipy's minimiser: a second way to the same answer.
    from scipy.optimize import minimize

    x, y, ux, uy = random_case(7)
    cov = 0.6 * ux * uy
    line = fit_line(x, y, uy, ux, cov)

    def total(p):
        return np.sum((y - p[0] - p[1] * x) ** 2 / (uy**2 + p[1]**2 * ux**2 - 2 * p[1] * cov))

    best = minimize(total, [line.intercept.value + 0.1, line.slope.value * 1.01],
                    method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 9000})
    assert line.chi_squared == pytest.approx(best.fun, rel=1e-9)
    assert (line.intercept.value, line.slope.value) == pytest.approx(tuple(best.x), abs=1e-5)


def test_the_stated_uncertainty_is_what_repeating_shows():
    """Repeated 2000 times, coefficients scatter as stated and chi-squared has its quantile."""
    rng = np.random.default_rng(3)
    true = np.linspace(0, 10, 8)
    lines = [fit_line(true + rng.normal(0, .1, 8), 2 + 1.5 * true + rng.normal(0, .2, 8), .2, .1)
             for _ in range(2000)]
    values = np.array([(k.intercept.value, k.slope.value) for k in lines])
    stated = np.mean([k.matrix for k in lines], axis=0)
    # A variance from 2000 repeats is good to 3 % (sqrt(2/2000)); three of these are allowed.
    assert np.cov(values.T) == pytest.approx(stated, rel=0.1)
    assert np.mean([k.chi_squared <= k.chi_limit for k in lines]) == pytest.approx(0.95, abs=0.015)


def test_quantiles_of_chi_squared():
    """The 95 % quantiles are those of the tables."""
    # NIST/SEMATECH e-Handbook 1.3.6.7.4, upper critical values, 0.05.
    for freedom, quantile in ((1, 3.841), (2, 5.991), (4, 9.488), (10, 18.307), (30, 43.773)):
        assert chi_quantile(freedom) == pytest.approx(quantile, abs=5e-4)


def test_units_and_far_off_zeros_do_not_matter():
    """Microvolts over a large offset give the same line as volts near zero."""
    x, y, ux, uy = random_case(11)
    plain = fit_line(x, y, uy, ux)
    odd = fit_line(x * 1e-6 + 5.0, y * 1e6 - 3e8, uy * 1e6, ux * 1e-6)
    assert odd.slope.value == pytest.approx(plain.slope.value * 1e12, rel=1e-6)
    assert odd.chi_squared == pytest.approx(plain.chi_squared, rel=1e-5)


@pytest.mark.parametrize(("x", "y", "uy", "words"), [
    ([1.0], [2.0], 0.1, "1 points"),
    ([1.0, 2.0], [2.0], 0.1, "one y for every x"),
    ([1.0, 1.0], [2.0, 3.0], 0.1, "same x"),
    ([1.0, 2.0], [2.0, 3.0], None, "at least 3"),
    ([1.0, float("nan")], [2.0, 3.0], 0.1, "not a number"),
    ([1.0, 2.0], [2.0, 3.0], -0.1, "0 or more"),
])
def test_refusals_say_what_was_wrong(x, y, uy, words):
    """Points that make no line are refused with the value and what to do."""
    with refuses(NoCalibration, words):
        fit_line(x, y, uy)


def test_no_inverse_where_the_line_is_level():
    """A slope that may be zero has no inverse, and that is said."""
    line = fit_line([0, 1, 2, 3], [1.0, 1.1, 0.9, 1.0], 0.2)
    with refuses(NoCalibration, "not distinguishable from 0"):
        line.where(1.0)


def test_a_slope_of_twice_its_uncertainty_is_not_told_from_zero():
    """Only beyond twice its uncertainty has a slope an inverse, rising or falling."""
    line = fit_line(range(1, 7), [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], 0.5)
    for slope in (0.5, -0.5):
        with refuses(NoCalibration, "not distinguishable from 0"):
            replace(line, slope=Estimate(slope, 0.25)).where(1.0)
        back = replace(line, slope=Estimate(slope, 0.249), intercept=Estimate(1.0, 0.1)).where(3.0)
        assert back.value == pytest.approx(2.0 / slope)
        assert back.uncertainty > 0


def test_without_a_stated_uncertainty_the_point_asked_for_is_exact():
    """GUM 5.1.2: what is left is that of the line alone."""
    line = fit_line(range(1, 7), [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], 0.5)
    x = 3.5
    alone = np.sqrt(np.array([1, x]) @ line.matrix @ np.array([1, x]))
    assert line.at(x).uncertainty == pytest.approx(alone, rel=1e-12)
    assert line.where(line.at(x).value).uncertainty == pytest.approx(
        alone / line.slope.value, rel=1e-12)


def test_no_variance_is_negative_for_a_rounding():
    """Where the line is surest, rounding may take the variance below zero: it is then zero."""
    line = fit_line(range(1, 7), [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], 0.5)
    off = replace(line, intercept=Estimate(0.0, 1.0), slope=Estimate(1.0, 1.0),
                  covariance=-1.0 - 1e-12)
    assert off.at(1.0).uncertainty == 0.0


@pytest.mark.parametrize("level", [0.68, 0.95])
def test_the_factor_for_an_interval_is_the_normal_or_students_quantile(level):
    """Two-sided quantiles as scipy.stats gives them; four degrees of freedom from six points."""
    known = fit_line(range(1, 7), [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], 0.5)
    taken = fit_line(range(1, 7), [3.3, 5.6, 7.1, 9.3, 10.7, 12.1])
    assert known.coverage_factor(level) == pytest.approx(stats.norm.interval(level)[1], rel=1e-9)
    assert taken.coverage_factor(level) == pytest.approx(stats.t.interval(level, 4)[1], rel=1e-9)
    # Student's t table: 2.776 for 95 % and 4 degrees of freedom.
    assert taken.coverage_factor() == pytest.approx(2.776, abs=5e-4)


def test_a_scatter_taken_from_the_points_tests_nothing():
    """Without u(y) there is no sum to hold against a limit; with it there are both."""
    taken = fit_line([1.0, 2.0, 3.0], [1.0, 2.1, 2.9])
    assert np.isnan([taken.chi_squared, taken.chi_limit]).all()
    known = fit_line([1.0, 2.0, 3.0], [1.0, 2.1, 2.9], 0.1)
    # One degree of freedom: 3.841 (NIST/SEMATECH e-Handbook 1.3.6.7.4).
    assert known.chi_limit == pytest.approx(3.841, abs=5e-4)
    # Residuals 1/20, -1/10, 1/20 by hand.
    assert known.chi_squared == pytest.approx(1.5)
    assert known.scatter == pytest.approx(np.sqrt(0.015))
    assert known.residuals == pytest.approx([-0.05, 0.1, -0.05])


def test_a_level_line_is_a_line():
    """Points all at one height: slope 0, the height as intercept, u by the textbook."""
    line = fit_line([0.0, 1.0, 2.0, 3.0], [2.5, 2.5, 2.5, 2.5], 0.2)
    assert (line.slope.value, line.intercept.value) == pytest.approx((0.0, 2.5), abs=1e-12)
    # u / sqrt(sum (x - mean)^2) = 0.2 / sqrt(5), by hand.
    assert line.slope.uncertainty == pytest.approx(0.2 / np.sqrt(5))
    assert line.adjusted_x == pytest.approx([0.0, 1.0, 2.0, 3.0])


def test_adjusted_points_lie_where_a_normal_to_the_line_meets_it():
    """With u(x) = u(y) the nearest point of the line is the foot of the perpendicular."""
    x, y = np.array([1.0, 2.0, 3.0, 4.0, 6.0]), np.array([1.2, 2.9, 3.1, 5.5, 6.4])
    line = fit_line(x, y, 0.1, 0.1)
    a, b = line.intercept.value, line.slope.value
    assert line.adjusted_x == pytest.approx((x + b * (y - a)) / (1 + b**2))
    # Total least squares: the first principal axis (numpy's singular values).
    axis = np.linalg.svd(np.column_stack([x - x.mean(), y - y.mean()]))[2][0]
    assert b == pytest.approx(axis[1] / axis[0], rel=1e-9)
    assert a == pytest.approx(y.mean() - b * x.mean(), rel=1e-9)


def test_adjusted_points_of_correlated_pairs_are_the_nearest_in_their_own_measure():
    """Each point of the line is the generalised least-squares estimate from its pair."""
    # Aitken's estimator of X from (x, y - a) = X (1, b), covariance of the pair, by numpy.
    x, y, ux, uy = random_case(7)
    cov = 0.6 * ux * uy
    line = fit_line(x, y, uy, ux, cov)
    way = np.array([1.0, line.slope.value])
    for k, found in enumerate(line.adjusted_x):
        weight = np.linalg.inv([[ux[k] ** 2, cov[k]], [cov[k], uy[k] ** 2]])
        pair = np.array([x[k], y[k] - line.intercept.value])
        assert found == pytest.approx(way @ weight @ pair / (way @ weight @ way), rel=1e-9)


def test_covariances_of_x_and_y_may_be_one_sided_and_are_minimised_as_a_whole():
    """A full matrix that is not symmetric: no line near by has a smaller sum (scipy)."""
    from scipy.optimize import minimize

    x, y, ux, uy = random_case(7)
    n = x.size
    cross = np.diag(0.4 * ux * uy)
    cross[0, 1] = 0.3 * ux[0] * uy[1]
    line = fit_line(x, y, uy, np.diag(ux**2), cross)

    def total(p):
        r = y - p[0] - p[1] * x
        v = np.diag(uy**2) + p[1] ** 2 * np.diag(ux**2) - p[1] * (cross + cross.T)
        return r @ np.linalg.solve(v, r)

    best = minimize(total, [line.intercept.value + 0.1, line.slope.value * 1.01],
                    method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 9000})
    assert n > 2
    assert line.chi_squared == pytest.approx(best.fun, rel=1e-9)
    assert (line.intercept.value, line.slope.value) == pytest.approx(tuple(best.x), abs=1e-5)


@pytest.mark.parametrize(("arguments", "words"), [
    (([1.0, 2.0], [1.0, 2.0], np.zeros((2, 3))), r"u?ncertainty of y has shape \(2, 3\)"),
    (([[1.0, 2.0]], [[1.0, 2.0]], 0.1), "one y for every x"),
    (([1.0, np.inf], [1.0, 2.0], 0.1), "not a number"),
    (([1.0, 2.0], [1.0, np.inf], 0.1), "not a number"),
    (([1.0, 2.0], [1.0, 2.0], [[0.01, 0.0], [0.0, -0.01]]), "y is -0.01; it must be"),
    (([1.0, 2.0], [1.0, 2.0], 0.1, [0.1, -0.2]), "x is -0.2; it must be"),
    (([1.0, 2.0, 3.0], [1.0, 2.0, 3.5], None, None, 0.01), "without one of y"),
    (([1.0, 2.0, 3.0], [1.0, 2.0, 3.5], [0.1, 0.1, 0.0]), "contradict"),
])
def test_more_refusals_say_what_was_wrong(arguments, words):
    """One of two flaws is enough for a refusal."""
    with refuses(NoCalibration, words):
        fit_line(*arguments)


def test_two_points_are_enough_where_their_uncertainty_is_known():
    """Two points with u(y) make a line, three do without it; an uncertainty of x may be 0."""
    assert fit_line([1.0, 2.0], [1.0, 3.0], 0.1, 0.0).slope.value == pytest.approx(2.0)
    assert fit_line([1.0, 2.0, 3.0], [1.0, 3.0, 5.0]).slope.value == pytest.approx(2.0)
    one_exact = fit_line([1.0, 2.0, 3.0], [1.0, 3.0, 5.2], 0.1, [0.0, 0.1, 0.1])
    assert one_exact.slope.value == pytest.approx(2.1, abs=0.1)


@pytest.mark.parametrize(("x", "y", "uy", "ux"), [
    ([-0.7, 0.0, -1.3, 1.9], [-1.0, -0.3, 0.5, -0.6], [0.1, 0.6, 2.0, 1.7], [0.5, 2.9, 0.5, 1.6]),
    # Nearly: each turn still moves the line by a few parts in 100 000.
    ([-1.3, -0.7, 1.5, -0.7], [-1.3, -0.4, -0.6, -0.5], [0.1, 1.4, 1.9, 0.4],
     [1.3, 2.3, 0.3, 2.7]),
])
def test_points_that_are_less_sure_than_far_apart_do_not_settle(x, y, uy, ux):
    """Uncertainties in x as large as the distances leave no line, and that is said."""
    with refuses(NoCalibration, "does not settle"):
        fit_line(x, y, uy, ux)


def test_a_line_that_settles_slowly_is_the_one_of_the_least_sum():
    """After all turns it still moves by 1e-12 a turn: taken, and no line near by is better."""
    # York's sum (York et al. 2004), by scipy's minimiser.
    from scipy.optimize import minimize

    x, y = np.array([-0.5, 0.8, -0.1, 0.2]), np.array([-1.1, 0.1, 0.7, 0.0])
    uy, ux = np.array([1.8, 0.5, 0.9, 1.1]), np.array([1.9, 0.4, 0.6, 2.4])
    line = fit_line(x, y, uy, ux)

    def total(p):
        return np.sum((y - p[0] - p[1] * x) ** 2 / (uy**2 + p[1] ** 2 * ux**2))

    start = [line.intercept.value * 1.001, line.slope.value * 1.001]
    best = minimize(total, start, method="Nelder-Mead",
                    options={"xatol": 1e-11, "fatol": 1e-15, "maxiter": 9000})
    assert (line.intercept.value, line.slope.value) == pytest.approx(tuple(best.x), rel=1e-5)
