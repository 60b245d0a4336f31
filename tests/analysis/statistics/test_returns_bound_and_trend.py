"""The statistics of returns: bound, trend, catches and correlation, each against the outside."""

import numpy as np
import pytest
from said import as_texts, refuses
from scipy import integrate, stats
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.errors import BadParameter
from analysis.parameters import Parameters
from analysis.pedal.dead_band import dead_band
from analysis.statistics.resting_places import effective_number, share_bound
from analysis.statistics.returns_bound import TABLE_ERROR, lean_scale, reach_factor, returns_factor
from analysis.statistics.trend import trend


def scale(x):
    """Return S of samples (rows), as docs/method_deadband.md, "Returns", has it."""
    d = x - np.median(x, axis=1, keepdims=True)
    square, fourth = np.mean(d**2, axis=1) ** 0.5, np.mean(d**4, axis=1) ** 0.25
    lean = np.std(x, axis=1, ddof=1) / (np.mean(x, axis=1) - x.min(axis=1))
    return fourth**1.5 / square**0.5 * lean**0.7


def passed(law, n, m, factor, seed, samples=6000):
    """Return the chance that one of m later values passes max + factor S."""
    x = law.rvs(size=(samples, n), random_state=np.random.default_rng(seed))
    # 1 - F^m is exact once the sample is drawn (scipy.stats has F).
    bound = x.max(axis=1) + factor * scale(x)
    return float(np.mean(-np.expm1(m * law.logcdf(bound))))


def test_the_scale_is_the_one_written_down_and_counts_a_lean():
    x = np.array([0.0, 1.0, 2.0, 3.0, 9.0])
    assert lean_scale(x) == pytest.approx(scale(x[None, :])[0])
    assert lean_scale(5.0 * x - 40.0) == pytest.approx(5.0 * lean_scale(x))
    # By hand: from the median 2 squares 4 + 1 + 0 + 1 + 49, fourth powers 16 + 1 + 0 + 1 + 2401;
    # from the mean 3 squares 9 + 4 + 1 + 0 + 36, the least 3 below it.
    assert lean_scale(x) == pytest.approx(
        (2419 / 5) ** (1.5 / 4) / 11**0.25 * (np.sqrt(50 / 4) / 3) ** 0.7)
    assert lean_scale(np.zeros(7), 0.3) == 0.3


@pytest.mark.parametrize("n", [5, 9, 13, 20, 34, 75])
@pytest.mark.parametrize("m", [100, 400])
def test_the_bound_holds_for_every_law_it_names_and_is_not_too_wide(n, m):
    """At the stated risk of 5 % on and off the nodes of the table, by samples drawn here."""
    factor = returns_factor(n, m, 0.95, "stick")
    risks = [passed(law, n, m, factor, 100 * n + k) for k, law in enumerate(
        (stats.norm, stats.t(5), stats.gamma(2), stats.expon))]
    assert max(risks) < 0.05 * 1.15
    assert max(risks) > 0.05 * 0.7


@pytest.mark.parametrize("law", [stats.t(3), stats.lognorm(1.0), stats.weibull_min(0.7)])
def test_the_wide_set_holds_for_wilder_laws_that_the_usual_one_does_not(law):
    assert passed(law, 13, 100, returns_factor(13, 100, 0.95, "wide"), 5) < 0.05 * 1.15
    assert passed(law, 13, 100, returns_factor(13, 100, 0.95, "stick"), 5) > 0.08


def test_the_risk_of_the_exponential_is_exact_where_three_returns_and_one_later_meet():
    """n = 3, m = 1. With a and b the lower and upper gap (Renyi's representation: rates 2 and 1)
    the later value passes with chance 3/4 of E[exp(-a - b - c S(a, b))]; along a ray at angle t
    that is 3/2 times the integral of (3 cos t + 2 sin t + c S(cos t, sin t))^-2 dt."""
    def exact(c):
        def along(t):
            a, b = np.cos(t), np.sin(t)
            return (3 * a + 2 * b + c * scale(np.array([[-a, 0.0, b]]))[0]) ** -2.0
        return 1.5 * integrate.quad(along, 0.0, np.pi / 2)[0]

    c = returns_factor(3, 1, 0.95, "stick")
    assert exact(c) <= 0.05 * (1 + TABLE_ERROR)
    assert passed(stats.expon, 3, 1, c, 3, 200_000) == pytest.approx(exact(c), rel=0.03)


