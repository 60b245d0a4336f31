"""Pulses of known frequency and duty, made by arithmetic; scipy.signal.square as a second maker."""

import numpy as np
import pytest
from scipy.signal import square

from analysis.signal.pulses import pulses_of


def made(hertz, duty, rate, seconds=2.0, phase=0.37, noise=0.01, high=5.0, seed=1):
    """Return times and volts of a square wave, sampled without any filter."""
    rng = np.random.default_rng(seed)
    t = np.arange(int(seconds * rate)) / rate
    level = square(2 * np.pi * (hertz * t + phase), duty)
    return t, 0.5 * high * (1 + level) + rng.normal(0, noise, t.size)


@pytest.mark.parametrize(("hertz", "duty", "rate"), [
    (37.3, 0.5, 1000.0), (1000.7, 0.16, 20000.0), (3.1, 0.9, 200.0), (121.9, 0.27, 2000.0)])
def test_frequency_and_duty_hold_what_was_made(hertz, duty, rate):
    """Both lie within three times their uncertainty, and that is small."""
    found = pulses_of(*made(hertz, duty, rate))
    assert found.state == "seen"
    assert abs(found.hertz.value - hertz) < 3 * found.hertz.uncertainty
    assert found.hertz.uncertainty < 2e-3 * hertz
    assert abs(found.duty.value - duty) < 3 * found.duty.uncertainty
    assert (found.low_volts, found.high_volts) == pytest.approx((0.0, 5.0), abs=0.01)


def test_uncertainties_are_what_scatter_shows():
    """Over many phases the errors are as large as stated, within a third more and three less."""
    f, d = [], []
    rng = np.random.default_rng(4)
    for _ in range(150):
        hertz, duty = rng.uniform(20, 90), rng.uniform(0.2, 0.8)
        found = pulses_of(*made(hertz, duty, 1000.0, 1.0, rng.uniform(), seed=rng.integers(1e6)))
        f.append((found.hertz.value - hertz) / found.hertz.uncertainty)
        d.append((found.duty.value - duty) / found.duty.uncertainty)
    assert 0.3 < np.std(f) < 1.35
    assert 0.3 < np.std(d) < 1.35


def test_edges_on_the_grid_do_not_average():
    """100.0 Hz at 1000 rows a second: every edge is unsure alike, so the duty stays unsure."""
    found = pulses_of(*made(100.0, 0.537, 1000.0))
    assert found.duty.uncertainty > 0.03
    assert abs(found.duty.value - 0.537) < 3 * found.duty.uncertainty


def test_what_a_rate_cannot_see_is_said():
    """1 kHz at 3000 rows a second: too fast; the fastest even pulse there is 750 Hz."""
    found = pulses_of(*made(1000.7, 0.16, 3000.0))
    assert found.state == "too fast"
    assert found.most_hertz == pytest.approx(750.0)
    assert np.isnan(found.duty.value)


def test_no_pulses_few_and_missing_ones():
    """A sine, a steady line, three pulses, and a train with a gap in it each get their own word."""
    t = np.arange(4000) / 1000.0
    assert pulses_of(t, 2.5 + 2 * np.sin(2 * np.pi * 7 * t)).state == "no pulses"
    assert pulses_of(t, np.full(t.size, 2.5)).state == "no pulses"
    assert pulses_of(*made(1.4, 0.5, 1000.0)).state == "too few"
    time, volts = made(20.0, 0.5, 1000.0)
    volts[(time > 0.8) & (time < 1.1)] = 0.0
    assert pulses_of(time, volts).state == "irregular"
