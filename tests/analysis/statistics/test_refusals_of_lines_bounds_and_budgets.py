"""Corners of the analysis that the other tests leave out: refusals, and lines seldom taken."""

import numpy as np
import pytest
from said import refuses
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.errors import BadParameter, BadRecording, NoCalibration, SweepTooShort
from analysis.model.estimate import Estimate
from analysis.model.recording import Channel, Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band import CarAddition, budget, dead_band
from analysis.pedal.nulling import nulling
from analysis.pedal.pair import bending_of
from analysis.statistics import bounds
from analysis.statistics.straight_line import fit_line

X, Y = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1]


@pytest.mark.parametrize(("arguments", "reason"), [
    (([1.0], [1.0], 0.5), "at least 2"),
    (([1.0, 2.0], [1.0, 2.0]), "at least 3"),
    (([1.0, 2.0], [1.0], 0.5), "one y for every x"),
    (([1.0, np.nan], [1.0, 2.0], 0.5), "not a number"),
    (([2.0, 2.0], [1.0, 3.0], 0.5), "same x"),
    ((X, Y, None, 0.1), "without one of y"),
    ((X, Y, [0.1, 0.2]), "has shape"),
    ((X, Y, -0.5), "0 or more"),
    ((X, Y, np.inf), "0 or more"),
    ((X, Y, 0.0), "contradict"),
    ((X, Y, 0.1, 0.1, [1.0, 2.0]), "covariance of x and y has shape"),
    ((X, Y, 0.1, 0.1, 5.0), "contradict"),
])
def test_points_that_make_no_line_are_refused_with_the_reason(arguments, reason):
    with refuses(NoCalibration, reason):
        fit_line(*arguments)


def test_the_line_of_the_standard_answers_forwards_and_backwards():
    # ISO/TS 28037:2010 clause 6: a = 1.867, b = 1.757, u(a) = 0.465, u(b) = 0.120, cov = -0.050.
    line = fit_line(X, Y, 0.5)
    assert line.chi_squared <= line.chi_limit
    there = line.at(3.5, 0.2)
    assert there.value == pytest.approx(1.867 + 1.757 * 3.5, abs=2e-3)
    u = np.sqrt(0.465**2 + 2 * 3.5 * -0.050 + (3.5 * 0.120)**2 + (1.757 * 0.2)**2)
    assert there.uncertainty == pytest.approx(u, abs=0.02)
    back = line.where(there.value, 0.5)
    assert back.value == pytest.approx(3.5)
    bare = np.sqrt(there.uncertainty**2 - (line.slope.value * 0.2)**2)
    # GUM (JCGM 100:2008) 5.1.2: the uncertainties through the slope add in squares.
    assert back.uncertainty == pytest.approx(np.hypot(bare, 0.5) / line.slope.value)
    np.testing.assert_allclose(line.matrix, [[0.465**2, -0.050], [-0.050, 0.120**2]], atol=1e-3)


def test_a_line_without_slope_leads_back_to_no_x():
    flat = fit_line([0.0, 1.0, 2.0], [1.0, 1.1, 1.0], 0.2)
    with refuses(NoCalibration, "not distinguishable from 0"):
        flat.where(1.0)


def test_two_points_cannot_contradict_a_line():
    line = fit_line([0.0, 2.0], [1.0, 5.0], 0.1)
    assert np.isnan([line.chi_squared, line.chi_limit]).all()
    assert (line.slope.value, line.intercept.value) == (pytest.approx(2.0), pytest.approx(1.0))
    # GUM 5.1.2 for the slope between two points: sqrt(2) u / distance.
    assert line.slope.uncertainty == pytest.approx(np.sqrt(2) * 0.1 / 2)
    # Two-sided 95 % of a normal: 1.960 (any table).
    assert line.coverage_factor() == pytest.approx(1.960, abs=1e-3)


def test_one_covariance_for_all_pairs_is_that_of_each():
    one, each = (fit_line(X, Y, 0.3, 0.2, c) for c in (0.01, [0.01] * 6))
    whole = fit_line(X, Y, 0.3, 0.2, np.eye(6) * 0.01)
    assert one.slope == each.slope == whole.slope


@pytest.mark.parametrize("call", [
    lambda: bounds.sd_upper(1.0, 5, 1.0), lambda: bounds.sd_upper(1.0, 5, 0.0)])
def test_a_confidence_of_nothing_or_all_is_refused(call):
    with refuses(BadParameter, "between 0 and 1"):
        call()


def test_a_bound_without_freedom_is_endless():
    assert bounds.sd_upper(1.0, 0.5, 0.95) == np.inf
    assert bounds.sd_upper(np.nan, 9, 0.95) == np.inf
    assert bounds.outlier_limit(2, 0.01) == np.inf


