"""Two places to rest at: their likelihood against single laws, and what is found with it."""

import numpy as np
import pytest
from scipy import stats

from analysis.statistics.one_or_two_places import one_law, scaled, two_places
from analysis.statistics.resting_places import find_catch

LAWS = (stats.norm, stats.uniform, stats.t(5), stats.gamma(2), stats.expon)


@pytest.mark.parametrize("number", range(5))
def test_each_single_law_is_integrated_over_place_and_scale(number):
    """By a double sum of the law's density by scipy.stats over place and scale."""
    x, hidden = scaled(np.array([0.0, 0.7, 1.1, 1.5, 1.6, 2.4, 4.0]), 0.0)
    scales = np.exp(np.linspace(np.log(0.12), np.log(40.0), 110))
    # In units of the scale, from the middle or, where the law has an end, from the least reading.
    off = np.linspace(-8.0, 8.0, 401) if number in (0, 2) else -np.geomspace(1e-4, 60.0, 401)
    places = off[:, None] * scales + (0.0 if number in (0, 2) else x[0])
    logs = sum(LAWS[number].logpdf((v - places) / scales) for v in x) - x.size * np.log(scales)
    step = np.abs(np.gradient(off))[:, None] * scales * np.log(scales[1] / scales[0])
    exact = np.log(np.sum(np.exp(logs) * step))
    # Grids here and there, their ends, and the edge of a flat law move it by less.
    assert one_law(x, hidden)[number] == pytest.approx(exact, abs=0.15)


def test_two_places_are_integrated_over_place_and_scale():
    """By double sums over place and scale of the density of the readings so parted."""
    x, hidden = scaled(np.array([-0.9, -0.3, 0.1, 0.4, 1.0, 9.0, 10.5]), 0.0)
    numbers, logs = two_places(x, hidden)
    assert list(numbers) == [1, 2, 3]
    scales, places = np.exp(np.linspace(np.log(0.02), np.log(3.0), 80)), np.linspace(-2, 2, 161)
    s, at = np.meshgrid(scales, places)
    low = np.prod([stats.norm.pdf(v, at, s) for v in x[:5]], axis=0)
    whole = 0.0
    for apart in np.geomspace(3.5, 80.0, 11):
        for wider in (0.0, 0.2, 0.5):
            wide = s * np.hypot(1.0, wider * apart)
            high = np.prod([stats.norm.pdf(v, at + apart * s, wide) for v in x[5:]], axis=0)
            whole += float(np.sum(low * high)) / 33
    whole *= np.log(scales[1] / scales[0]) * (places[1] - places[0])
    whole *= sum((1 - p) ** 5 * p**2 for p in (0.04, 0.08, 0.15, 0.25, 0.4)) / 5
    assert logs[1] == pytest.approx(np.log(whole), abs=0.05)
    assert np.argmax(logs) == 1


def test_unit_and_place_do_not_matter():
    dice = np.random.default_rng(1)
    x = dice.standard_normal(13)
    x[[2, 9]] += 8.0
    seen, moved = find_catch(x), find_catch(0.001 * x + 3.0)
    assert (seen.times, seen.of) == (moved.times, moved.of) == (2, 13)
    assert moved.apart == pytest.approx(0.001 * seen.apart)


def test_a_pedal_that_catches_is_found_and_even_scatter_is_not():
    dice = np.random.default_rng(3)
    found = sum(find_catch(dice.standard_normal(13)) is not None for _ in range(1000))
    # One in fifty is promised; 1 in 1000 that so many of 1000 come by chance (binomial).
    assert found <= stats.binom.ppf(0.999, 1000, 0.02)
    caught = dice.standard_normal(13)
    caught[[3, 8]] += 15.0
    catch = find_catch(caught)
    assert (catch.times, catch.of) == (2, 13)
    assert catch.apart == pytest.approx(15.0, abs=3.0)
    assert find_catch(-caught) is None or find_catch(-caught).times > 2


def test_one_return_that_stands_apart_is_a_catch_and_the_tail_of_a_sticking_law_is_not():
    dice = np.random.default_rng(8)
    alone = dice.standard_normal(13)
    alone[5] += 14.0
    assert find_catch(alone).times == 1
    # Quantiles of each law: no sample fits it better.
    p = (np.arange(1, 14) - 0.5) / 13
    for law in LAWS:
        assert find_catch(law.ppf(p)) is None
    for count, share in ((13, 0.16), (30, 0.06)):
        tails = sum(find_catch(dice.exponential(size=count)) is not None for _ in range(200))
        assert tails <= stats.binom.ppf(0.999, 200, share)


def test_catches_are_found_in_pedals_made_apart():
    """Four of five catches of 5 to 30 scatters that come once in 5 returns show in 13 of them."""
    dice = np.random.default_rng(9)
    found = 0
    for _ in range(300):
        x = dice.standard_normal(13)
        x[dice.random(13) < 0.2] += dice.uniform(5.0, 30.0)
        found += find_catch(x) is not None
    assert found >= 240


def test_levels_rounded_alike_and_long_logs_are_answered():
    dice = np.random.default_rng(10)
    assert find_catch(np.zeros(13), 0.002) is None
    # Two codes of a converter: a gap of one step is no second place.
    assert find_catch(np.array([0.0] * 9 + [0.001] * 4), 0.002) is None
    assert find_catch(np.array([0.0] * 9 + [0.05] * 4), 0.002).times == 4
    many = dice.standard_normal(900)
    many[:90] += 12.0
    assert find_catch(many).times == 90
