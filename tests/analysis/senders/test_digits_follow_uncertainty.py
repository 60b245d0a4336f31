"""A number in a sentence has the digits that its uncertainty allows, and no others.

Two digits of the uncertainty, the value to the same place: JCGM 100:2008, 7.2.6.
"""

import io
import re

import numpy as np
import pytest
from said import as_text

from analysis.model.number_format import chi_text, in_span, rounded_pair, small
from analysis.senders import LoopSender, Sender, VoltSender
from analysis.senders.calibration import (
    MeterSpec,
    average,
    calibrate,
    judge_as_calibrated,
    points_from,
)
from bench.acquisition.boards.simulated_sender import SimulatedSenderBoard
from bench.command_line.meter_guided import ask_points
from bench.files.exports.calibration import equation_text
from bench.services.sender_check import SenderCheckOptions
from bench.services.sender_check_live import MeterSession

E_NOTATION = re.compile(r"\d[eE][+-]?\d")


@pytest.mark.parametrize(("value", "uncertainty", "told"), [
    # JCGM 100:2008, 7.2.2, example 1: 100.021 47 g with 0.35 mg.
    (100.02147, 0.00035, ("100.02147", "0.00035")),
    # The same, 7.2.6: 10.057 62 ohm with 27 mohm is 10.058 ohm.
    (10.05762, 0.027, ("10.058", "0.027")),
    # From memory (school rules of rounding): the carry, the hundreds, nothing.
    (3.55e-15, 0.11, ("0.00", "0.11")), (-1e-9, 0.0996, ("0.00", "0.10")),
    (123456.0, 1234.0, ("123500", "1200")), (-0.0052941, 0.012, ("-0.005", "0.012")),
    (1.25, 0.0, ("1.25", "0")),
])
def test_a_value_stops_where_its_uncertainty_does(value, uncertainty, told):
    """Value and uncertainty end at the same place."""
    assert rounded_pair(value, uncertainty) == told


def test_what_is_nothing_is_told_as_nothing():
    """No minus before a zero, no power of ten for what no instrument shows."""
    assert in_span(-0.00099, 19.8) == "0.0"
    assert in_span(19.8, 19.8) == "19.8"
    assert in_span(1234.0, 5000.0) == "1230"
    assert chi_text(6.87e-25) == "below 0.001"
    assert chi_text(4.2) == "4.2"
    assert small(8.8e-05, "V") == "0.088 mV"
    assert small(-0.0123, "V", signed=True) == "-12 mV"
    assert small(0.5, "V") == "0.5 V"
    assert small(8.8, "A") == "8.8 A"


def test_points_that_lie_on_the_line_are_not_told_in_powers_of_ten():
    """An ideal line read with a meter: every sentence stays in plain numbers."""
    volts = np.linspace(0.5, 4.5, 9)
    found = calibrate(points_from(volts, 20 * volts), 20 * volts, 1e-3 * np.ones(9),
                      MeterSpec(0.5, 2, 0.01), "V", "V", ("line",))
    said = [as_text(found.reason), as_text(judge_as_calibrated(found, 1.0)), equation_text(found)]
    assert not [s for s in said if E_NOTATION.search(s)]
    offset, slope = re.findall(r"(\S+) \(u (\S+)\)", said[2])
    for text, doubt in (offset, slope):
        assert len(text.partition(".")[2]) == len(doubt.partition(".")[2])
        assert len(doubt.replace(".", "").lstrip("0")) == 2


def test_the_ends_of_a_range_have_no_crumbs():
    """A 0-20 V output taken for 0-5 V: its low end is 0.0, not -0.00099."""
    volts = np.linspace(0.5, 4.5, 9)
    shown = VoltSender().shown(volts)
    meter = 0.25 * shown + 0.005
    found = calibrate(points_from(volts, meter), shown, 0.0 * volts, MeterSpec(0.0, 0, 0.001),
                      "unit", "unit", ("line",))
    text = as_text(VoltSender().diagnose(found)[0])
    assert "0.0 to 20.0 V" in text
    assert equation_text(found).startswith("quantity = ")
    assert "(unit shown)" not in equation_text(found)
    loop = LoopSender()
    shown = loop.shown(volts / 5.0 + 0.9)
    found = calibrate(points_from(volts / 5.0 + 0.9, shown), shown, 0.0 * volts,
                      MeterSpec(0.0, 0, 0.001), "unit", "unit", ("line",))
    assert "4.0 to 20.0 mA" in as_text(loop.diagnose(found)[0])


def test_a_steady_channel_is_told_in_millivolts():
    """An uncertainty of tenths of a millivolt is told as that, in the guided check too."""
    random = np.random.default_rng(4)
    text = as_text(average(np.arange(400) / 200.0, 2.3 + 0.002 * random.standard_normal(400)))
    assert re.match(r"steady at 2\.\d{5,6} V ± 0\.\d+ mV \(1 sigma", text)


def test_one_point_is_one_point(tmp_path, monkeypatch, capsys):
    """The guided check counts as people do: no outside source."""
    session = MeterSession(
        SimulatedSenderBoard(0.5), SenderCheckOptions(Sender()), tmp_path / "m.csv", print
    )
    steady = average(np.arange(400) / 200.0, 2.3 + 0.0 * np.arange(400))
    session.points += [(steady, 2.3), (steady, 2.3)]
    assert session.progress().startswith("2 points; ")
    monkeypatch.setattr("sys.stdin", io.StringIO("undo\nundo\n"))
    monkeypatch.setattr(session, "undo", session.points.pop)
    ask_points(session, session.options, None)
    said = capsys.readouterr().err
    assert "1 point is left" in said
    assert "0 points are left" in said
    session.points.append((steady, 2.3))
    assert session.progress().startswith("1 point; ")
