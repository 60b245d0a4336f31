"""Bounds against handbook tables, reference libraries and simulation."""

import numpy as np
import pytest
from said import refuses
from scipy import special, stats

from analysis.model.errors import BadParameter
from analysis.statistics import bounds


def test_tolerance_factor_is_that_of_the_nist_handbook():
    # NIST/SEMATECH e-Handbook 7.2.6.3: n = 43, coverage 90 %, confidence 99 %.
    assert bounds.tolerance_factor(43, 0.90, 0.99) == pytest.approx(1.8740, abs=5e-5)


@pytest.mark.parametrize(("readings", "factors"), [
    # ISO 16269-6 and Natrella, one-sided factors at 95 % confidence.
    (10, (2.355, 2.911, 3.981, 5.203)),
    (20, (1.926, 2.396, 3.295, 4.318)),
    (30, (1.777, 2.220, 3.064, 4.022)),
    (50, (1.646, 2.065, 2.862, 3.766)),
])
def test_tolerance_factors_are_those_of_the_tables(readings, factors):
    found = [bounds.tolerance_factor(readings, p, 0.95) for p in (0.90, 0.95, 0.99, 0.999)]
    # Half a digit of the table, and one more where the old table was rounded the other way.
    assert found == pytest.approx(factors, abs=1.1e-3)


# The library leaves its VERSION file open when it is imported.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_tolerance_factor_agrees_with_the_reference_library():
    import toleranceinterval as ti

    sample = np.random.default_rng(2).normal(3.0, 0.5, 17)
    # Package toleranceinterval: oneside.normal returns the upper bound of a sample.
    theirs = float(ti.oneside.normal(sample, 0.95, 0.90)[0])
    ours = sample.mean() + bounds.tolerance_factor(17, 0.95, 0.90) * sample.std(ddof=1)
    assert ours == pytest.approx(theirs, rel=1e-6)


# scipy 1.11 warns of an overflow inside its own noncentral t; later ones do not.
@pytest.mark.filterwarnings("ignore::RuntimeWarning:scipy")
def test_two_readings_are_the_least_for_a_tolerance_factor():
    # ISO 16269-6 prints 26.260; the noncentral t of scipy.stats.
    exact = stats.nct.ppf(0.95, 1, np.sqrt(2) * stats.norm.ppf(0.95)) / np.sqrt(2)
    assert bounds.tolerance_factor(2, 0.95, 0.95) == pytest.approx(exact, rel=1e-6)
    assert exact == pytest.approx(26.260, abs=1e-3)


def test_a_small_share_is_a_share():
    # Half a per cent, noncentral t of scipy.stats.
    exact = stats.nct.ppf(0.005, 9, np.sqrt(10) * stats.norm.ppf(0.9)) / np.sqrt(10)
    assert bounds.tolerance_factor(10, 0.9, 0.005) == pytest.approx(exact, rel=1e-6)


def test_one_reading_gives_no_bound():
    assert bounds.tolerance_factor(1, 0.9, 0.9) == np.inf
    assert bounds.prediction_factor(1, 100, 0.95) == np.inf
    # No mean, or no freedom, whatever is known of the other.
    assert bounds.prediction_factor(0, 100, 0.95, 10) == np.inf
    assert bounds.prediction_factor(10, 100, 0.95, 0) == np.inf
    assert bounds.bonferroni_factor(0, 100, 0.95, 10) == np.inf
    assert bounds.bonferroni_factor(10, 100, 0.95, 0) == np.inf
    assert bounds.one_sided_prediction_factor(1, 100, 0.95) == np.inf
    assert bounds.bonferroni_factor(1, 100, 0.95) == np.inf
    assert bounds.sd_upper(1.0, 0, 0.95) == np.inf


@pytest.mark.parametrize("readings", [2, 3, 10, 60])
def test_prediction_of_one_reading_is_students_t(readings):
    # Textbook prediction interval: t(n - 1) sqrt(1 + 1/n), quantile from scipy.stats.
    expected = stats.t.ppf(0.95, readings - 1) * np.sqrt(1 + 1 / readings)
    assert bounds.prediction_factor(readings, 1, 0.95) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("readings", "future", "confidence"), [
    (5, 2, 0.95), (10, 4, 0.95), (10, 4, 0.99), (25, 3, 0.9)])
