"""The loose lead is named, no sound one accused, and what was not shaken stays open.

Which readings tell which lead: Kirchhoff's laws for a potentiometer with one leg open. The logs are
made by tests/studies/proof_shaking.py with numpy alone.
"""

from dataclasses import replace

import pytest
from proof_shaking import LEADS, pedal

from analysis.model.recording import Mark
from analysis.proof.shaken import judge_shaking


@pytest.mark.parametrize("seed", [2, 6, 10, 16, 44, 1, 4, 15])
def test_the_loose_lead_is_named(seed):
    """A joint that lets go is named with its place; a pedal that was only jogged has none."""
    recording, loose, place = pedal(seed)
    found = judge_shaking(recording)
    blamed = {x.lead: x for x in found.leads if x.state == "loose"}
    assert set(blamed) == ({loose} if loose else set())
    if loose:
        assert blamed[loose].places[0] == place
        assert found.leads[0].lead == loose


def test_a_lead_that_was_not_shaken_is_not_said_to_hold():
    """Only a lead that was in the hand can be told to hold."""
    recording, _, _ = pedal(1)
    first = tuple(m for m in recording.marks if m.text.startswith("shake a "))
    short = type(recording)(recording.time_s, recording.channels,
                            (*first, Mark(recording.marks[3].row, "done")),
                            "", "proof", "", recording.rate_hz)
    states = {x.lead: x.state for x in judge_shaking(short).leads}
    assert states["a"] == "holds"
    assert {states[lead] for lead in LEADS[1:]} == {"not shaken"}


def test_rows_lost_while_a_lead_is_shaken_do_not_count():
    """A lead whose only shaking has a gap in it was not shaken as far as the log tells."""
    recording, _, _ = pedal(1)
    gap = Mark(recording.marks[0].row + 20, "gap 40")
    kept = tuple(m for m in recording.marks if m.text in ("shake a at the box",
                                                          "shake b at the box"))
    lost = type(recording)(recording.time_s, recording.channels, (kept[0], gap, *kept[1:]),
                           "", "proof", "", recording.rate_hz)
    states = {x.lead: x.state for x in judge_shaking(lost).leads}
    assert states["a"] == "not shaken"


def test_a_joint_that_was_left_out_leaves_its_lead_open():
    """Every joint of every lead is asked for (docs/proof.md): two of three are not all of it."""
    recording, _, _ = pedal(1)
    kept = tuple(replace(m, text="done") if m.text == "shake b at the plug" else m
                 for m in recording.marks)
    seen = {x.lead: x for x in judge_shaking(replace(recording, marks=kept)).leads}
    assert (seen["b"].state, seen["b"].left) == ("not shaken", ("the plug",))
    assert {seen[lead].state for lead in LEADS if lead != "b"} == {"holds"}
