"""The mean of readings at one level: what noise that remembers is worth, and what is not steady."""

import re

import numpy as np
import pytest
from said import as_text, refuses

from analysis.model.errors import NoCalibration
from analysis.senders.calibration import average, independent_readings


def ar(rng, n, memory):
    e = rng.normal(size=n)
    x = np.empty(n)
    x[0] = e[0]
    for k in range(1, n):
        x[k] = memory * x[k - 1] + np.sqrt(1 - memory**2) * e[k]
    return x


@pytest.mark.parametrize("memory", [0.0, 0.5, 0.9])
def test_noise_that_remembers_is_worth_less(memory):
    """n readings with lag-one correlation r are worth n (1 - r) / (1 + r)."""
    # Effective sample size of an AR(1) series (Bayley & Hammersley 1946; from memory).
    rng = np.random.default_rng(5)
    worth = np.median([independent_readings(ar(rng, 800, memory)) for _ in range(60)])
    assert worth == pytest.approx(800 * (1 - memory) / (1 + memory), rel=0.25)


@pytest.mark.parametrize("memory", [0.0, 0.9])
def test_stated_uncertainty_of_a_mean_holds(memory):
    """The true level lies within 1.96 stated uncertainties in about 95 %, steady noise passes."""
    rng = np.random.default_rng(6)
    hits = steady = 0
    for _ in range(300):
        got = average(np.arange(400) * 0.005, 2.0 + 0.004 * ar(rng, 400, memory))
        hits += abs(got.mean - 2.0) <= 1.96 * got.uncertainty
        steady += got.steady
    # 95 % of 300 has a standard deviation of 1.3 %.
    assert hits / 300 > 0.91
    assert steady / 300 > 0.95


def test_a_coarse_converter_is_not_trusted_below_its_step():
    """Without noise to dither it, the mean is uncertain by step / sqrt(12)."""
    # Uniform between the steps: JCGM 100:2008, F.2.2.1.
    got = average(np.arange(100) * 0.01, np.full(100, 2.0), step=0.005)
    assert got.uncertainty == pytest.approx(0.005 / np.sqrt(12), rel=2e-3)


@pytest.mark.parametrize("shape", ["ramp", "settling", "step"])
def test_drift_is_refused_with_its_size(shape):
    """A ramp, a settling level and a step inside the window are refused, and the size is said."""
    rng = np.random.default_rng(7)
    t = np.arange(400) * 0.005
    level = {"ramp": 0.05 * t / 2, "settling": 0.2 * np.exp(-t / 0.4),
             "step": np.where(t > 1, 0.05, 0.0)}[shape]
    got = average(t, 2 + level + 0.002 * rng.normal(size=t.size), step=0.0012)
    assert not got.steady
    said = re.match(r"(?:drifts|jumps) by (\S+) (m?)V", as_text(got))
    told = float(said[1]) * (1e-3 if said[2] else 1.0)
    assert told in (pytest.approx(got.drift, rel=5e-3), pytest.approx(got.jump, rel=5e-3))
    assert "allowed" in as_text(got)


@pytest.mark.parametrize("readings", [100, 400])
@pytest.mark.parametrize("tau", [0.005, 0.02, 0.1, 0.3, 1.0])
@pytest.mark.parametrize("height", [0.02, 0.5, 2.0])
def test_a_settling_level_is_never_averaged_wrongly(readings, tau, height):
    """Whenever the move began and however fast it settles: refused, or right within 4 sigma."""
    rng = np.random.default_rng(8)
    t = np.linspace(0, 1, readings)
    for begun in (0.5, 0.2, 0.02, 0.0, -0.1, -0.5, -1.0):
        level = np.where(t > begun, 2 - height * np.exp(-(t - begun) / tau), 2 - height)
        got = average(2 * t, level + 0.0018 * rng.normal(size=readings), step=0.0012)
        assert not got.steady or abs(got.mean - level[-1]) < 4 * got.uncertainty


def test_too_few_readings_are_refused():
    """Seven readings make no mean."""
    with refuses(NoCalibration, "7 readings"):
        average(np.arange(7.0), np.ones(7))