def test_prediction_of_several_is_the_multivariate_t(readings, future, confidence):
    # (Y - mean)/(s sqrt(1 + 1/n)) are multivariate t with correlation 1/(n + 1); its
    # distribution function comes from scipy.stats.
    k = bounds.prediction_factor(readings, future, confidence) / np.sqrt(1 + 1 / readings)
    shape = np.full((future, future), 1 / (readings + 1))
    np.fill_diagonal(shape, 1.0)
    reached = stats.multivariate_t(shape=shape, df=readings - 1).cdf(
        np.full(future, k), random_state=np.random.default_rng(1), maxpts=200_000)
    assert reached == pytest.approx(confidence, abs=5e-4)


def test_prediction_is_dunnetts_table_when_the_mean_is_one_reading():
    # Dunnett 1955, one-sided 5 %, against one control: correlation 1/2, i.e. n = 1 behind the
    # mean; 10 degrees of freedom: 1.81 2.15 2.34, infinite: 1.64 1.92 2.06 (from memory).
    for degrees, table in ((10, (1.81, 2.15, 2.34)), (100_000, (1.64, 1.92, 2.06))):
        found = [bounds.prediction_factor(1, m, 0.95, degrees) / np.sqrt(2) for m in (1, 2, 3)]
        assert found == pytest.approx(table, abs=0.006)


@pytest.mark.parametrize(("readings", "future"), [(3, 100), (10, 100), (10, 1000)])
def test_prediction_holds_in_simulation_and_stays_below_bonferroni(readings, future):
    factor = bounds.prediction_factor(readings, future, 0.95)
    dice = np.random.default_rng(5)
    samples = dice.standard_normal((100_000, readings))
    bound = samples.mean(axis=1) + factor * samples.std(axis=1, ddof=1)
    # The largest of m normal readings, drawn from its own distribution Phi(x)^m.
    largest = stats.norm.isf(-np.expm1(np.log(dice.random(100_000)) / future))
    # Standard error of the simulated share: 0.0007.
    assert np.mean(largest <= bound) == pytest.approx(0.95, abs=0.0028)
    assert factor < bounds.bonferroni_factor(readings, future, 0.95)


def test_prediction_with_the_mean_known_is_smaller():
    assert (bounds.prediction_factor(10, 100, 0.95, None, True)
            < bounds.prediction_factor(10, 100, 0.95))
    # One reading about a known mean: Student's t without sqrt(1 + 1/n); scipy.stats.
    for degrees in (1, 9):
        assert bounds.prediction_factor(10, 1, 0.95, degrees, True) == pytest.approx(
            stats.t.ppf(0.95, degrees), rel=1e-6)


@pytest.mark.parametrize(("readings", "degrees"), [(2, None), (10, None), (1, 1), (10, 8)])
def test_bonferroni_shares_the_risk_of_students_t(readings, degrees):
    # A hundred later readings, each with a hundredth of the risk; quantile from scipy.stats.
    t = stats.t.isf(0.05 / 100, readings - 1 if degrees is None else degrees)
    assert bounds.bonferroni_factor(readings, 100, 0.95, degrees) == pytest.approx(
        t * np.sqrt(1 + 1 / readings), rel=1e-6)
    bare = bounds.bonferroni_factor(readings, 100, 0.95, degrees, mean_known=True)
    assert bare == pytest.approx(t, rel=1e-6)


@pytest.mark.parametrize("readings", [2, 3])
def test_the_most_that_may_be_asked_has_an_answer(readings):
    # A million key-ons at 99.99 %: above the bound for one of them, below Bonferroni's.
    factor = bounds.prediction_factor(readings, 1_000_000, 0.9999)
    one, all_of_them = stats.t.isf([1e-4, 1e-10], readings - 1) * np.sqrt(1 + 1 / readings)
    assert one < factor < all_of_them


def test_prediction_tends_to_the_normal_quantile_with_many_readings():
    # Largest of 100 from a fully known normal: Phi^-1(0.95^(1/100)), scipy.stats.
    assert bounds.prediction_factor(10**6, 100, 0.95) == pytest.approx(
        stats.norm.ppf(0.95 ** 0.01), abs=1e-4)


def test_wilks_needs_59_and_299_readings():
    # Wilks: 95 %/95 % and 99 %/95 % with the largest reading.
    assert bounds.readings_needed(0.95, 0.95) == 59
    assert bounds.readings_needed(0.99, 0.95) == 299
    # Whole numbers are not rounded up: 1 - 0.5^3 = 0.875. A little more than ten is eleven.
    assert bounds.readings_needed(0.5, 0.875) == 3
    assert bounds.readings_needed(0.9, 1 - 0.9**10) == 10
    assert bounds.readings_needed(0.9, 1 - 0.9**10.001) == 11


