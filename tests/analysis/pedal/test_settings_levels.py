"""Settings: where each level lies, why, and which way it is rounded."""

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as run
from hypothesis import strategies as st
from said import as_text
from scipy import stats
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.estimate import Estimate
from analysis.model.safe_rounding import safely_rounded
from analysis.parameters import Parameters
from analysis.pedal.dead_band import dead_band
from analysis.pedal.pair import PairFindings
from analysis.pedal.settings import recommend

NAMES = ["rest", "start_of_travel", "release", "full_travel", "fault_low", "fault_high"]
FULLS = (4.2, 4.195, 4.203, 4.198, 4.201)


def named(track, parameters=None, pair=None):
    parameters = parameters or Parameters()
    found = recommend({"a": track}, pair, {"a": dead_band(track, parameters)}, parameters)
    return {s.name: s for s in found}


def pair_of(worst, doubt=0.2):
    bins = np.arange(1.0, 100.0, 2.0)
    none = np.zeros(bins.size)
    return PairFindings("a", "b", "same slope", Estimate(1.0, 0.001), Estimate(0.0, 0.001), bins,
                        none, none, none, Estimate(worst, doubt), 50.0, None,
                        Estimate(0.5, 0.1), 50.0)


def test_a_track_and_a_pair_get_exactly_the_names_that_others_rely_on():
    found = recommend({"a": track_by_hand(TEN_LEVELS)}, pair_of(2.0),
                      {"a": dead_band(track_by_hand(TEN_LEVELS), Parameters())}, Parameters())
    assert [s.name for s in found] == [*NAMES, "mismatch_limit", "mismatch_time"]
    assert {s.channel for s in found} == {"a", None}
    assert all(as_text(s.why) and "\n" not in as_text(s.why) for s in found)
    json.dumps([s.value for s in found], allow_nan=False)


@pytest.mark.parametrize("direction", ["rising", "falling"])
def test_levels_stand_in_order_from_rail_to_rail(direction):
    if direction == "rising":
        found = named(track_by_hand(TEN_LEVELS, full_levels=FULLS))
        order = ["fault_low", "rest", "release", "start_of_travel", "full_travel", "fault_high"]
    else:
        falls = 5.0 - np.array(FULLS)
        found = named(track_by_hand(5.0 - TEN_LEVELS, full=0.8, direction="falling",
                                    full_levels=falls))
        order = ["fault_low", "full_travel", "start_of_travel", "release", "rest", "fault_high"]
    values = [found[name].value for name in order]
    assert values[0] > 0
    assert values[-1] < 5
    assert values == sorted(values)


def test_full_travel_is_a_tolerance_bound_less_the_errors():
    track = track_by_hand(TEN_LEVELS, full_levels=FULLS, step=5.0 / 65536)
    level = named(track, Parameters(returns="even"))["full_travel"].value
    # Natrella: n = 5, 95 % coverage, 95 % confidence, one-sided: k = 4.203 (ISO 16269-6: 4.202).
    bound = np.mean(FULLS) - 4.2025 * np.std(FULLS, ddof=1)
    # Three standard deviations of 1 mV noise, one step, 2 % for the noise's own uncertainty.
    assert level == pytest.approx(bound - 0.003 - 5 / 65536, abs=1e-4)
    assert level < min(FULLS)


@pytest.mark.parametrize("law", ["norm", "expon"])
def test_full_travel_holds_for_presses_that_stick_short_of_the_stop(law):
    """95 % of presses in 95 % of pedals (ISO 16269-6), the law's quantile by scipy.stats."""
    shape, dice, covered = getattr(stats, law), np.random.default_rng(7), []
    for _ in range(200):
        short = shape.rvs(size=8, random_state=dice)
        found = named(track_by_hand(TEN_LEVELS, full_levels=4.2 - 0.002 * short,
                                    step=5.0 / 65536))["full_travel"]
        # Noise and one step are taken off beside it.
        covered.append(found.value + 0.003 <= 4.2 - 0.002 * shape.ppf(0.95))
    assert sum(covered) >= stats.binom.ppf(0.01, 200, 0.95)


def test_an_unrecorded_supply_lowers_the_full_travel_that_is_sure_to_be_reached():
    known = named(track_by_hand(TEN_LEVELS, full_levels=FULLS))["full_travel"].value
    unknown = named(track_by_hand(TEN_LEVELS, full_levels=FULLS, supply_recorded=False))
    assert known - unknown["full_travel"].value == pytest.approx(0.02 * 4.2, abs=1e-4)


