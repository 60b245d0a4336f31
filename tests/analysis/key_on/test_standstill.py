"""One input that stands still alone with the key on was not read; a quiet one is left alone."""

import numpy as np
import pytest

from analysis.key_on.cycles import Span
from analysis.key_on.standstill import standstill_findings
from analysis.model.recording import Channel, Recording

RATE = 100.0


def told(readings, noise_of_others=1.0, role="track"):
    rng = np.random.default_rng(1)
    other = np.round(600 + noise_of_others * rng.standard_normal(readings.size))
    recording = Recording(np.arange(readings.size) / RATE, (
        Channel("a", role, readings, "counts", 4096.0, 5.0, nominal_volts=5.0),
        Channel("b", "track", other, "counts", 4096.0, 5.0)))
    spans = tuple(Span(k - 400, k, k + 500) for k in range(600, readings.size - 500, 1000))
    return standstill_findings(recording, 1 / RATE, spans, 0.1, 1e-9)


def noisy(sigma, level=700.5, seed=2):
    return np.round(level + sigma * np.random.default_rng(seed).standard_normal(6000))


@pytest.mark.parametrize("role", ["track", "supply"])
def test_a_channel_that_freezes_with_the_key_on_is_named_with_its_time(role):
    """Frozen from the third second for good, or for one second: nothing was read (arithmetic)."""
    for start, stop in ((300, 6000), (2700, 2800)):
        readings = noisy(0.8)
        readings[start:stop] = readings[start - 1]
        found = told(readings, role=role)
        assert [f.channel for f in found] == ["a"]
        assert found[0].time_s == pytest.approx(max(start, 600) / RATE, abs=0.02)


@pytest.mark.parametrize("sigma", [0.0, 0.05, 0.2, 0.4, 0.8, 3.0])
@pytest.mark.parametrize("level", [700.0, 700.5])
def test_noise_of_any_size_at_any_place_between_two_codes_is_no_standstill(sigma, level):
    """With the key on it may lie in the middle of a step, with the key off at its edge."""
    readings = noisy(sigma)
    quiet = noisy(sigma, level, seed=3)
    readings[600:1100] = quiet[600:1100]
    assert told(readings) == ()


def test_a_reading_at_an_end_of_the_converter_is_told_elsewhere():
    """Clipped readings have a finding of their own."""
    readings = noisy(0.8)
    readings[2700:2900] = 4095.0
    assert told(readings) == ()