def test_the_risk_of_the_normal_is_exact_where_three_returns_and_one_later_meet():
    """Spacings a, b of three normal values have density 6/(2 pi sqrt 3) exp(-(a a + a b + b b)/3);
    a fourth value off their mean is normal with variance 4/3."""
    c = returns_factor(3, 1, 0.9, "stick")

    def under(b, a):
        reach = b + c * scale(np.array([[-a, 0.0, b]]))[0] - (b - a) / 3.0
        return (np.exp(-(a * a + a * b + b * b) / 3.0) * 6.0 / (2.0 * np.pi * np.sqrt(3.0))
                * stats.norm.sf(reach / np.sqrt(4.0 / 3.0)))

    exact = integrate.dblquad(under, 0.0, 8.0, 0.0, 8.0, epsabs=1e-4)[0]
    assert exact <= 0.1
    assert passed(stats.norm, 3, 1, c, 5, 200_000) == pytest.approx(exact, rel=0.03)


@pytest.mark.parametrize("law", [stats.norm, stats.t(5), stats.gamma(2), stats.expon])
def test_the_tolerance_bound_covers_95_percent_of_every_law_as_surely_as_asked(law):
    """Samples drawn here, quantile by scipy.stats; ISO 16269-6 has what a tolerance bound is."""
    for n, sure in ((6, 0.95), (9, 0.9), (27, 0.95)):
        x = law.rvs(size=(4000, n), random_state=np.random.default_rng(n))
        above = x.max(axis=1) + reach_factor(n, sure, "stick") * scale(x) >= law.ppf(0.95)
        # 1 in 1000 by chance (binomial), and what interpolation moves it.
        assert np.mean(above) > stats.binom.ppf(0.001, 4000, sure) / 4000 - 0.005
    # Wilks 1941: the largest of 59 values is such a bound by itself.
    assert reach_factor(60, 0.95, "stick") < 0.01
    assert np.isinf(reach_factor(2, 0.95, "wide"))
    with refuses(BadParameter, "set of laws"):
        reach_factor(13, 0.95, "even")


def test_more_asked_is_never_had_for_less():
    base = returns_factor(13, 100, 0.95, "stick")
    assert returns_factor(13, 200, 0.95, "stick") > base
    assert returns_factor(13, 100, 0.99, "stick") > base
    assert returns_factor(20, 100, 0.95, "stick") < base < returns_factor(10, 100, 0.95, "stick")
    assert returns_factor(13, 100, 0.95, "wide") > base
    assert returns_factor(13, 100, 0.99999, "stick") > returns_factor(13, 100, 0.9999, "stick")
    assert np.isinf(returns_factor(2, 100, 0.95, "stick"))
    with refuses(BadParameter, "set of laws"):
        returns_factor(13, 100, 0.95, "all")


def test_the_trend_is_kendalls_tau_and_sens_slope_of_scipy():
    dice = np.random.default_rng(2)
    for n in (5, 12, 40):
        x = dice.standard_t(3, n) + 0.05 * np.arange(n)
        seen = trend(x)
        exact = stats.kendalltau(np.arange(n), x, alternative="greater", method="exact").pvalue
        assert seen.chance == pytest.approx(exact, rel=1e-6)
        assert seen.slope == pytest.approx(stats.theilslopes(x)[0])
        # One side at 95 % is the upper end of 90 % on both.
        upper = stats.theilslopes(x, alpha=0.9)[3]
        assert seen.upper_slope >= upper
        if n > 5:  # Its ranks are rounded, here they go up.
            assert seen.upper_slope == pytest.approx(upper, rel=0.15)


