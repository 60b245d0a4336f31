"""The temperature line of the dead band: measured, stated or assumed, and how that is known."""

import pytest

from analysis.parameters import Parameters
from analysis.pedal.warmth_line import MeasuredDrift, warmth_item

DRIFT = MeasuredDrift(26.0, 21.0, 40.0, "warm.csv")


@pytest.mark.parametrize(("parameters", "drift", "ppm", "basis"), [
    (Parameters(), None, 10.0, "assumed"),
    (Parameters(), DRIFT, 26.0, "measured"),
    (Parameters(track_ppm_per_kelvin=20.0), DRIFT, 26.0, "measured"),
    (Parameters(track_ppm_per_kelvin=80.0), DRIFT, 80.0, "assumed"),
    (Parameters(track_ppm_per_kelvin=80.0, temperature_span_kelvin=60.0), DRIFT, 80.0, "stated"),
    (Parameters(track_ppm_per_kelvin=80.0, temperature_span_kelvin=60.0), None, 80.0, "stated")])
def test_what_was_measured_stands_unless_more_was_stated(parameters, drift, ppm, basis):
    """ppm x kelvin x supply, by hand (data sheets state a divider's drift so: common practice)."""
    item = warmth_item(parameters, 5.0, drift)
    assert item.basis == basis
    assert item.volts == pytest.approx(ppm * 1e-6 * parameters.temperature_span_kelvin * 5.0)
    assert item.why.values["kelvin"] == parameters.temperature_span_kelvin


@pytest.mark.parametrize(("parameters", "stated"), [
    (Parameters(), False), (Parameters(temperature_span_kelvin=55.0), True)])
def test_a_measured_drift_says_whether_its_span_is_assumed(parameters, stated):
    """The default span is nobody's statement (common practice, no source)."""
    assert warmth_item(parameters, 5.0, DRIFT).why.values["span_stated"] is stated