# The library leaves its VERSION file open when it is imported.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_wilks_agrees_with_the_reference_library():
    import toleranceinterval as ti

    sample = np.random.default_rng(3).exponential(1.0, 59)
    assert ti.oneside.non_parametric(sample, 0.95, 0.95)[0] == sample.max()
    assert np.isnan(ti.oneside.non_parametric(sample[:58], 0.95, 0.95)[0])


def test_rice_rate_is_that_of_a_simulated_noise():
    # Filtered normal noise, sampled a hundred times finer than its speed; crossings counted.
    dice = np.random.default_rng(11)
    rows, step_s = 2_000_000, 1e-3
    kernel = np.exp(-0.5 * (np.arange(-150, 151) / 30.0) ** 2)
    x = np.convolve(dice.standard_normal(rows), kernel, "valid")
    sigma = x.std()
    slope = np.std(np.diff(x)) / step_s / sigma
    for z in (0.0, 1.0, 2.0):
        counted = np.sum((x[:-1] < z * sigma) & (x[1:] >= z * sigma))
        expected = bounds.upcrossings_per_second(z * sigma, sigma, slope) * x.size * step_s
        # Rice 1945; the count's own scatter is about its square root.
        assert counted == pytest.approx(expected, abs=4 * np.sqrt(expected))


def test_crossing_level_and_expected_crossings_are_inverse():
    level = bounds.crossing_level(0.001, 900.0, 1000.0, 0.001)
    assert bounds.expected_crossings(level, 0.001, 900.0, 1000.0) == pytest.approx(0.001)
    # So few crossings of the mean itself that no level is needed.
    assert bounds.crossing_level(0.001, 1e-9, 1e-3, 1.0) == 0.0
    assert bounds.upcrossings_per_second(0.001, 0.0, 900.0) == 0.0


def test_a_wave_rises_through_its_mean_once_a_turn():
    # One turn a second: 2 pi per second of slope; Rice 1945, the level left out. 3600 s an hour.
    assert bounds.upcrossings_per_second(0.0, 0.3, 2 * np.pi) == pytest.approx(1.0)
    assert bounds.expected_crossings(0.0, 0.3, 2 * np.pi, 2.0) == pytest.approx(7200.0)
    assert bounds.upcrossings_per_second(0.3, 0.3, 2 * np.pi) == pytest.approx(np.exp(-0.5))
    # Without noise only the mean itself is crossed: the limit of the formula for small sigma.
    assert [bounds.upcrossings_per_second(x, 0.0, 2 * np.pi) for x in (-0.1, 0.0, 0.1)] == [
        pytest.approx(bounds.upcrossings_per_second(x, 1e-3, 2 * np.pi)) for x in (-0.1, 0, 0.1)]


def test_a_level_is_needed_as_soon_as_the_mean_is_crossed_too_often():
    # sigma sqrt(2 ln N), N crossings of the mean for each one allowed; N = e^2, e^(1/8) by hand.
    for many, level in ((np.exp(2.0), 2.0), (np.exp(0.125), 0.5), (1.0, 0.0), (0.9, 0.0)):
        assert bounds.crossing_level(1.0, 2 * np.pi, 1.0, 3600.0 / many) == pytest.approx(
            level, abs=1e-7)


def test_quantisation_noise_is_that_of_the_standard():
    # IEEE Std 1241: SNR of an ideal 10-bit sine 6.02 n + 1.76 dB = 61.96 dB.
    noise = bounds.quantisation_noise(2.0 / 2**10)
    assert 20 * np.log10(1 / np.sqrt(2) / noise) == pytest.approx(61.96, abs=0.01)


@pytest.mark.parametrize("sigma", [0.02, 0.1, 0.29, 0.35, 0.5, 1.0, 4.0])
def test_noise_behind_steps_is_never_less_than_the_true_noise(sigma):
    # Rounding simulated wherever the level lies within a step; nothing of ours in it.
    dice = np.random.default_rng(17)
    worst = np.inf
    for place in np.linspace(-0.5, 0.5, 11):
        seen = np.std(np.round(place + sigma * dice.standard_normal(200_000)))
        worst = min(worst, bounds.noise_behind_steps(float(seen), 1.0))
    # 0.5 % for the scatter of a standard deviation from 200,000 readings.
    assert worst >= sigma * 0.995
    assert worst <= max(sigma * 1.01, 1 / np.sqrt(12) + 1e-9)


