"""Demand along travel for the values entered: straight lines by hand."""

import numpy as np
import pytest
from said import refuses
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.demand_map import map_points
from analysis.model.errors import BadParameter, OutOfLimits
from analysis.model.finding import Reason
from analysis.parameters import Parameters
from analysis.pedal.response import responses
from analysis.pedal.settings import Setting

REST = float(np.median(TEN_LEVELS))
SPAN = 4.2 - REST


def entered(**volts):
    return tuple(Setting(n, "a", v, "V", Reason("entered")) for n, v in volts.items())


def response(parameters=None, track=None, **volts):
    return responses({"a": track or track_by_hand(TEN_LEVELS)}, entered(**volts),
                     parameters or Parameters())["a"]


def test_where_it_begins_ends_and_is_all_by_hand():
    """Volts over the span: start 0.9 V, release 0.88 V, full 4.1 V of a track to 4.2 V."""
    found = response(start_of_travel=0.9, release=0.88, full_travel=4.1)
    begins, whole = 100 * (0.9 - REST) / SPAN, 100 * (4.1 - REST) / SPAN
    assert found.begins_percent == pytest.approx(begins)
    assert found.ends_percent == pytest.approx(100 * (0.88 - REST) / SPAN)
    assert found.full_percent == pytest.approx(whole)
    assert found.lost_percent == pytest.approx(begins + 100 - whole)
    half = REST + 0.5 * SPAN
    assert found.demand_at(50.0) == pytest.approx(100 * (half - 0.9) / (4.1 - 0.9))
    assert found.demand_at(begins) == pytest.approx(0.0, abs=0.11)
    assert found.demand_at(100.0) == 100.0


def test_a_falling_track_answers_as_its_mirror():
    """5 V less each of its levels: the same response."""
    rising = response(start_of_travel=0.9, release=0.88, full_travel=4.1)
    falling = response(track=track_by_hand(5 - TEN_LEVELS, full=0.8, direction="falling"),
                       start_of_travel=4.1, release=4.12, full_travel=0.9)
    assert falling.begins_percent == pytest.approx(rising.begins_percent)
    assert falling.demand_percent == pytest.approx(rising.demand_percent, abs=1e-9)


def test_a_full_travel_that_is_never_reached_is_told():
    """4.3 V of a track that ends at 4.2 V: demand stops short, and no travel is all of it."""
    found = response(start_of_travel=0.9, release=0.88, full_travel=4.3)
    assert np.isnan(found.full_percent)
    assert found.demand_at(100.0) == pytest.approx(100 * (4.2 - 0.9) / (4.3 - 0.9))


def test_points_of_a_map_bend_it():
    """A quarter of the demand half way: the parameter and the map say the same."""
    volts = {"start_of_travel": 0.9, "release": 0.88, "full_travel": 4.1}
    asked = response(Parameters(demand_at_half_percent=25.0), **volts)
    drawn = response(Parameters(demand_map="0:0,50:25,100:100"), **volts)
    assert asked.demand_percent == pytest.approx(drawn.demand_percent)
    middle = 100 * (2.5 - REST) / SPAN
    assert asked.demand_at(middle) == pytest.approx(25.0, abs=0.05)


@pytest.mark.parametrize("points", [[(0, 0), (0, 5)], [(0, 50), (60, 20)], [(-1, 0)], [(50, 101)]])
def test_a_map_that_does_not_rise_is_refused(points):
    """Input and demand each go on, between 0 and 100 %."""
    with refuses(BadParameter, r"map .* does not rise"):
        map_points(points)


def test_the_controllers_load_is_in_the_volts():
    """A stated load of 20 kohm bends mid-travel as Thevenin has it."""
    parameters = Parameters(controller_input_ohms=20e3, controller_input_measured=True)
    found = response(parameters, start_of_travel=0.9, release=0.88, full_travel=3.9)
    volts = REST + 0.5 * SPAN
    source = 5e3 * volts / 5 * (1 - volts / 5)
    assert found.volts[500] == pytest.approx(volts * 20e3 / (20e3 + source), abs=1e-9)


def test_unknown_values_give_no_response():
    """Nothing is drawn from a guess."""
    assert not responses({"a": track_by_hand(TEN_LEVELS)}, entered(
        start_of_travel=float("nan"), release=0.88, full_travel=4.1), Parameters())


@pytest.mark.parametrize("text", ["50", "0:0,50", "a:b", "50:60,60:20"])
def test_a_text_that_is_no_map_is_refused_by_its_parameter(text):
    """The same for both faces: it never reaches the analysis."""
    with pytest.raises(OutOfLimits):
        Parameters(demand_map=text)
    assert Parameters(demand_map=" ").demand_map == " "
