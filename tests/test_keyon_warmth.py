"""Volts per degree: true slopes held by the interval, key-ons that differ, warmth between them."""

import numpy as np
import pytest
from scipy import stats

from analysis.keyon.warmth import per_degree


def test_key_ons_that_differ_do_not_mislead_the_slope():
    """0.3 mV a degree within the key-ons, which differ by 2 mV from one another.

    The true slope is in the 95 % interval as often as that says (binomial, 200 draws: 90 to 99).
    """
    held = 0
    for seed in range(200):
        dice = np.random.default_rng(seed)
        key_on = np.repeat(np.arange(5), 6)
        degrees = 20.0 + 0.2 * np.arange(30.0) + dice.normal(0, 0.01, 30)
        levels = (0.7 + 0.0003 * degrees + dice.normal(0, 0.002, 5)[key_on]
                  + dice.normal(0, 0.0002, 30))
        found = per_degree(levels, degrees, key_on, 0.95)
        held += found.low <= 0.0003 <= found.high
    assert 180 <= held <= 200


def test_warmth_between_the_key_ons_is_told_by_their_means():
    """Short key-ons in an afternoon: scipy's least squares of their means, Student's t of n - 2."""
    dice = np.random.default_rng(2)
    warm = np.array([15.0, 18.0, 22.0, 25.0, 29.0])
    key_on = np.repeat(np.arange(5), 2)
    means = 0.7 + 0.0005 * warm + dice.normal(0, 0.001, 5)
    found = per_degree(np.repeat(means, 2), np.repeat(warm, 2), key_on, 0.95)
    line = stats.linregress(warm, means)
    reach = stats.t.ppf(0.975, 3) * line.stderr
    assert (found.value, found.low, found.high) == pytest.approx(
        (line.slope, line.slope - reach, line.slope + reach))


@pytest.mark.parametrize(("degrees", "key_ons"), [
    (np.linspace(20.0, 20.9, 12), 1), (np.repeat([15.0, 22.0, 30.0], 4), 3),
    (np.linspace(20.0, 30.0, 7), 1)],
    ids=["hardly warmed", "three key-ons, each at one temperature", "too few stretches"])
def test_where_too_little_is_seen_no_slope_is_told(degrees, key_ons):
    """Rather none than a wild one."""
    key_on = np.sort(np.arange(degrees.size) % key_ons)
    assert per_degree(0.7 + 0.001 * degrees, degrees, key_on, 0.95) is None