def test_noise_without_steps_is_taken_as_it_is():
    assert bounds.noise_behind_steps(0.0007, 0.0) == 0.0007
    assert np.isnan(bounds.noise_behind_steps(float("nan"), 0.001))


def test_noise_just_above_rounding_and_far_above_it_is_found_from_its_rms():
    # rms of the rounded readings from the probabilities of each step (scipy.stats), level in the
    # middle of a step; steps of 4 mV. Sheppard's correction is the same from 3 steps on.
    steps = np.arange(-200, 201)
    for sigma in (0.2, 0.35, 1.0, 2.9, 3.1, 12.0):
        share = stats.norm.cdf((steps + 0.5) / sigma) - stats.norm.cdf((steps - 0.5) / sigma)
        seen = 0.004 * np.sqrt(share @ steps**2)
        assert bounds.noise_behind_steps(seen, 0.004) == pytest.approx(
            0.004 * max(sigma, 1 / np.sqrt(12)), rel=1e-7)


@pytest.mark.parametrize(("sd", "degrees"), [(1.0, 1), (1.0, 9), (0.2, 250)])
def test_upper_bound_of_a_standard_deviation_is_the_chi_square_one(sd, degrees):
    # NIST/SEMATECH e-Handbook 7.2.3.1, quantile from scipy.stats.
    expected = sd * np.sqrt(degrees / stats.chi2.ppf(0.05, degrees))
    assert bounds.sd_upper(sd, degrees, 0.95) == pytest.approx(expected)


def test_outlier_limit_is_that_of_grubbs_tables():
    # Grubbs 1969, one outlier, one-sided 5 % and 1 %: n = 3: 1.153 1.155; 10: 2.176 2.410;
    # 20: 2.557 2.884.
    for n, five, one in ((3, 1.153, 1.155), (10, 2.176, 2.410), (20, 2.557, 2.884)):
        assert bounds.outlier_limit(n, 0.05) == pytest.approx(five, abs=1e-3)
        assert bounds.outlier_limit(n, 0.01) == pytest.approx(one, abs=1e-3)


@pytest.mark.parametrize(("readings", "confidence"), [
    (2, 0.95), (5, 0.95), (10, 0.95), (40, 0.95), (2, 0.335)])
def test_one_sided_prediction_of_one_reading_is_the_closed_form(readings, confidence):
    # P(Y <= least + K theta) = 1 - n/(n + 1) (1 + K/(n - 1))^-(n - 1), from the definitions.
    k = bounds.one_sided_prediction_factor(readings, 1, confidence)
    missed = readings / (readings + 1) * (1 + k / (readings - 1)) ** -(readings - 1)
    assert missed == pytest.approx(1 - confidence, rel=1e-5)


def test_one_sided_prediction_holds_in_simulation():
    dice = np.random.default_rng(6)
    sample = 3.0 + 0.2 * dice.exponential(1.0, (100_000, 10))
    least = sample.min(axis=1)
    theta = (sample.mean(axis=1) - least) * 10 / 9
    # The largest of 100 exponential readings, drawn from (1 - exp(-x))^100.
    largest = 3.0 - 0.2 * np.log(-np.expm1(np.log(dice.random(100_000)) / 100))
    held = largest <= least + bounds.one_sided_prediction_factor(10, 100, 0.95) * theta
    assert np.mean(held) == pytest.approx(0.95, abs=0.0028)


def grubbs_quantiles(share, most):
    """Return the quantiles of (mean - least)/s of normal samples, by Grubbs' recursion (1950).

    One reading's own (x - mean)/s has a density in closed form (Thompson 1935). Where it is the
    extreme one, the others are a sample of n - 1 whose own extreme must lie within it.
    """
    reach, shares, found = np.array([np.sqrt(0.5)]), np.array([1.0]), {}
    angle = np.linspace(0, np.pi / 2, 16_001)
    for n in range(3, most + 1):
        far = (n - 1) / np.sqrt(n) * np.sin(angle)
        spread = np.sqrt(np.maximum((n - 1 - n * far**2 / (n - 1)) / (n - 2), 1e-300))
        within = np.interp(n / (n - 1) * far / spread, reach, shares, left=0.0)
        density = n * np.cos(angle) ** (n - 3) / special.beta(0.5, n / 2 - 1) * within
        total = np.concatenate([[0.0], np.cumsum(density[1:] + density[:-1])])
        reach, shares = far, total / total[-1]
        found[n] = float(np.interp(share, shares, reach))
    return found


