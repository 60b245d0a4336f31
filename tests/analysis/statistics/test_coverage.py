"""The 95 % interval of a sum of normal, uniform, sine and equally likely parts."""

import numpy as np
import pytest

from analysis.statistics.coverage import half_width, standard_deviation

UNIT = 3**0.5  # half width of a uniform part with standard deviation 1


@pytest.mark.parametrize(("sigma", "limits", "published", "digits"), [
    # JCGM 101:2008, 9.2: four inputs, their sum's 95 % interval (from memory).
    (2.0, (), 3.92, 2), (0.0, (UNIT,) * 4, 3.88, 2), (0.0, (UNIT, UNIT, UNIT, 10 * UNIT), 17.0, 1),
    # EA-4/02 M, S9: resolution of 0.05 V dominates, k = 1.65 (from memory).
    (0.0, (UNIT,), 1.65, 2),
])
def test_the_worked_examples_of_the_guides_come_out(sigma, limits, published, digits):
    """Published intervals to the digits printed."""
    assert round(half_width(sigma, limits, held=0.95), digits) == published


def test_two_limits_make_the_trapezium_of_the_guide():
    """EA-4/02 M, S10.13 (from memory): k = (1 - sqrt((1-p)(1-b^2))) / sqrt((1+b^2)/6)."""
    for one, two in ((50.0, 25.0), (3.0, 2.5), (1.0, 1.0)):
        b = (one - two) / (one + two)
        k = (1 - np.sqrt(0.05 * (1 - b * b))) / np.sqrt((1 + b * b) / 6)
        assert half_width(0.0, (one, two), held=0.95) == pytest.approx(
            k * standard_deviation(0.0, (one, two)), rel=1e-3)


@pytest.mark.parametrize("parts", [
    (1.0, (), ()), (0.2, (), (0.8, 0.3)), (0.5, (2.0,), (0.8,)), (0.0, (0.4,), (1.0, 1.0))])
def test_half_of_a_drawn_sample_lies_where_it_is_said(parts):
    """Against 400000 draws of numpy's generators (JCGM 101:2008, 7), shifts among them."""
    rng = np.random.default_rng(7)
    sigma, limits, swings = parts
    shifts = (-0.4, 0.1, 0.9)
    draws = sigma * rng.standard_normal(400_000) + rng.choice(shifts, 400_000)
    for limit in limits:
        draws += rng.uniform(-limit, limit, draws.size)
    for swing in swings:
        draws += swing * np.sin(rng.uniform(0, 2 * np.pi, draws.size))
    for held in (0.6, 0.9545):
        inside = np.mean(np.abs(draws) <= half_width(sigma, limits, swings, shifts, held))
        # Five standard errors of so many draws, and the grid.
        assert inside == pytest.approx(held, abs=0.005)
    assert standard_deviation(sigma, limits, swings, shifts) == pytest.approx(
        np.sqrt(np.mean(draws**2)), rel=0.01)


def test_a_normal_part_alone_is_its_two_standard_deviations_and_an_unknown_one_stays_so():
    """95.45 % of a normal error: JCGM 100:2008, table G.1."""
    assert half_width(0.3) == pytest.approx(0.6)
    assert half_width(0.3, (1e-9,), (1e-9,), (1e-9,)) == pytest.approx(0.6, rel=1e-3)
    assert np.isnan(half_width(float("nan"), (1.0,)))
    assert half_width(0.0) == 0.0
