"""An idle switch: where it makes on each press, its bounce, and whether start lies beyond it.

The truth is put into each recording here: the switch changes where the pedal's own travel, without
noise, passes a place. 0.2 % of travel is what is asked of the make point.
"""

from dataclasses import replace

import numpy as np
import pytest
from said import as_texts

from analysis.model.recording import Channel
from analysis.pedal.findings import analyse
from analysis.pedal.switch import two_levels
from analysis.simulation import pedal_named, simulate_sweep

RATE = 500.0
MADE = simulate_sweep(pedal_named("healthy"), RATE, 12, seed=4)


TRAVEL = MADE.truth.pedal_travel_percent


def with_switch(percent, bounce_rows=0, open_volts=4.98, missed=False, volts=None):
    """Return the sweep with a line that is low at rest and high beyond that travel."""
    away = percent < TRAVEL
    line = np.where(away, open_volts, 0.03)
    edges = np.flatnonzero(away[1:] != away[:-1]) + 1
    for row in edges if bounce_rows else ():
        line[row + 1: row + bounce_rows: 2] = 0.03 if away[row] else open_volts
    if missed:
        line[: edges[2]] = 0.03
    line = line + np.random.default_rng(1).normal(0.0, 0.005, line.size)
    channel = Channel("idle", "switch", line if volts is None else volts, unit="V",
                      reading_step=0.005)
    return replace(MADE.recording, channels=(*MADE.recording.channels, channel))


def told(findings):
    return next(f for f in findings.graded if f.code.startswith("switch"))


@pytest.mark.parametrize("percent", [0.8, 5.0, 30.0])
def test_the_make_point_is_within_a_fifth_of_a_percent(percent):
    """On every press and back again, as the travel put in passes it."""
    switch = analyse(with_switch(percent)).switches["idle"]
    assert switch.press_percent.size >= 8
    assert np.max(np.abs(switch.press_percent - percent)) < 0.2
    assert np.max(np.abs(switch.release_percent - percent)) < 0.2
    assert switch.closed_at_rest
    assert switch.bounce_s == 0.0


def test_a_start_beyond_it_is_said_to_be():
    """0.8 % of travel, start of travel at 1.5 %."""
    found = analyse(with_switch(0.8))
    assert told(found).code == "switch measured"
    assert "every start of travel lies beyond it on every press" in " ".join(
        as_texts(found.verdict))


def test_a_switch_behind_the_start_of_travel_is_to_be_repaired():
    """30 % of travel: power would be asked for while the switch says that the foot is off."""
    found = analyse(with_switch(30.0))
    late = told(found)
    assert (late.code, late.gravity) == ("switch too late", 2)
    assert late.values["behind"] == late.values["presses"]
    assert found.state == "bad"


def test_bounce_is_timed_and_moves_no_make_point():
    """Ten changes in 20 ms from the first touch on."""
    switch = analyse(with_switch(5.0, bounce_rows=10)).switches["idle"]
    assert switch.bounce_s == pytest.approx(9 / RATE, abs=2 / RATE)
    assert np.max(np.abs(switch.press_percent - 5.0)) < 0.2


def test_a_press_without_a_change_is_counted():
    """It changed on all presses but one."""
    found = analyse(with_switch(0.8, missed=True))
    assert told(found).code == "switch too late"
    assert told(found).values["missed"] == 1


def test_a_line_that_never_changes_is_silent():
    """What was not seen leaves the claim open."""
    found = analyse(with_switch(5.0, volts=np.full(TRAVEL.size, 4.98)))
    assert told(found).code == "switch silent"
    assert found.state == "open"


def test_a_track_is_no_switch():
    """A line that spends its time between its ends has no two levels."""
    assert two_levels(MADE.recording.channels[0].volts()) is None