def test_full_travel_is_nan_with_too_few_or_too_scattered_presses():
    few = named(track_by_hand(TEN_LEVELS, full_levels=FULLS[:2]))["full_travel"]
    assert math.isnan(few.value)
    assert "at least 3" in as_text(few.why)
    loose = named(track_by_hand(TEN_LEVELS, full_levels=(4.2, 2.0, 3.0)))["full_travel"]
    assert math.isnan(loose.value)
    assert "did not all reach it" in as_text(loose.why)


def test_fault_limits_lie_half_way_between_sound_readings_and_the_rails():
    track = track_by_hand(TEN_LEVELS)
    band = dead_band(track, Parameters())
    found = named(track)
    assert found["fault_low"].value == pytest.approx((track.lowest_volts - band.total_volts) / 2)
    assert found["fault_high"].value == pytest.approx(
        (track.highest_volts + band.total_volts + 5.0) / 2)


@pytest.mark.parametrize(("extremes", "name"), [
    ({"lowest": 0.09}, "fault_low"), ({"highest": 4.93}, "fault_high")])
def test_a_track_too_near_a_rail_gets_no_fault_limit_and_is_told_why(extremes, name):
    found = named(track_by_hand(TEN_LEVELS, **extremes))
    assert math.isnan(found[name].value)
    assert "too near" in as_text(found[name].why)


def test_clipping_is_named_as_the_reason():
    found = named(track_by_hand(TEN_LEVELS, highest=4.999, clipped=True))
    assert math.isnan(found["fault_high"].value)
    assert "clipped" in as_text(found["fault_high"].why)
    assert np.isfinite(found["fault_low"].value)


def test_a_sound_pair_gets_the_limit_of_the_rules_and_is_told_what_it_needs():
    # Formula SAE rules T.4.2: 10 % for 100 ms.
    found = named(track_by_hand(TEN_LEVELS), pair=pair_of(2.0, 0.2))
    assert (found["mismatch_limit"].value, found["mismatch_limit"].unit) == (10.0, "%")
    assert (found["mismatch_time"].value, found["mismatch_time"].unit) == (0.1, "s")
    # The words of the findings ("differ by at most"), then twice the uncertainty upon them.
    assert as_text(found["mismatch_limit"].why).startswith(
        "the tracks differ by at most 2.0 % of travel as measured, 2.4 % with twice its standard "
        "uncertainty, which leaves 7.6 % to the limit")


def test_a_pair_that_needs_more_than_the_limit_is_told_so():
    found = named(track_by_hand(TEN_LEVELS), pair=pair_of(11.0, 0.3))["mismatch_limit"]
    assert found.value == pytest.approx(11.6)
    assert "more than the 10 %" in as_text(found.why)
    assert "repair" in as_text(found.why)


def test_a_pair_that_was_not_measured_gets_no_limit():
    found = named(track_by_hand(TEN_LEVELS), pair=pair_of(float("nan")))["mismatch_limit"]
    assert math.isnan(found.value)


@run(max_examples=60, deadline=None)
@given(value=st.floats(0.0, 4.99), places=st.integers(0, 6),
       side=st.sampled_from(["up", "down", "nearest"]))
def test_rounding_never_leaves_the_safe_side_and_never_goes_further_than_a_step(value, places,
                                                                                side):
    found, step = safely_rounded(value, places, side), 10.0**-places
    # A billionth of the value is given away, so that 0.6 V is 600 mV and not 601.
    hair = 2e-9 * max(value, step)
    assert abs(found - value) <= step + hair
    assert side != "up" or found >= value - hair
    assert side != "down" or found <= value + hair


def test_values_that_fit_exactly_are_not_pushed_on():
    assert safely_rounded(0.6, 3, "up") == 0.6
    assert safely_rounded(512.0, 0, "up") == 512
    assert safely_rounded(11.0, 2, "up") == 11.0
    assert math.isnan(safely_rounded(float("nan"), 3, "up"))


@pytest.mark.parametrize(("direction", "sides"), [
    ("rising", {"start_of_travel": "up", "release": "up", "full_travel": "down"}),
    ("falling", {"start_of_travel": "down", "release": "down", "full_travel": "up"})])
def test_safe_sides_follow_the_direction_of_the_track(direction, sides):
    levels = TEN_LEVELS if direction == "rising" else 5 - TEN_LEVELS
    full = 4.2 if direction == "rising" else 0.8
    found = named(track_by_hand(levels, full=full, direction=direction))
    assert {name: found[name].safe_side for name in sides} == sides
    # A broken wire is never missed for a rounding, whichever way the track runs.
    assert (found["fault_low"].safe_side, found["fault_high"].safe_side) == ("up", "down")
    assert found["rest"].safe_side == "nearest"