def sample_with(n, statistic):
    """Return n readings of mean 0 and standard deviation 1 with the least one so far below."""
    pairs = (n - 1) // 2
    middle = statistic / (n - 1)
    away = np.sqrt((n - 1 - statistic**2 - (n - 1) * middle**2) / (2 * pairs))
    return np.array([-statistic, *[middle - away] * pairs, *[middle + away] * pairs,
                     *[middle] * ((n - 1) % 2)])


def test_a_sample_leans_below_the_fifth_of_grubbs_statistic():
    # Grubbs 1969: one-sided 5 %: n = 3: 1.153; 10: 2.176; 20: 2.557. The recursion gives them.
    table = grubbs_quantiles(0.95, 20)
    assert [table[n] for n in (3, 10, 20)] == pytest.approx([1.153, 2.176, 2.557], abs=6e-4)
    exact = grubbs_quantiles(0.20, 100)
    # The places of the table of five and more, which has three digits.
    for n in (5, 6, 8, 10, 12, 15, 20, 30, 50, 100):
        assert bounds.leans(sample_with(n, exact[n] - 6e-4))
        assert not bounds.leans(sample_with(n, exact[n] + 6e-4))
    # Between its places the table is read by a straight line: over log n: off by 0.002 at most.
    for n in range(5, 101):
        assert bounds.leans(sample_with(n, exact[n] - 0.003))
        assert not bounds.leans(sample_with(n, exact[n] + 0.003))


@pytest.mark.parametrize("readings", [5, 10, 25])
def test_one_in_five_normal_samples_leans_and_most_one_sided_ones_do(readings):
    dice = np.random.default_rng(8)
    normal = np.mean([bounds.leans(x) for x in dice.standard_normal((4_000, readings))])
    # Three standard errors of a share of 0.2 in 4000: 0.019.
    assert normal == pytest.approx(0.20, abs=0.019)
    sided = np.mean([bounds.leans(x) for x in dice.exponential(1.0, (2_000, readings))])
    assert sided > 2 * normal


def test_readings_all_alike_or_fewer_than_five_do_not_lean():
    # The mean of equal numbers is off by a last digit for some n: that is no leaning.
    assert not any(bounds.leans(np.full(n, level)) for n in range(5, 60) for level in (0.1, 0.8))
    crowded = np.array([0.0, 0.0, 0.0, 0.0, 1.0])
    assert bounds.leans(crowded)
    assert not bounds.leans(crowded[1:])


def test_chi_nodes_hold_the_whole_distribution():
    for degrees in (1, 2, 9, 40, 5000):
        node, weight = bounds.chi_nodes(degrees)
        assert weight.sum() == pytest.approx(1.0, abs=1e-9)
        # E(w^2) = 1, from the definition of chi-square.
        assert float(node**2 @ weight) == pytest.approx(1.0, abs=1e-8)


def test_finer_integration_moves_no_prediction_factor(monkeypatch):
    cases = [(3, 100, 0.95), (10, 100, 0.951), (10, 10_000, 0.9999), (300, 100, 0.95)]
    usual = [bounds.prediction_factor(*case) for case in cases]
    monkeypatch.setattr(bounds, "NORMAL_NODES", 301)
    monkeypatch.setattr(bounds, "CHI_NODES", 1200)
    bounds.prediction_factor.cache_clear()
    assert [bounds.prediction_factor(*case) for case in cases] == pytest.approx(usual, rel=1e-6)
    bounds.prediction_factor.cache_clear()


@pytest.mark.parametrize("call", [
    lambda: bounds.tolerance_factor(10, 1.0, 0.95),
    lambda: bounds.prediction_factor(10, 0, 0.95),
    lambda: bounds.prediction_factor(10, 1, 1.0),
    lambda: bounds.one_sided_prediction_factor(10, 0, 0.95),
    lambda: bounds.one_sided_prediction_factor(10, 1, 0.0),
    lambda: bounds.tolerance_factor(10, 0.95, 0.0),
    lambda: bounds.readings_needed(1.0, 0.95),
    lambda: bounds.crossing_level(1.0, 1.0, 1.0, 0.0),
    lambda: bounds.readings_needed(0.95, 1.5),
])
def test_values_out_of_range_are_refused_with_the_value(call):
    with refuses(BadParameter, r"is .*; use"):
        call()
