"""What an opened wire is expected to read, by hand from Kirchhoff's laws (worked beside each)."""

import numpy as np
import pytest

from analysis.proof.expected import InputOhms, expected_volts, short_resistor
from analysis.proof.limits import Limits, TrackLimits
from analysis.proof.steps import Step

LIMITS = Limits({"a": TrackLimits(1.0, 4.0, 1.06, 0.4, 4.5),
                 "b": TrackLimits(0.5, 2.0, 0.53, 0.2, 4.0)})


def step(kind, *leads):
    return Step(kind, leads, 0, 10, 0.0, 1.0)


def test_ground_open_drives_both_tracks_to_the_supply():
    """No current flows, so nothing drops: both wipers stand at the supply (Ohm)."""
    seen = expected_volts(LIMITS, step("open", "ground"), 5000.0)
    assert seen == pytest.approx({"a": 5.0, "b": 5.0}, abs=1e-9)


def test_supply_open_drives_both_tracks_to_ground():
    """Without a feed every node is at 0 V."""
    assert expected_volts(LIMITS, step("open", "supply"), 5000.0) == pytest.approx(
        {"a": 0.0, "b": 0.0}, abs=1e-9)


def test_an_open_signal_goes_where_its_input_pulls_it():
    """47 kohm to 5 V against 100 kohm to ground: 5 * 100 / 147 = 3.4014 V; alone it floats."""
    seen = expected_volts(LIMITS, step("open", "a"), 5000.0,
                          reads=InputOhms(100e3, 47e3, 5.0))
    assert seen["a"] == pytest.approx(5.0 * 100 / 147, abs=1e-9)
    assert np.isnan(expected_volts(LIMITS, step("open", "a"), 5000.0)["a"])


def test_a_short_to_supply_through_a_resistor():
    """Track of 5 kohm at 1 V: behind it 800 ohm; 1 kohm to 5 V gives 1 + 4 * 800 / 1800 V."""
    seen = expected_volts(LIMITS, step("short", "a", "supply"), 5000.0, short_ohms=1000.0)
    assert seen["a"] == pytest.approx(1.0 + 4.0 * 800.0 / 1800.0, abs=0.003)  # leads of 1 ohm


def test_the_resistor_of_a_short_is_seen_and_spares_the_wiper():
    """At rest it moves the reading by 20 % of travel or more and draws 5 mA at most."""
    ohms = short_resistor(LIMITS, step("short", "a", "supply"), 5000.0)
    assert ohms >= 1000.0
    seen = expected_volts(LIMITS, step("short", "a", "supply"), 5000.0, short_ohms=ohms)
    assert 100 * (seen["a"] - 1.0) / 3.0 >= 20.0 - 0.1
    alike = Limits({"a": TrackLimits(1.0, 4.0, 1.06, 0.4, 4.5),
                    "b": TrackLimits(1.0, 4.0, 1.06, 0.4, 4.5)})
    assert np.isnan(short_resistor(alike, step("short", "a", "b"), 5000.0))