def test_noise_of_readings_without_steps_stays_as_it_is():
    assert bounds.noise_behind_steps(0.003, 0.0) == 0.003
    # Ideal rounding: step / sqrt(12) (IEEE Std 1241); Sheppard's correction far above it.
    assert bounds.noise_behind_steps(0.0, 0.012) == pytest.approx(0.012 / np.sqrt(12))
    assert bounds.noise_behind_steps(1.0, 0.1) == pytest.approx(np.sqrt(1 - 0.01 / 12))


def track(**more: object) -> Channel:
    """Return a short track."""
    return Channel("a", "track", np.array([1.0, 2.0]), **(
        {"full_scale": 1024.0, "reference_volts": 5.0} | more))


@pytest.mark.parametrize(("make", "reason"), [
    (lambda: Channel("a", "pedal", np.empty(0), "V"), "role"),
    (lambda: track(unit="ohm"), "unit"),
    (lambda: track(full_scale=None), "full_scale"),
    (lambda: track(scale=0.0), "scale not 0"),
    (lambda: track(nominal_volts=0.0), "nominal_volts"),
    (lambda: Recording(np.arange(2.0), (track(), track())), "share a name"),
    (lambda: Recording(np.arange(3.0), (track(),)), "every row needs a time"),
    (lambda: Recording(np.array([0.0, np.nan]), (track(),)), "no time"),
    (lambda: Recording(np.array([1.0, 0.0]), (track(),)), "runs backwards at row 2"),
    (lambda: Recording(np.array([0.0, 1e300]), (track(),)), "at most 1e"),
    (lambda: Recording(np.arange(2.0), (track(),)).channel("z"), "no channel 'z'"),
])
def test_a_recording_that_contradicts_itself_is_refused(make, reason):
    with refuses(BadRecording, reason):
        make()


def test_nothing_can_be_nulled_without_readings_or_supply():
    with refuses(SweepTooShort, "no reading"):
        nulling(np.array([np.nan]), 0.75, 5.0, 270.0)
    with refuses(BadParameter, "above 0"):
        nulling(np.ones(3), 0.75, 0.0, 270.0)
    # 0.25 V of 5 V over 270 degrees: 13.5 degrees, by the rule of three.
    assert nulling(np.full(9, 1.0), 0.75, 5.0, 270.0).degrees == pytest.approx(13.5)


def test_three_returns_are_the_least_that_give_a_level():
    # The limit is the project's own (LEAST_RETURNS of dead_band_weak); a mutant moved it unnoticed.
    three = dead_band(track_by_hand(TEN_LEVELS[:3]), Parameters())
    assert np.isfinite(three.start_of_travel_volts)
    assert not np.isfinite(dead_band(track_by_hand(TEN_LEVELS[:2]), Parameters()).total_volts)


def test_a_car_that_pulls_towards_rest_gives_no_discount():
    lines = {i.name: i for i in budget(track_by_hand(TEN_LEVELS), Parameters(),
                                       CarAddition(-0.02, "pulls down"))}
    assert (lines["what the car adds"].volts, lines["what the car adds"].basis) == (0.0, "measured")


def test_five_returns_are_enough_to_budget_a_drift():
    levels = 0.75 + np.linspace(0.0, 0.03, 5)
    drifting = track_by_hand(levels, drift=Estimate(0.05, 0.001))
    found = {i.name: i.volts for i in budget(drifting, Parameters())}["drift"]
    # 0.05 V a minute over the minutes between first and last rest, and half as much again.
    assert found == pytest.approx(1.5 * 0.05 * np.ptp(drifting.rest_times_s) / 60.0)


def test_residuals_that_follow_their_neighbours_widen_the_variance():
    # First-order autoregression: variance of the mean grows by (1 + rho) / (1 - rho) (any text on
    # time series); the mean of the residuals itself must not count.
    rng = np.random.default_rng(1)
    rho, left = 0.6, [0.0]
    for step in rng.normal(size=20_000):
        left.append(rho * left[-1] + step)
    x = np.arange(len(left), dtype=float)
    for shift in (0.0, 50.0):
        assert bending_of(np.array(left) + shift, x) == pytest.approx(1.6 / 0.4, rel=0.1)
    mixed = rng.permutation(x.size)
    assert bending_of(np.array(left)[mixed], x[mixed]) == pytest.approx(1.6 / 0.4, rel=0.1)
    assert bending_of(np.zeros(50), np.arange(50.0)) == 1.0
    # A slow bend has no more than five independent stretches.
    assert bending_of(np.sin(np.linspace(0, 3, 100)), np.arange(100.0)) == pytest.approx(20.0)
