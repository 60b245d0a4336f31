"""Volts per degree: true slopes held by the interval, key-ons that differ, warmth between them."""

import numpy as np
import pytest
from scipy import stats

from analysis.key_on.blocks import make_blocks
from analysis.key_on.shift import slope_doubt
from analysis.key_on.temperature import per_degree
from analysis.model.recording import Channel, Recording


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


@pytest.mark.parametrize("noise_steps", [0.1, 0.2, 0.35])
def test_a_slope_allows_for_what_rounding_leaves_in_it(noise_steps):
    """Readings rounded by numpy, of known levels: their slope's error is within two uncertainties.

    Two standard uncertainties hold about 95 % (JCGM 100:2008, 6.3.3).
    """
    held = 0
    for seed in range(100):
        dice = np.random.default_rng([int(100 * noise_steps), seed])
        time_s = np.arange(4000) / 100.0
        level = dice.uniform(100, 101) + dice.choice([0.0, dice.uniform(-0.4, 0.4)]) * time_s / 40.0
        codes = np.round(level + dice.normal(0, noise_steps, time_s.size))
        channel = Channel("a", "track", codes, "counts", 4096.0, 5.0)
        recording = Recording(time_s, (channel,))
        blocks = make_blocks(recording)
        middle = np.arange(blocks.count)
        since = blocks.time_s - blocks.time_s.mean()
        weights = since / (since @ since)
        doubt = slope_doubt(recording, channel, blocks, middle, weights,
                            noise_steps * channel.step_volts)
        of_levels = np.polyfit(time_s, level * channel.step_volts, 1)[0]
        error = np.polyfit(time_s, codes * channel.step_volts, 1)[0] - of_levels
        chance = noise_steps * channel.step_volts / np.sqrt(np.sum((time_s - 20.0) ** 2))
        held += (abs(error - doubt.expected) <= 2.0 * np.hypot(doubt.uncertainty, chance))
    assert held >= 90
