"""Calibrations that cannot be made, and those that can be only in part: refusals and limits."""

from functools import partial

import numpy as np
import pytest
from said import as_text, refuses
from simple_calibration import simple

from analysis.model.errors import BadParameter, NoCalibration
from analysis.senders.calibration import (
    MeterSpec,
    Points,
    average,
    change_since,
    enough_points,
    fit_curve,
    points_from,
)

NONE = np.zeros(5)
straight = partial(simple, spec=MeterSpec(0.0, 0, 0.001), gain=1.0)


@pytest.mark.parametrize(("make", "words"), [
    (lambda: points_from([], []), "there are no points"),
    (lambda: points_from([1.0, np.nan, 2.0], [1.0, 2.0, 3.0]), "point 2 has no volts"),
    (lambda: points_from([1.0, 2.0], [1.0, np.inf]), "point 2 has no meter"),
    (lambda: points_from([1.0, 2.0], [1.0, 2.0], [0.1, np.nan]), "has no volts uncertainty"),
    (lambda: Points(np.ones(3), np.ones(3), np.ones(2), np.ones(3)), "meter has 2 values for 3"),
])
def test_points_that_lack_something_are_refused(make, words):
    """A point without a reading or a meter value is named by its number, on one line."""
    with refuses(NoCalibration, words):
        make()


@pytest.mark.parametrize(("values", "words"), [
    ({"percent": -1.0}, "percent is -1"), ({"percent": 101.0}, "percent is 101"),
    ({"digits": float("nan"), "resolution": 0.1}, "digits is nan"),
    ({"digits": 2.0}, "state what one step of its last place is worth"),
])
def test_a_meter_that_cannot_be_is_refused(values, words):
    """Limits below nothing or above everything, and digits of an unknown size, are refused."""
    with refuses(BadParameter, words):
        MeterSpec(**values)


@pytest.mark.parametrize(("form", "x", "words"), [
    ("polynomial", [1.0, 1.0, 1.0, 2.0, 2.0], "too few different points for a polynomial"),
    ("table", [1.0, 1.0, 1.0, 2.0, 2.0], "2 different points for a table"),
    ("table", [1.0, 1.0 + 1e-9, 1.0, 2.0, 2.0], "2 different points for a table"),
    ("beta", [100.0, 200.0, 300.0, 0.0, 400.0], "a resistance of 0 ohm is not one of a thermis"),
    ("steinhart-hart", [-5.0, 200.0, 300.0, 1.0, 400.0], "a resistance of -5 ohm"),
])
def test_points_that_no_such_curve_can_take_are_refused(form, x, words):
    """Repeats at two values make no bent curve, and no thermistor has 0 ohm or less."""
    with refuses(NoCalibration, words):
        fit_curve(form, np.array(x), np.arange(5.0), NONE, NONE)


def test_two_points_make_no_thermistors_law_of_three_coefficients():
    """Steinhart-Hart has three coefficients: two points are refused with how many it takes."""
    with refuses(NoCalibration, r"2 points for a steinhart-hart curve; at least 3"):
        fit_curve("steinhart-hart", np.array([1e3, 1e4]), np.array([80.0, 25.0]),
                  np.ones(2), np.full(2, 0.1))


def test_a_curve_that_turns_has_no_single_reading_for_a_value():
    """y = (x - 2)^2 + 1 is 2 at 1 and at 3: asked for the reading of 2, it says so."""
    x = np.linspace(0.0, 4.0, 9)
    found = straight(x, (x - 2.0) ** 2 + 1.0)
    assert found.curve.form == "polynomial"
    with refuses(NoCalibration, "the curve turns; calibrate a smaller range"):
        found.inverse(2.0)
    with refuses(NoCalibration, "lies outside what was calibrated"):
        found.inverse(-3.0)
    # Half of it does not turn: 2 belongs to 3, as by construction.
    rising = straight(x[4:], (x[4:] - 2.0) ** 2 + 1.0, forms=("table",))
    assert rising.inverse(2.0).value == pytest.approx(3.0, abs=0.01)
    # Its ends belong to one reading each, also when the curve falls.
    for table in (rising, straight(x[:5], (x[:5] - 2.0) ** 2 + 1.0, forms=("table",))):
        assert table.inverse(5.0).value == pytest.approx(2.0 + (2.0 if table is rising else -2.0))


