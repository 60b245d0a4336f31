"""What a check against a meter is said to prove: never more than its points do."""

import re

import numpy as np
import pytest
from sender_check_by_hand import options, points_file
from simple_calibration import simple

from analysis.senders import KINDS, Divider, stated_names
from analysis.senders.calibration import enough_points
from bench.services.sender_check import calibrate_taken, take_points
from bench.wording.face import TERMINAL, WINDOW
from bench.wording.senders.fields import labels, stated_label, stated_name
from bench.wording.senders.result import (
    THROUGH_ALL,
    result_line,
    spare_points,
    standing,
    what_it_proves,
)

DIVIDER = Divider(top_ohms=40e3, bottom_ohms=10e3, highest_volts=24)


def test_a_divider_says_its_ratio_with_its_doubt_and_the_stated_one(tmp_path):
    """Ten points of a ratio of 5.02: within the doubt told (numpy's own straight line)."""
    result = calibrate_taken(take_points(points_file(tmp_path), options()), options())
    said = re.fullmatch(r"1:(\d\.\d+) ± (0\.\d+), stated 1:5",
                        result_line(DIVIDER, result.stored.calibration))
    volts = np.array([0.5, 1.4, 2.3, 3.2, 4.1])
    slope = np.polynomial.Polynomial.fit(volts, np.round(5.02 * volts + 0.02, 2), 1).convert()
    assert abs(float(said[1]) - slope.coef[1]) <= float(said[2])
    assert what_it_proves(result.stored.calibration, result.enough) == ""


@pytest.mark.parametrize("count", [2, 3, 4])
def test_too_few_points_are_never_called_calibrated(count):
    """A line has two unknowns: three points more are asked for (docs/method_senders.md)."""
    volts = np.linspace(0.5, 4.5, count)
    found = simple(volts, 5.0 * volts)
    enough = enough_points(found)
    assert not enough.enough
    assert standing(found, enough, ()) == "too few points"
    assert what_it_proves(found, enough).startswith(
        THROUGH_ALL if spare_points(found) == 0 else "Too few points to call it calibrated: ")


def test_a_curve_through_all_points_is_said_to_prove_nothing():
    """Two points and a straight line: the line passes both, whatever they are (Euclid)."""
    found = simple([1.0, 4.0], [5.3, 19.1])
    assert np.abs(found.residuals).max() < 1e-9
    assert spare_points(found) == 0
    assert "proves nothing" in what_it_proves(found, enough_points(found))


@pytest.mark.parametrize("kind", KINDS)
def test_every_stated_value_has_a_label_with_its_unit(kind):
    """A field of ohms says Ω, one of volts V, and none shows a name of the code."""
    units = {"ohms": "Ω", "volts": "V", "amps": "A", "millivolts": "mV", "kelvin": "K"}
    for name in stated_names(kind):
        label = stated_label(name)
        unit = units.get(name.rsplit("_", 1)[-1])
        assert name in labels(), name
        assert "_" not in label
        assert unit is None or re.search(rf", {unit}$", label), (name, label)
        assert stated_name(name, WINDOW) == f"“{label.rsplit(',', 1)[0]}”"
        assert stated_name(name, TERMINAL) == name
