"""What is read now is told in the unit a person can use: Ohm's law, worked by hand."""

import math

import pytest

from analysis.model.pedal_kind import KIND_KEY
from analysis.model.recording import Channel
from bench.services.live_levels import closed_lines, live_levels
from bench.wording.face import TERMINAL, WINDOW
from bench.wording.live import live_level, live_line

TRACK = Channel("r", "track", [], unit="V", reading_step=0.001)
SUPPLY = Channel("supply", "supply", [], unit="V", reading_step=0.001, nominal_volts=5.0)
SAID = {KIND_KEY: "rheostat", "rheostat_known_ohms": 3300.0, "rheostat_series_ohms": 470.0}


@pytest.mark.parametrize("supply", [5.0, 4.6])
@pytest.mark.parametrize("ohms", [0.0, 180.0, 4700.0])
def test_a_rheostat_reads_its_ohms_whatever_the_supply(ohms, supply):
    """Volts of the divider of 3300 ohm above the rheostat and 470 ohm in series."""
    volts = supply * (ohms + 470.0) / (ohms + 470.0 + 3300.0)
    (track, unit), fed = live_levels((TRACK, SUPPLY), (volts, supply), SAID)
    assert (track, unit) == (pytest.approx(ohms, abs=1e-6), "ohm")
    assert fed == (supply, "V")


def test_an_open_lead_and_a_dead_supply_are_no_ohms():
    """Nothing flows through an open lead: its input reads the supply. No supply tells nothing."""
    open_lead, dead = (live_levels((TRACK, SUPPLY), (v, u), SAID)[0]
                       for v, u in ((4.99, 5.0), (0.0, 0.0)))
    assert math.isinf(open_lead[0])
    assert math.isnan(dead[0])
    assert (live_level(*open_lead, TERMINAL), live_level(*dead, WINDOW)) == ("open", "no supply")


def test_any_other_pedal_is_read_in_volts():
    assert live_levels((TRACK,), (0.75,), {KIND_KEY: "hall"}) == ((0.75, "V"),)
    assert live_line([("a", 0.75, "V"), ("b", 0.9, "V")], TERMINAL) == "a 0.750 b 0.900 V"
    assert live_line([("r", 180.2, "ohm"), ("supply", 5.0, "V")],
                     TERMINAL) == "r 180 ohm  supply 5.000 V"


@pytest.mark.parametrize(("closed", "forward", "reverse"), [
    ("low", True, False), ("high", False, True)])
def test_a_line_of_the_direction_switch_is_closed_or_open_now(closed, forward, reverse):
    """A switch to ground with a pull-up reads low when closed; one to the supply reads high."""
    lines = tuple(Channel(role, role, [], unit="V", reading_step=0.001)
                  for role in ("forward", "reverse"))
    assert closed_lines((*lines, SUPPLY), (0.02, 4.97, 5.0), closed) == {
        "forward": forward, "reverse": reverse}
    assert closed_lines((TRACK,), (0.7,), closed) == {}