@pytest.mark.parametrize(("count", "bend", "form"), [(9, 0.4, "polynomial"), (9, 0.0, "line"),
                                                     (4, 0.4, "line")])
def test_without_any_uncertainty_a_bend_is_seen_from_five_points_up(count, bend, form):
    """Scatter alone shows a bend of 0.4 V once points are left to show it; four are too few."""
    x = np.linspace(0.0, 4.0, count)
    y = 3.0 * x + bend * (x / 2.0 - 1.0) ** 2 + 0.004 * np.cos(np.arange(count) * 2.3)
    found = straight(x, y, 0.0, spec=MeterSpec())
    assert found.curve.form == form
    # The interval holds the curve that was put in wherever the form is right.
    if form == "polynomial" or bend == 0.0:
        there = found.predict(1.3)
        assert there.low <= 3.0 * 1.3 + bend * (1.3 / 2.0 - 1.0) ** 2 <= there.high


def test_more_points_are_asked_for_while_they_can_help():
    """Noisy points under a good meter: more of them narrow the interval, and that is asked for."""
    rng = np.random.default_rng(4)
    x = np.linspace(0.0, 4.0, 6)
    y = 3.0 * x + rng.normal(0.0, 0.05, 6)
    asked = enough_points(straight(x, y, 0.0, spec=MeterSpec()), tolerance=0.1)
    assert not asked.enough
    assert "take more points at both ends" in as_text(asked)
    # A tolerance that is wide enough for them is met by the same points.
    assert enough_points(straight(x, y, 0.0, spec=MeterSpec()), tolerance=2.0).enough


def test_calibrations_without_a_common_range_are_not_compared():
    """Tables of different ranges share no value, which is said instead of a number."""
    low, high = np.linspace(0.0, 1.0, 5), np.linspace(3.0, 4.0, 5)
    before = straight(low, 2.0 * low, forms=("table",))
    after = straight(high, 2.0 * high, forms=("table",))
    with refuses(BadParameter, "share no range between 0 and 4 V"):
        change_since(before.predict, after.predict, 0.0, 4.0, "V")
    # Where they overlap only there is compared: 0.1 V was put in.
    wide = np.linspace(0.5, 4.0, 8)
    moved = change_since(before.predict, straight(wide, 2.0 * wide + 0.1, forms=("table",)).predict,
                         0.0, 4.0, "V")
    assert moved.real
    assert 0.5 <= moved.at_volts <= 1.0
    assert moved.difference == pytest.approx(0.1, abs=1e-6)


def test_a_window_says_why_it_is_not_steady():
    """A step in the middle of a window is a jump by its size; a ramp is a drift by its rise."""
    rng = np.random.default_rng(7)
    time = np.arange(400) / 100.0
    noise = rng.normal(0.0, 0.001, 400)
    quiet = average(time, 2.0 + noise)
    assert as_text(quiet).startswith("steady at ")
    assert abs(quiet.mean - 2.0) < 3.0 * quiet.uncertainty
    # One part of twenty stands 40 mV higher; symmetric about the middle, so no drift.
    blip = np.where((np.arange(400) >= 190) & (np.arange(400) < 210), 0.04, 0.0)
    jumped = average(time, 2.0 + noise + blip, drift_limit=0.02)
    assert not jumped.steady
    assert as_text(jumped).startswith("jumps by +20.4 mV")
    assert 0.015 < jumped.jump < 0.041
    drifting = average(time, 2.0 + noise + 0.05 * time)
    assert not drifting.steady
    assert as_text(drifting).startswith("drifts by +0.2")
    assert drifting.drift == pytest.approx(0.05 * time[-1], abs=0.002)
