"""Hum at rest is named: sines of known frequency put into simulated sweeps.

Aliases by the sampling theorem: a sine of f sampled at r shows at |f - k r|.
"""

from dataclasses import replace

import numpy as np
import pytest
from said import as_text
from scipy.signal import periodogram

from analysis.pedal.findings import Findings, analyse
from analysis.signal.spectrum import density, frequencies
from analysis.simulation import PEDALS, pedal_named, simulate_sweep


def hummed(hertz: float, volts: float, rate_hz: float, bits: int = 12) -> Findings:
    """Return the findings of a sound pedal with a sine on both tracks."""
    made = simulate_sweep(pedal_named("healthy"), rate_hz, bits, seed=6).recording
    sine = volts * np.sin(2 * np.pi * hertz * made.time_s)
    return analyse(replace(made, channels=tuple(
        replace(c, readings=np.round(c.readings + sine * c.full_scale / c.reference_volts))
        if c.role == "track" else c for c in made.channels)))


@pytest.mark.parametrize(("hertz", "rate_hz", "shown"), [
    (50.0, 1000.0, 50.0), (50.0, 200.0, 50.0), (49.9, 100.0, 49.9), (100.0, 500.0, 100.0),
    (130.0, 200.0, 70.0)])
def test_hum_is_named_with_its_frequency_and_size(hertz, rate_hz, shown):
    found = hummed(hertz, 0.02, rate_hz)
    for name, track in found.tracks.items():
        assert track.hum is not None
        assert track.hum.hertz == pytest.approx(shown, abs=0.3)
        # At the very end of the spectrum a line meets its own mirror image.
        end = shown > 0.49 * rate_hz
        assert track.hum.amplitude_volts == pytest.approx(0.02, rel=0.3 if end else 0.05)
        opening = f"Track {name}: most of its noise"
        said = next(s for s in found.graded if as_text(s).startswith(opening))
        assert said.gravity == 1
        assert f"{track.hum.hertz:.1f} Hz" in as_text(said)


# Each pedal once, each rate and resolution in turn, not each with each.
@pytest.mark.parametrize(("name", "rate_hz", "bits"), [
    (p.name, (100.0, 1000.0)[k % 2], (10, 12, 16)[k % 3]) for k, p in enumerate(PEDALS)])
def test_a_pedal_without_hum_has_none(name, rate_hz, bits):
    found = analyse(simulate_sweep(pedal_named(name), rate_hz, bits, seed=2).recording)
    assert all(t.hum is None for t in found.tracks.values())


def test_hum_that_is_little_of_the_noise_is_not_told():
    """A sine of 0.3 mV beside noise of about 1 mV rms: 4 % of its power."""
    assert all(t.hum is None for t in hummed(50.0, 0.0003, 1000.0, 16).tracks.values())


def test_the_density_is_scipys():
    """scipy.signal.periodogram: one-sided, Hann window, each piece less its line; then the mean."""
    pieces = np.random.default_rng(3).normal(0, 1, (5, 128)) + np.linspace(0, 9, 128)
    hertz, power = periodogram(pieces, 50.0, "hann", detrend="linear", axis=1)
    assert frequencies(128, 0.02) == pytest.approx(hertz[1:])
    assert density(pieces, 128, 0.02) == pytest.approx(np.sqrt(power.mean(axis=0))[1:])
