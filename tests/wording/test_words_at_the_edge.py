"""Sentences of what is seldom there: nothing measured, nothing left, one of a kind."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from analysis.model.finding import Finding, Reason
from analysis.model.pedal_kind import BY_HAND
from analysis.parameters import TABLE
from analysis.pedal.remedies import Remedy
from bench.wording.key_on_sentences import millivolts
from bench.wording.pages.proof import not_on_the_page
from bench.wording.parameters import limits_text
from bench.wording.proof import key_on_words, load_words, prompt_words
from bench.wording.readout import readout_line
from bench.wording.reasons import in_words
from bench.wording.remedy_cards import ways_of
from bench.wording.short import short_line


def test_what_a_parameter_may_be_is_told_beside_its_field():
    """Numbers by their limits, choices by name; a yes or no needs no word."""
    said = {row.kind: limits_text(row) for row in TABLE.values()}
    assert said["yes/no"] == ""
    assert said["volts by track"] == "between 0 and the supply"
    assert ", " in said["choice"]
    assert "INPUT:DEMAND" in said["points"]
    assert " to " in said["number"]


@pytest.mark.parametrize(("state", "said"), [
    ("passes", "fan: a track passes start of travel with it on"),
    ("not seen", "fan: not seen (too short, rows lost, or no start of travel)"),
    ("not shown", "nobody said that it ran"),
    ("by word", "by your word alone, not measured"),
    ("holds", "away"),
])
def test_what_one_consumer_did(state, said):
    """Only what was measured is told as measured."""
    assert said in load_words("fan", state, 0.1)


def test_key_ons_of_a_drive():
    """Without an input for the key nobody counted them."""
    assert key_on_words(None, 0) == "key-ons: not seen, no input is the key line"
    assert key_on_words(3, 2).startswith("3 key-ons within this log, 2 of them")


def test_what_the_page_will_say_before_it_is_signed():
    """Each step that is not proved by its name."""
    assert not_on_the_page([]) == "Everything before this was proved, and the page will say so."
    assert "wires opened" in not_on_the_page(["Wires opened", "First drive"])


def test_the_line_under_a_crosshair_tells_what_is_there():
    """Where nothing was read it says so; a value that is none is left out."""
    nan = math.nan
    assert readout_line(nan, {"a": nan}, {}, {"mismatch": nan}) == "a no reading"
    line = readout_line(12.314, {"a": 0.75}, {"a": 1.24}, {"mismatch": 0.5, "lift": 2.0}, 3)
    assert line == "return 3  ·  12.31 s  ·  a 0.750 V (1.2 % of travel)  ·  " \
        "mismatch 0.50 %  ·  lift 2.00 mV"


def test_an_interval_without_ends_is_its_value_alone():
    """One key-on has no spread."""
    def told(value, low, high):
        return millivolts(SimpleNamespace(value=value, low=low, high=high, confidence=0.95))

    assert told(np.nan, np.nan, np.nan) == "unknown"
    assert told(0.002, np.nan, np.nan) == "+2.00 mV"
    assert told(0.002, 0.001, 0.003) == "+2.00 mV (+1.00 to +3.00 mV at 95%)"


BEYOND = {"total_volts": 0.4, "start_of_travel_volts": 4.2, "largest": "temperature",
          "largest_volts": 0.3}


@pytest.mark.parametrize(("reason", "said"), [
    (Reason("start no longer covers", {"start_of_travel_volts": 0.9, "track": "a", "rises": True,
                                       "needed_volts": math.nan}), "a value from a longer sweep"),
    # Towards pressed, never towards rest: up where the track rises, down where it falls.
    (Reason("start no longer covers", {"start_of_travel_volts": 0.9, "track": "a", "rises": True,
                                       "needed_volts": 0.95201}), "set 0.953 V."),
    (Reason("start no longer covers", {"start_of_travel_volts": 4.1, "track": "b", "rises": False,
                                       "needed_volts": 4.04899}), "set 4.048 V."),
    (Reason("start beyond full travel", {**BEYOND, "full_volts": 4.1, "rail_volts": None}),
     "at or beyond its full travel of 4.100 V, so there is none to enter"),
    (Reason("start beyond full travel", {**BEYOND, "full_volts": None, "rail_volts": 5.0}),
     "at or beyond the end of its supply at 5 V, so"),
    (Reason("median of returns", {"returns": 1, "uncertainty_volts": math.nan}),
     "the median of 1 return to rest"),
    (Reason("median of returns", {"returns": 12, "uncertainty_volts": 0.001}),
     "the median of 12 returns to rest, known to 2.0 mV either way (95 %)"),
])
def test_what_is_not_known_is_left_out_of_a_reason(reason, said):
    """A level is rounded to the safe side, and one that nobody knows is told as that."""
    assert said in in_words(reason)


def test_a_hand_throttle_is_told_of_in_its_own_words():
    """No foot rests on it; a phrase without values in it stands as it is."""
    def told(use):
        return short_line(Finding("foot at rest", 2, "pedal", None, values={
            "use": use, "travel_percent": 3.0}))

    assert "a hand on it while at rest" in told(BY_HAND)


@pytest.mark.parametrize(("values", "where"), [
    ({"leg": "ground"}, "in the ground leg"),
    ({"in_series": True}, "in series with the rheostat"),
    ({"in_series": False}, "across the rheostat")])
def test_a_trim_resistor_goes_where_it_is_told(values, where):
    """Two wires have no leg to put it in."""
    remedy = Remedy("trim resistor", "a", 47.0, "ohm", 0.7, 4.1, 1.0, Reason(
        "median of returns", {"returns": 2, "uncertainty_volts": math.nan, **values}))
    assert f"47 Ω {where}" in ways_of("a", (remedy,), "trim resistor").do


def test_a_prompt_beside_a_consumer_names_it():
    """As the person called it."""
    assert "Fan" in prompt_words("load on", ("fan",))
    assert "Fan" not in prompt_words("drive")
