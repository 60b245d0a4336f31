"""What a meter's leaflet allows, and the 95 % interval of normal and uniform parts together."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from said import refuses

from analysis.model.errors import BadParameter
from analysis.senders.calibration import MeterSpec, half_width, parse_meter_spec, resolution_of


@pytest.mark.parametrize(("text", "percent", "digits"), [
    ("0.5% + 2 digits", 0.5, 2), ("±(0.8 % rdg + 3 dgt)", 0.8, 3), ("1%", 1, 0),
    ("+/-(0,05 % of reading + 1)", 0.05, 1), ("3 digits", 0, 3), ("1.2%+5d", 1.2, 5),
])
def test_leaflets_are_read(text, percent, digits):
    """Limits are understood as leaflets print them (common practice, no source)."""
    spec = parse_meter_spec(text, 0.01)
    assert (spec.percent, spec.digits) == (percent, digits)
    # 12.00 V shown: percent of reading plus digits of the last place.
    assert spec.limit(np.array([12.0]))[0] == pytest.approx(12 * percent / 100 + digits * 0.01)


@pytest.mark.parametrize("text", ["", "good", "0.5% + two", "-1%", "0.5% + 2 digits please"])
def test_other_words_are_refused(text):
    """What is not understood is refused with an example."""
    with refuses(BadParameter, r"0.5% \+ 2 digits"):
        parse_meter_spec(text, 0.01)


def test_rounding_is_uniform():
    """A step of the last place has the standard uncertainty step / sqrt(12)."""
    # JCGM 100:2008, F.2.2.1: 0.29 of the step.
    assert MeterSpec(resolution=1.0).rounding_uncertainty == pytest.approx(0.289, abs=5e-4)
    assert resolution_of(["12.3", "9.81", "7"]) == pytest.approx(0.01)
    assert resolution_of(["120", "80"]) == 1.0


@pytest.mark.parametrize(("normal", "first", "second"), [
    (1, 0, 0), (1, 1, 0), (0.1, 1, 0.5), (0.001, 1, 1), (1, 0.05, 0.03), (0.3, 2, 0.1),
    (0, 1, 0), (0, 1, 0.4), (0.02, 1, 0.019), (2, 1, 1),
])
def test_interval_of_normal_and_uniform_parts(normal, first, second):
    """The half width is the 95 % quantile of simulated sums."""
    # JCGM 101:2008: propagation of distributions by simulation.
    rng = np.random.default_rng(1)
    n = 300_000
    size = np.abs(normal * rng.normal(size=n) + rng.uniform(-first, first, n)
                  + rng.uniform(-second, second, n))
    h = half_width(normal, first, second)
    assert np.mean(size <= h) == pytest.approx(0.95, abs=0.0015)


def test_pure_cases_of_the_interval():
    """Normal alone gives 1.96 sigma, uniform alone 0.95 of its limit, triangular as tabled."""
    assert half_width(1.0) == pytest.approx(1.959964, abs=1e-6)
    assert half_width(0.0, 1.0) == pytest.approx(0.95, abs=1e-3)
    # Two equal uniforms make a triangle of half width 2: P(|x| < h) = 1 - (1 - h/2)^2.
    assert half_width(0.0, 1.0, 1.0) == pytest.approx(2 * (1 - np.sqrt(0.05)), abs=2e-3)


@given(st.floats(0, 5), st.floats(0, 5), st.floats(0, 5))
@settings(max_examples=60, deadline=None)
def test_interval_lies_between_its_bounds(normal, first, second):
    """More error never narrows the interval, and it stays below the sum of its parts."""
    h = half_width(normal, first, second)
    assert h >= max(1.9599 * normal, 0.9499 * first, 0.9499 * second) * (1 - 5e-3) - 1e-12
    assert h <= 1.96 * normal + first + second + 1e-9


def test_an_interval_with_two_places_is_what_drawing_finds():
    """P(|N + U1 + U2 +- d| <= h) = 95 % by Monte Carlo (JCGM 101:2008, clause 7; numpy's draws)."""
    rng = np.random.default_rng(8)
    n = 400_000
    for sigma, first, second, shift in ((1.0, 0.0, 0.0, 3.0), (0.5, 2.0, 0.3, 1.0),
                                        (0.2, 0.0, 1.0, 0.7)):
        drawn = (rng.normal(0, sigma, n) + rng.uniform(-first, first, n)
                 + rng.uniform(-second, second, n) + shift * rng.choice([-1, 1], n))
        h = half_width(sigma, first, second, 0.95, shift)
        assert np.mean(np.abs(drawn) <= h) == pytest.approx(0.95, abs=0.002)
