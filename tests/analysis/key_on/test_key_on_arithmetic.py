"""The arithmetic under the key-on analysis, against textbooks and plain simulation."""

import numpy as np
import pytest
from scipy import special, stats

from analysis.key_on.allowance import bound_of_more, lift_bound, more_cycles
from analysis.key_on.proof import free_bound, upcrossing_chance
from analysis.parameters import Parameters
from analysis.signal.quantisation import converter_bias, rounding_left
from analysis.signal.spectrum import aliases
from analysis.simulation.car import coloured
from analysis.statistics.correlated import fit_coefficient, student_interval
from bench.wording.reasons import in_words


def test_white_noise_gives_the_textbook_interval() -> None:
    """With white noise the interval of a step is Student's, hardly wider."""
    rng = np.random.default_rng(1)
    n = 40
    is_after = np.repeat([0.0, 1.0], n // 2)
    design = np.column_stack([np.ones(n), is_after])
    ratios = []
    for _ in range(40):
        y = rng.normal(0.0, 1.0, n)
        fit = fit_coefficient(y, design, np.arange(n) * 0.5, np.ones(n), 1, 0.95)
        # Two-sample Student interval: scipy.stats.ttest_ind, an independent implementation.
        known = stats.ttest_ind(y[n // 2:], y[:n // 2]).confidence_interval(0.95)
        ratios.append((fit.high - fit.low) / (known.high - known.low))
    assert 0.95 < np.median(ratios) < 1.4


def test_flicker_noise_is_not_mistaken_for_certainty() -> None:
    """On 1/f noise the interval of a step that is not there holds zero about 95 times in 100."""
    rng = np.random.default_rng(2)
    m = 1 << 12
    shape = 1.0 / np.sqrt(np.maximum(np.arange(m + 1), 1.0))
    n = 48
    design = np.column_stack([np.ones(n), np.repeat([0.0, 1.0], n // 2)])
    inside = naive = 0
    runs = 120
    for _ in range(runs):
        noise = coloured(rng, shape)[:n * 20].reshape(n, 20).mean(axis=1)
        fit = fit_coefficient(noise, design, np.arange(n, dtype=float), np.ones(n), 1, 0.95)
        inside += fit.low <= 0.0 <= fit.high
        plain = stats.ttest_ind(noise[n // 2:], noise[:n // 2]).confidence_interval(0.95)
        naive += plain.low <= 0.0 <= plain.high
    # 2.5 standard deviations of 95 % of 120 below it.
    assert inside / runs > 0.90
    # What this guards against: taking the readings for independent.
    assert naive / runs < 0.6


def test_converter_step_leaves_what_a_converter_leaves() -> None:
    """The error of a mean of rounded readings agrees with rounding itself."""
    rng = np.random.default_rng(3)
    # Without noise: step / sqrt(12), ideal quantisation (IEEE Std 1241).
    assert converter_bias(1.0, 0.0) == pytest.approx(1 / np.sqrt(12), rel=0.06)
    levels = rng.uniform(0.0, 1.0, 400)
    for sigma in (0.15, 0.3):
        means = [np.mean(np.floor(v + rng.normal(0, sigma, 20_000) + 0.5)) - v for v in levels]
        assert converter_bias(1.0, sigma) == pytest.approx(np.std(means), rel=0.1)


@pytest.mark.parametrize("shape", ["normal", "bursts", "tone"])
@pytest.mark.parametrize("sigma", [0.0, 0.1, 0.2, 0.3])
def test_what_rounding_left_in_a_mean_is_told_from_the_codes(sigma: float, shape: str) -> None:
    """The true level lies within the limits for 93 of 100 places in a step, whatever the noise.

    The readings are rounded here; nothing of the analysis is used to make them.
    """
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(100):
        level = rng.uniform(-0.5, 0.5)
        noise = {"normal": rng.standard_normal(4000),
                 "bursts": rng.standard_t(5, 4000) / np.sqrt(5 / 3),
                 "tone": np.sqrt(2) * np.sin(0.61803 * np.arange(4000) + rng.uniform(0, 6))}[shape]
        noise = sigma * (noise - noise.mean())
        codes = np.round(level + noise)
        expected, u = rounding_left(codes)
        off = codes.mean() - level
        # A hundredth of a step is what 4000 readings leave to chance.
        reach = 1.96 * u + 0.01
        inside += min(expected, 0.0) - reach <= off <= max(expected, 0.0) + reach
    assert inside >= 93


def test_readings_half_way_between_which_there_are_none_leave_what_one_code_leaves() -> None:
    """A level that jumps: one code on either side, each without noise, uniform within a step."""
    codes = np.repeat([100.0, 900.0], 10)
    # JCGM 100:2008, 4.3.7: the standard deviation of a uniform distribution one step wide
    assert rounding_left(codes) == (0.0, pytest.approx(1.0 / np.sqrt(12.0)))


def test_levels_alike_differ_by_nothing_that_rounding_left() -> None:
    """The same codes before and after leave the same error, so the difference has none expected."""
    codes = np.repeat([3.0, 4.0], [900, 100])
    first, second = rounding_left(codes), rounding_left(codes + 7.0)
    assert first == pytest.approx(second)
    # Nine in ten on one code: the level lies on its side of the edge, so the mean is off to there.
    assert -0.4 <= first[0] < 0.0


def test_pooled_interval_is_students() -> None:
    """The interval over cycles is that of scipy.stats.t."""
    values = np.array([3.1, 2.7, 3.3, 2.9, 3.6])
    mean, low, high = student_interval(values, 0.95)
    known = stats.t.interval(0.95, 4, values.mean(), stats.sem(values))
    assert (mean, low, high) == pytest.approx((values.mean(), *known))


@pytest.mark.parametrize("rho", [-0.3, 0.0, 0.5, 0.95])
def test_upcrossings_follow_the_cosine_formula_and_the_bivariate_normal(rho: float) -> None:
    """The chance of an upcrossing is the cosine formula at the mean and exact away from it."""
    # Rice 1945: zero crossings per step arccos(rho)/pi, half of them upwards.
    assert upcrossing_chance(np.zeros(1), np.array([rho]))[0] == pytest.approx(
        np.arccos(rho) / (2 * np.pi))
    both = stats.multivariate_normal([0, 0], [[1, rho], [rho, 1]])
    exact = stats.norm.cdf(1.5) - both.cdf([1.5, 1.5])
    assert upcrossing_chance(np.array([1.5]), np.array([rho]))[0] == pytest.approx(exact, rel=1e-4)
    # P(x0 < z <= x1) = 2 T(z, sqrt((1 - rho)/(1 + rho))), T of Owen 1956.
    assert upcrossing_chance(np.array([4.0]), np.array([rho]))[0] == pytest.approx(
        2 * special.owens_t(4.0, np.sqrt((1 - rho) / (1 + rho))))


def test_no_events_give_the_rule_of_three() -> None:
    """Without an event in T hours the rate is below 3 / T at 95 % (-ln 0.05 = 2.996)."""
    assert free_bound(0, 10.0, 0.95) == pytest.approx(2.99573 / 10.0 * 1000.0, rel=1e-5)
    # Garwood 1936: chi2.ppf(0.95, 2 k + 2) / 2.
    assert free_bound(3, 1.0, 0.95) == pytest.approx(stats.chi2.ppf(0.95, 8) / 2 * 1000.0)


def test_key_ons_needed_are_wilks_numbers() -> None:
    """59 key-ons carry 95 %/95 %, 299 carry 99 %/95 % (Wilks 1941)."""
    more = {round(m.coverage, 4): m for m in more_cycles(4, Parameters(key_ons=1000))}
    assert more[0.95].needed == 59
    assert more[0.99].needed == 299
    assert more[0.95].missing == 55
    assert more[0.999].needed == 2995  # ln 0.05 / ln 0.999 = 2994.2


def test_aliases_fold_back_to_the_tone() -> None:
    """Each stated true frequency, sampled, lands on the tone that was seen."""
    assert len(aliases(37.0, 500.0)) == 6
    for hertz in aliases(37.0, 500.0):
        assert abs(hertz - 500.0 * round(hertz / 500.0)) == pytest.approx(37.0)


def test_lift_bound_holds_later_key_ons() -> None:
    """From eight normal key-ons all of the next 100 are held at the car's half of a risk of 5 %."""
    rng = np.random.default_rng(5)
    parameters = Parameters(key_ons=100)
    held = 0
    for _ in range(400):
        lifts = rng.normal(0.03, 0.002, 108)
        bound, why = lift_bound(lifts[:8], lifts[:8], 0.0, 0.0, parameters)
        held += bound >= lifts[8:].max()
    # Binomial standard deviation at 97.5 % of 400: 0.78 %; three of them either side.
    assert 0.951 <= held / 400 <= 0.998
    assert "97.5% confidence" in in_words(why)


@pytest.mark.parametrize("logged", [3, 5, 8, 15])
def test_lift_bound_holds_extremes_when_the_reach_of_the_noise_is_unknown(logged: int) -> None:
    """The furthest of 20 000 normal readings is a Gumbel extreme; the next 100 are held as well.

    The distribution of the largest of N is the Nth power of one's (scipy.stats.norm as reference).
    """
    rng = np.random.default_rng(11)
    furthest = 0.03 + 0.001 * stats.norm.ppf(rng.uniform(size=(400, logged)) ** (1 / 20_000))
    later = 0.03 + 0.001 * stats.norm.ppf(rng.uniform(size=400) ** (1 / 2_000_000))
    unknown = np.full(logged, np.nan)
    held = sum(lift_bound(row, unknown, float("nan"), 0.0, Parameters(key_ons=100))[0] >= most
               for row, most in zip(furthest, later, strict=True))
    assert held / 400 >= 0.95


def test_two_key_ons_carry_no_bound() -> None:
    """Below three key-ons there is no measured allowance, and the reason is told."""
    bound, why = lift_bound(np.array([0.01, 0.02]), np.array([0.01, 0.02]), 0.0, 0.0, Parameters())
    assert np.isnan(bound)
    assert "log at least 3" in in_words(why)


def test_what_more_key_ons_would_save_is_the_bound_of_ten_like_them():
    """Three lifts repeated until there are ten have nearly the same mean and scatter."""
    parameters = Parameters(key_ons=100)
    three = np.array([0.010, 0.018, 0.026])
    now, _ = lift_bound(three, three, 0.004, 0.001, parameters)
    then = bound_of_more(three, three, 0.004, 0.001, parameters)
    # Ten with exactly that mean and standard deviation.
    ten = np.linspace(-1.0, 1.0, 10)
    ten = three.mean() + ten * three.std(ddof=1) / ten.std(ddof=1)
    real, _ = lift_bound(ten, ten, 0.004, 0.001, parameters)
    assert then == pytest.approx(real, rel=1e-9)
    assert then < 0.5 * now
    assert np.isnan(bound_of_more(ten, ten, 0.004, 0.001, parameters))
    assert np.isnan(bound_of_more(three[:2], three[:2], 0.004, 0.001, parameters))
