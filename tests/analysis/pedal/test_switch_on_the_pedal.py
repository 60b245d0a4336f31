"""An idle switch: where it makes on each press, its bounce, and whether start lies beyond it.

The truth is put into each recording here: the switch changes where the pedal's own travel, without
noise, passes a place. 0.2 % of travel is what is asked of the make point.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from said import as_texts

from analysis.evidence.sweep import AGREE, SWITCH
from analysis.model.recording import Channel
from analysis.parameters import Parameters
from analysis.pedal.findings import analyse
from analysis.pedal.switch import two_levels
from analysis.simulation import pedal_named, simulate_sweep
from bench.acquisition.guided_plan import by_hand, guided_plan
from bench.files.exports.brief import brief_findings

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


def directed(forward, reverse, low=True):
    """Return the sweep with the two lines of a direction switch, closed where True."""
    level = lambda closed: np.where(closed, 0.02, 4.97) if low else np.where(  # noqa: E731
        closed, 12.2, 0.05)
    lines = tuple(Channel(role, role, level(closed), unit="V", reading_step=0.005)
                  for role, closed in (("forward", forward), ("reverse", reverse)))
    return replace(MADE.recording, channels=(*MADE.recording.channels, *lines))


TIMES = MADE.recording.time_s
HALF = TIMES[-1] / 2 < TIMES
# The pedal is let go before and after this.
GAP = np.abs(TIMES - TIMES[-1] / 2) < 0.03


@pytest.mark.parametrize("low", [True, False])
def test_a_direction_switch_is_read_on_each_press(low):
    """Forward in the first half of the sweep, reverse in the second, open in between."""
    findings = analyse(directed(~HALF & ~GAP, HALF & ~GAP, low),
                       Parameters(direction_closed="low" if low else "high"))
    told = next(f for f in findings.graded if f.code == "direction measured").values
    presses = sum(s.kind == "press" for s in findings.segments)
    assert told["forward_presses"] + told["reverse_presses"] == told["presses"] == presses
    assert min(told["forward_presses"], told["reverse_presses"]) >= 3
    assert told["changes"] == 1
    assert "both directions closed" not in {f.code for f in findings.graded}
    assert any(c.claim == SWITCH and c.state == "sound" for c in findings.claims)


def test_a_direction_line_read_seldom_is_not_moved_at_its_blank_rows():
    """As a merged log has it: each line every 0.2 s, the one half way between the other's."""
    made = directed(~HALF & ~GAP, HALF & ~GAP)
    rows = np.arange(TIMES.size)
    blank = {"forward": rows % 100 != 0, "reverse": rows % 100 != 50}
    findings = analyse(replace(made, channels=tuple(
        replace(c, readings=np.where(blank[c.role], np.nan, c.readings)) if c.role in blank else c
        for c in made.channels)))
    told = {f.code: f.values for f in findings.graded}
    # Between two readings it may stand open for a while.
    assert told["direction measured"]["changes"] in (1, 2)
    assert not {"direction changed while pressed", "both directions closed"} & set(told)


def test_both_directions_closed_at_once_are_to_be_repaired():
    """The second closes 40 ms before the first opens: 20 rows of 2 ms."""
    both = np.abs(TIMES - TIMES[-1] / 2) < 0.02
    findings = analyse(directed(~HALF | both, HALF | both))
    fault = next(f for f in findings.graded if f.code == "both directions closed")
    assert fault.gravity == 2
    assert fault.values["seconds"] == pytest.approx(0.04, abs=2 / RATE)
    assert findings.state == "bad"
    assert "forward and reverse were closed at once" in " ".join(as_texts(findings.verdict))


def test_a_change_with_the_pedal_pressed_is_told():
    """At the first reading beyond 60 % of travel."""
    row = int(np.argmax(TRAVEL > 60.0))
    after = np.arange(TIMES.size) > row
    codes = {f.code for f in analyse(directed(~after, after)).graded}
    assert "direction changed while pressed" in codes
    assert "direction changed while pressed" not in {
        f.code for f in analyse(directed(~HALF & ~GAP, HALF & ~GAP)).graded}


def test_a_switch_set_wrong_is_no_word_on_the_tracks():
    """What is repaired is the switch or its cam; the tracks agree all the same."""
    found = analyse(with_switch(30.0))
    states = {c.claim: c.state for c in found.claims}
    assert (states[SWITCH], states[AGREE]) == ("bad", "sound")
    assert "repair: switch idle: adjust it, or its cam" in brief_findings(found, Path("a.csv"))
    assert SWITCH not in {c.claim for c in analyse(MADE.recording).claims}


def test_a_hand_throttle_has_a_hand_on_it():
    """Its own words in the guided sweep, and what it must do by itself."""
    made = replace(MADE.recording, extra={**MADE.recording.extra, "pedal_use": "hand-throttle"})
    assert "It must spring back to rest by itself" in " ".join(as_texts(analyse(made).notes))
    words = {p.words for p in by_hand(guided_plan(2, 2)).prompts}
    assert "let go: open your hand" in words
    assert not any("foot" in w or "press" in w for w in words)
