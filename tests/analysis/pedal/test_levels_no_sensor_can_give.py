"""Levels outside the supply, and those where a Hall sensor's output ends, are told first.

Outside source of 0 V to the supply: a potentiometer is a divider, Ohm's law. Limits of the output:
as stated by the test.
"""

from dataclasses import replace

import numpy as np
import pytest
from said import as_text
from track_by_hand import track_by_hand

from analysis.parameters import Parameters
from analysis.pedal.findings import analyse
from analysis.pedal.sensor_limits import hall_findings, outside_findings
from analysis.simulation import pedal_named, simulate_sweep


def track(rest, full):
    return {"a": track_by_hand(np.full(5, rest), full)}


def codes(findings):
    return [(f.code, f.gravity) for f in findings]


def test_a_track_below_0_v_is_told_first_and_its_dead_band_not_called_costly():
    """-1.75 V on a 5 V supply: an input whose zero lies at 2.5 V, its offset not stated."""
    made = simulate_sweep(pedal_named("healthy"), 100.0, 12, cycles=6, seed=3).recording
    findings = analyse(replace(made, channels=tuple(
        replace(c, offset_volts=-2.5) if c.role == "track" else c for c in made.channels)))
    said = as_text(findings.verdict[0])
    assert "track a reads -1.7" in said
    assert "--offset" in said
    assert findings.state == "bad"
    assert "costly dead band" not in {f.code for f in findings.graded}


@pytest.mark.parametrize(("rest", "full", "told"), [
    (0.0, 4.2, False), (-0.04, 4.2, False), (-0.06, 4.2, True), (0.8, 5.1, False),
    (0.8, 5.2, True), (4.2, -0.5, True)])
def test_only_levels_beyond_both_rails_are_outside(rest, full, told):
    """1 % below 0 V and 3 % above the supply are an input's own error and an unknown supply."""
    assert bool(list(outside_findings(track(rest, full), Parameters()))) == told
    assert not list(outside_findings(track(rest, full), Parameters(pedal_kind="rheostat")))


def test_a_hall_sensor_is_held_against_its_stated_limits():
    """Output from 10 to 90 % of 5 V by its papers: rest at 0.45 V lies below, 4.2 V within."""
    papers = Parameters(pedal_kind="hall", sensor_lowest_percent=10.0, sensor_highest_percent=90.0)
    assert codes(hall_findings(track(0.45, 4.2), papers)) == [("rests at its output limit", 2)]
    assert codes(hall_findings(track(0.8, 4.6), papers)) == [("full at its output limit", 1)]
    assert not codes(hall_findings(track(0.55, 4.45), papers))
    # A falling track rests at the other end.
    assert codes(hall_findings(track(4.55, 0.8), papers)) == [("rests at its output limit", 2)]


def test_limits_that_nobody_stated_leave_the_dead_band_open_only():
    """5 and 95 % are usual (common practice, no source); of potentiometers nothing is told.

    Nor does one end that was stated speak for the other.
    """
    lowest = Parameters(pedal_kind="hall", sensor_lowest_percent=10.0)
    assert codes(hall_findings(track(4.8, 0.8), lowest)) == [("rests at its output limit", 1)]
    assert codes(hall_findings(track(0.2, 4.2), Parameters(pedal_kind="hall-fixed"))) == [
        ("rests at its output limit", 1)]
    assert not codes(hall_findings(track(0.2, 4.2), Parameters()))