def test_levels_rounded_alike_are_tested_with_their_ties():
    x = np.array([0.0, 0, 0, 1, 1, 1, 2, 2, 2, 3])
    exact = stats.kendalltau(np.arange(10), x, alternative="greater", method="asymptotic").pvalue
    # scipy leaves out the correction for continuity: the test here is a little stricter.
    assert exact <= trend(x).chance < 3 * exact + 1e-4
    assert trend(np.zeros(8)).chance == 1.0


def test_a_share_never_seen_is_bounded_as_the_rule_of_three_says():
    """Clopper & Pearson 1934 with none seen: 1 - 0.05^(1/n); scipy.stats has the others."""
    assert share_bound(0, 13, 0.95) == pytest.approx(1 - 0.05 ** (1 / 13))
    exact = stats.binomtest(3, 20, alternative="less").proportion_ci(0.95, "exact").high
    assert share_bound(3, 20, 0.95) == pytest.approx(exact)
    assert share_bound(4, 4, 0.95) == 1.0


def test_returns_that_follow_each_other_are_worth_fewer():
    dice = np.random.default_rng(4)
    x = dice.standard_normal(400)
    assert effective_number(x[:30]) == 30
    y = np.zeros(400)
    for k in range(1, 400):
        y[k] = 0.8 * y[k - 1] + x[k]
    # n (1 - rho)/(1 + rho) of the lower bound of 0.8 + 4.2/400 - 1.282/20; rho is known to 0.03.
    assert effective_number(y) == pytest.approx(400 * (1 - 0.7464) / 1.7464, rel=0.2)
    # Independent values count as fewer in one case of eight or fewer, and seldom as half as many.
    worth = np.array([effective_number(dice.standard_normal(13)) for _ in range(2000)])
    assert np.mean(worth < 13) < 0.14
    assert np.mean(worth < 6.5) < 0.04
    # A few that happen to rise are not taken for one; a ramp of 13 is worth three.
    assert effective_number(np.array([0.0, 1.0, 2.0, 4.0, 5.0])) >= 3.0
    assert effective_number(np.cumsum(np.ones(13))) == pytest.approx(3.0, abs=0.2)


def test_both_numbers_stand_side_by_side_and_the_safer_one_is_stated():
    band = dead_band(track_by_hand(TEN_LEVELS), Parameters())
    cases = {c.name: c for c in band.cases}
    assert band.start_of_travel_volts == cases["stick"].start_of_travel_volts
    assert cases["even"].start_of_travel_volts < cases["stick"].start_of_travel_volts < (
        cases["wide"].start_of_travel_volts)
    chosen = dead_band(track_by_hand(TEN_LEVELS), Parameters(returns="even"))
    assert chosen.start_of_travel_volts == pytest.approx(cases["even"].start_of_travel_volts)
    assert chosen.lost_travel_percent == pytest.approx(cases["even"].lost_travel_percent)


def test_what_ten_returns_cannot_tell_is_named_with_what_would():
    band = dead_band(track_by_hand(TEN_LEVELS), Parameters())
    # 1 - 0.05^(1/10) = 0.259, once in 3; 95/5 of 100 by exchangeability: 1900.
    assert any("once in 3 returns" in said for said in as_texts(band.not_covered))
    assert any("1900" in said for said in as_texts(band.not_covered))
    assert any("creep" in said for said in as_texts(band.not_covered))


def test_a_rise_too_small_to_cost_is_carried_on_and_a_large_one_takes_the_promise_back():
    still = TEN_LEVELS * 0 + 0.8 + 1e-5 * (TEN_LEVELS - 0.8) / 0.002
    small = dead_band(track_by_hand(still + 2e-4 * np.arange(10), step=1e-4), Parameters())
    assert small.weak is None
    drift = next(i for i in small.items if i.name == "drift")
    # 0.2 mV a return through 105 more is 21 mV, and the slope may be a little steeper.
    assert 0.021 <= drift.volts < 0.024
    large = dead_band(track_by_hand(still + 1e-3 * np.arange(10), step=1e-4), Parameters())
    assert large.weak_code == "rest creeps"
