"""How sure a median level is: what enters, what cancels, and that it holds what it says."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.pedal.levels import (
    BEND_STEPS,
    Input,
    Series,
    level_estimate,
    span_estimate,
    wanders,
)

STEP = 0.005


def series(levels, noise=0.0):
    levels = np.asarray(levels, dtype=float)
    return Series(levels, 4.0 * np.arange(levels.size), 1000, noise)


def alike(volts, count=10):
    return series(np.full(count, volts))


def test_where_limits_rule_two_uncertainties_are_less_than_twice_the_root_sum_square():
    """EA-4/02, S9: 1.65 of a single limit; here of a supply that was not recorded."""
    by = Input(0.0, tolerance=0.02)
    found = level_estimate(alike(4.0), by, 0.0)
    assert found.standard == pytest.approx(0.08 / 3**0.5, rel=1e-6)
    # 95.45 % of the half width of a uniform part.
    assert 2 * found.uncertainty == pytest.approx(0.9545 * 0.08, rel=1e-3)


def test_the_offset_of_one_converter_cancels_in_the_ratio_and_in_the_span():
    """A level at the supply itself reads 1 whatever the offset is (arithmetic)."""
    supply = STEP / 5.0
    one = Input(STEP, supply, one_converter=True)
    assert one.offset(5.0) == 0.0
    assert one.offset(1.0) == pytest.approx(0.4 * STEP)
    assert one.offset(4.0, own=0.0) == pytest.approx(0.4 * STEP)
    assert Input(STEP).offset(4.0, own=0.0) == 0.0
    two = replace(one, one_converter=False)
    assert two.offset(5.0) == 0.5 * STEP
    at = 4.0
    assert (level_estimate(alike(at), one, 0.0).uncertainty
            < level_estimate(alike(at), two, 0.0).uncertainty)


def test_converters_drawn_from_the_limit_are_held_in_95_of_100():
    """Converters that cut down and swing by the limit, phases at random, 4000 at four ratios."""
    rng = np.random.default_rng(3)
    by = Input(STEP, STEP / 5.0, one_converter=True)
    for volts in (0.4, 0.8, 3.6, 4.4):
        track, supply = (BEND_STEPS * np.sin(rng.uniform(0, 2 * np.pi, 4000)) - 0.5
                         for _ in range(2))
        error = STEP * (track - volts / 5.0 * supply)
        found = level_estimate(alike(volts), by, 0.0)
        held = np.mean(np.abs(error) <= 2 * found.uncertainty)
        # Five standard errors of 4000 draws.
        assert held == pytest.approx(0.9545, abs=0.017)


@pytest.mark.parametrize("law", ["even", "slower", "jump", "up and down"])
def test_a_rest_that_wandered_is_held_at_a_moment_of_the_sweep(law):
    """300 sweeps of 12 returns each, moments drawn evenly from the first to the last return."""
    rng = np.random.default_rng(4)
    u = np.linspace(0, 1, 12)
    held = []
    for _ in range(300):
        at = rng.uniform(0.3, 0.7)
        shape = {"even": lambda x: x, "slower": lambda x: -np.expm1(-x / 0.3),
                 "jump": lambda x, at=at: 0.5 + 0.5 * np.tanh((x - at) / 0.05),
                 "up and down": lambda x: np.sin(np.pi * x)}[law]
        size = rng.uniform(-0.01, 0.01)
        found = level_estimate(
            series(size * shape(u) + rng.normal(0, 0.0005, 12)), Input(0.0002), 0.0)
        held.append(abs(found.value - size * shape(rng.random())) <= 2 * found.uncertainty)
    assert 0.91 <= np.mean(held) <= 0.985


def test_levels_that_do_not_follow_each_other_rarely_count_as_wandering():
    """Independent normal levels, 1000 sweeps: by chance in about one of twenty."""
    rng = np.random.default_rng(5)
    times = 4.0 * np.arange(10)
    share = np.mean([wanders(rng.standard_normal(10), times) for _ in range(1000)])
    assert 0.02 < share < 0.09
    assert not wanders(np.array([1.0, 2.0, 3.0, 4.0]), times[:4])
    assert not wanders(np.ones(10), times)


def test_warmth_that_moves_both_ends_alike_leaves_the_span_as_sure():
    """Rest and full rise together by 20 mV: each is unsure, their difference is not."""
    rise = np.linspace(0, 0.02, 10)
    rest, full = series(0.8 + rise), series(4.0 + rise)
    by = Input(0.0002)
    ends = (float(np.median(rest.levels)), float(np.median(full.levels)))
    span = span_estimate(rest, full, ends, by)
    assert span.value == pytest.approx(3.2)
    # 95 % of the way either side of the middle, for each of them.
    assert 2 * level_estimate(rest, by, 0.0).uncertainty == pytest.approx(0.0095, rel=0.06)
    assert 2 * span.uncertainty < 0.003
    assert np.isnan(span_estimate(series([]), full, ends, by).uncertainty)
