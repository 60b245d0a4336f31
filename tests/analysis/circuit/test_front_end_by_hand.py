"""The network of pedal, leads and inputs: cases worked by hand with Kirchhoff's laws."""

import numpy as np
import pytest
from said import refuses

from analysis.circuit.front_end import FrontEnd, Input, Track, readings, wipers_behind
from analysis.circuit.network import Resistor, node_volts
from analysis.model.errors import BadParameter


def first(front_end):
    return [float(each[0]) for each in readings(front_end)]


def test_a_ladder_of_equal_resistors_reads_fibonacci_shares():
    """Three sections R-R from 1 V leave 5/13, 2/13, 1/13 (series and parallel by hand)."""
    parts = [
        Resistor("v", "a", 1e3),
        Resistor("a", "0", 1e3),
        Resistor("a", "b", 1e3),
        Resistor("b", "0", 1e3),
        Resistor("b", "c", 1e3),
        Resistor("c", "0", 1e3),
    ]
    volts = node_volts(parts, {"v": 1.0})
    assert [float(volts[n]) for n in "abc"] == pytest.approx([5 / 13, 2 / 13, 1 / 13], abs=1e-12)


def test_an_unbalanced_bridge_agrees_with_thevenin():
    """Bridge 1k/2k and 3k/1k with 500 ohm across, 10 V: both arms as Thevenin sources."""
    parts = [
        Resistor("v", "l", 1e3),
        Resistor("l", "0", 2e3),
        Resistor("v", "r", 3e3),
        Resistor("r", "0", 1e3),
        Resistor("l", "r", 500.0),
    ]
    volts = node_volts(parts, {"v": 10.0})
    left, right = (10 * 2 / 3, 2e3 / 3), (10 / 4, 750.0)
    current = (left[0] - right[0]) / (left[1] + right[1] + 500.0)
    assert float(volts["l"]) == pytest.approx(left[0] - current * left[1], abs=1e-9)
    assert float(volts["r"]) == pytest.approx(right[0] + current * right[1], abs=1e-9)


@pytest.mark.parametrize(("pull_ohms", "millivolts"), [(47e3, 57), (10e3, 255)])
def test_a_pull_up_lifts_the_rest(pull_ohms, millivolts):
    """Thevenin: 0.75 V behind 15 % || 85 % of 5 kohm, 637.5 ohm, lifts by (5 - 0.75) of that."""
    source = 0.15 * 0.85 * 5e3
    lift = (5.0 - 0.75) * source / (source + pull_ohms)
    (read,) = first(FrontEnd((Track(5e3, 0.15, (Input(pull_ohms=pull_ohms),)),)))
    assert read - 0.75 == pytest.approx(lift, abs=1e-9)
    assert round(1000 * lift) == millivolts


def test_joined_legs_share_their_trim_resistor():
    """1100 ohm before two tracks of 5 kohm joined: 2500/3600 of each, not 5000/6100."""
    joined = FrontEnd((Track(5e3, 0.15, supply_leg_ohms=1100.0), Track(5e3, 0.18)), shared=True)
    assert first(joined) == pytest.approx([0.75 * 2500 / 3600, 0.90 * 2500 / 3600], abs=1e-9)
    assert np.round(first(joined), 3) == pytest.approx([0.521, 0.625])
    own = FrontEnd((Track(5e3, 0.15, supply_leg_ohms=1100.0), Track(5e3, 0.18)))
    assert first(own) == pytest.approx([0.75 * 5000 / 6100, 0.90], abs=1e-9)


def test_leads_series_resistor_and_two_inputs_by_hand():
    """One track with 2 ohm leads: a controller behind 1 kohm and a board beside it.

    Worked by hand with Millman at the terminal: sum of V/R over sum of 1/R.
    """
    controller = Input(to_ground_ohms=100e3, pull_ohms=22e3, pull_volts=3.3, series_ohms=1e3)
    board = Input(to_ground_ohms=470e3)
    terminal, pin = _by_millman()
    [[at_controller, at_board]] = readings(
        FrontEnd((Track(5e3, 0.3, (controller, board)),), lead_ohms=2.0)
    )
    assert float(at_board) == pytest.approx(terminal, abs=1e-9)
    assert float(at_controller) == pytest.approx(pin, abs=1e-9)


def _by_millman():
    low, high = 0.3 * 5e3 + 2.0, 0.7 * 5e3 + 2.0
    open_volts, source = 5.0 * low / (low + high), low * high / (low + high) + 2.0
    legs = [(open_volts, source), (3.3, 22e3), (0.0, 101e3), (0.0, 470e3)]
    terminal = sum(v / r for v, r in legs) / sum(1 / r for _, r in legs)
    return terminal, terminal * 100e3 / 101e3


def test_every_travel_at_once_and_the_very_ends():
    """A wiper at the end of its element reads the rail itself: 0 ohm is a plain wire."""
    share = np.linspace(0.0, 1.0, 101)
    [[read]] = readings(FrontEnd((Track(5e3, share, (Input(to_ground_ohms=10e3),)),)))
    source = share * (1.0 - share) * 5e3
    assert np.max(np.abs(read - 5.0 * share * 10e3 / (10e3 + source))) < 1e-9
    assert read[0] == pytest.approx(0.0, abs=1e-12)
    assert read[-1] == pytest.approx(5.0, abs=1e-12)


def test_an_open_ground_leg_lets_the_track_rise_to_the_supply():
    """Without its ground lead the wiper hangs on the supply alone: full, whatever the foot does."""
    (read,) = first(
        FrontEnd((Track(5e3, 0.15, (Input(to_ground_ohms=1e6),), ground_leg_ohms=float("inf")),))
    )
    assert read == pytest.approx(5.0 * 1e6 / (1e6 + 0.85 * 5e3), abs=1e-9)


def test_a_node_that_nothing_holds_is_unknown():
    """What hangs on nothing has no voltage."""
    volts = node_volts([Resistor("a", "b", 1e3), Resistor("v", "0", 1e3)], {"v": 5.0})
    assert np.isnan(volts["a"])
    with refuses(BadParameter, "wires alone"):
        node_volts([Resistor("v", "0", 0.0)], {"v": 5.0})
    with refuses(BadParameter, "0 or more"):
        node_volts([Resistor("v", "0", -1.0)], {"v": 5.0})


def test_wipers_are_found_behind_what_was_read():
    """What two joined tracks read with loads and pulls leads back to where their wipers stand."""
    stands = [np.array([0.15, 0.5, 0.86]), np.array([0.85, 0.5, 0.14])]
    tracks = tuple(Track(5e3, s, (Input(8e3, 10e3, 5.0, 100.0),), 300.0, 120.0) for s in stands)
    there = FrontEnd(tracks, lead_ohms=1.5, shared=True)
    found = wipers_behind(there, [each[0] for each in readings(there)])
    assert found.off_volts < 1e-9
    for share, stand in zip(found.shares, stands, strict=True):
        assert share == pytest.approx(stand, abs=1e-9)
