"""What the sender itself does, and thermometers' limits."""

import numpy as np
import pytest
from said import as_text, refuses
from simple_calibration import simple

from analysis.model.errors import BadParameter
from analysis.senders import Hall, Thermistor
from analysis.senders.calibration import (
    MeterSpec,
    calibrate,
    judge_as_calibrated,
    parse_meter_spec,
    points_from,
)


@pytest.mark.parametrize(("text", "percent", "digits", "absolute"), [
    ("+-0.5 C", 0, 0, 0.5), ("±0.5 °C", 0, 0, 0.5), ("+/- 0,5 °C", 0, 0, 0.5),
    ("0.8 % + 5 d", 0.8, 5, 0), ("1 C + 0.3 %", 0.3, 0, 1), ("0.3 % + 1 C", 0.3, 0, 1),
    ("±(0.5% rdg + 1.5 degrees C)", 0.5, 0, 1.5), ("2 K", 0, 0, 2), ("±1.8 °F", 0, 0, 1.0),
    ("0.1 % + 0.2 C + 1 digit", 0.1, 1, 0.2), ("0.5% + 2mV", 0.5, 0, 0.002),
    ("1 % + 3 mA", 1, 0, 0.003), ("0.2 % + 0.1 kohm", 0.2, 0, 100)])
def test_thermometers_limits_are_read_as_people_write_them(text, percent, digits, absolute):
    """Kelvin and degrees count as they stand; 1.8 degrees Fahrenheit are 1 K by definition."""
    spec = parse_meter_spec(text, 0.1)
    assert (spec.percent, spec.digits) == (percent, digits)
    assert spec.absolute == pytest.approx(absolute)
    assert spec.limit(np.array([50.0]))[0] == pytest.approx(
        0.5 * percent + 0.1 * digits + absolute)


@pytest.mark.parametrize("text", ["0.5", "±0.5", "0.5 C + 1 C", "1 % + 2 %", "0.5 furlongs", "C"])
def test_limits_that_may_mean_two_things_are_refused(text):
    """A number alone may be digits or degrees; the line shows how to write it."""
    with refuses(BadParameter, "not understood"):
        parse_meter_spec(text, 0.1)


def test_hysteresis_of_the_sender_is_told_as_its_own():
    """Where the sender sticks by more than the meter errs, no better meter is promised."""
    volts = np.tile(np.concatenate([np.linspace(0.5, 4.5, 8), np.linspace(4.5, 0.5, 8)]), 3)
    meter = 5 * volts + 0.15 * np.tile(np.repeat([1, -1], 8), 3)
    found = simple(volts, meter, spec=MeterSpec(0.1, 1.0, 0.01))
    wide = judge_as_calibrated(found, 1000.0)
    verdict = judge_as_calibrated(found, abs(wide.deviation) + 0.7 * wide.half_width)
    assert verdict.result == "cannot tell"
    assert "the sender's own hysteresis of 0.3" in as_text(verdict)
    assert "neither more points nor a better meter" in as_text(verdict)


def test_fahrenheit_for_celsius_is_recognised():
    """F = 1.8 C + 32, exact by definition; Celsius stays unaccused."""
    sender = Thermistor(known_ohms=1e4)
    celsius = np.array([2.0, 20.0, 40.0, 60.0, 80.0])
    ohms = sender.resistance(celsius)
    volts = np.array([np.interp(r, sender.shown(np.linspace(4.99, 0.01, 9000)),
                                np.linspace(4.99, 0.01, 9000))
                      if sender.shown(np.array([4.99]))[0] < sender.shown(np.array([0.01]))[0]
                      else np.interp(r, sender.shown(np.linspace(0.01, 4.99, 9000)),
                                     np.linspace(0.01, 4.99, 9000)) for r in ohms])
    for meter, wanted in ((1.8 * celsius + 32.0, True), (celsius, False)):
        points = points_from(volts, meter, 1e-4)
        x = sender.shown(points.volts)
        found = calibrate(points, x, sender.shown_uncertainty(points.volts, np.full(5, 1e-4)),
                          MeterSpec(0.0, 0.0, 0.1), "C", "ohm", ("beta", "steinhart-hart", "table"))
        assert any(d.name == "Fahrenheit" for d in sender.diagnose(found)) == wanted


def test_a_hall_sensors_zero_error_is_named_with_both_meanings():
    """30 mV at 200 A for 2 V is 3 A: 0.030 V * 100 A/V, by hand."""
    sender = Hall(rated_amps=200.0)
    amps = np.linspace(-150, 150, 7)
    points = points_from(2.53 + amps / 100.0, amps, 1e-4)
    found = calibrate(points, sender.shown(points.volts), np.full(7, 0.01), MeterSpec(0.5, 1, 0.1),
                      "A", "A")
    (one,) = sender.diagnose(found)
    assert one.name == "zero offset"
    assert "+30 mV" in as_text(one)
    assert "+3 A" in as_text(one)
    assert "2.53 V" in as_text(one)


@pytest.mark.parametrize(("factor", "name"), [(1.0, "as stated"), (-1.0, "sign swapped"),
                                              (2.0, "other rating")])
def test_a_hall_sensor_is_as_stated_or_not(factor, name):
    """Two turns through the window show twice the current, a turned sensor the other sign."""
    sender = Hall(rated_amps=200.0)
    amps = np.linspace(-90, 90, 7)
    points = points_from(2.5 + factor * amps / 100.0, amps, 1e-4)
    found = calibrate(points, sender.shown(points.volts), np.full(7, 0.01), MeterSpec(0.5, 1, 0.1),
                      "A", "A")
    first = sender.diagnose(found)[0]
    assert first.name == name
    assert ("2 times through" in as_text(first)) == (factor == 2.0)
