"""Whoever sweeps a pedal is led by what is printed to the right next command, on one screen each.

Boards, pedals and feet are those of tests/studies/twelve_people.py, which share nothing with the
project's own.
"""

import sys

import pytest
from studies.twelve_people import PEOPLE, key_fed, play

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo terminals")
QUICK = ("late",)


@pytest.mark.parametrize("name", [
    name if name in QUICK else pytest.param(name, marks=pytest.mark.long) for name in PEOPLE])
def test_each_is_led_to_the_right_next_command(name, tmp_path):
    outcome, wrong = play(name, tmp_path)
    assert not wrong, outcome.text


@pytest.mark.long
def test_a_pedal_fed_by_the_key_is_judged_by_its_levels(tmp_path):
    outcome, wrong = key_fed(tmp_path)
    assert not wrong, outcome.text
