"""What the bench read is stated as the controller reads it: by hand with Thevenin's theorem."""

from dataclasses import replace

import numpy as np
import pytest
from controller_promise import ROUNDING_V, furthest_beyond
from said import as_text
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.estimate import Estimate
from analysis.parameters import Parameters
from analysis.pedal.at_controller import at_controller, reaches
from analysis.pedal.dead_band import INPUT, budget, dead_band
from analysis.pedal.findings import analyse
from analysis.pedal.remedies import remedies
from analysis.pedal.settings import recommend
from analysis.simulation import pedal_named, simulate_sweep

LEVELS = TEN_LEVELS - 0.05  # About 0.75 V, as the pedal.


def thevenin(volts, pull_ohms=np.inf, pull_volts=5.0, load_ohms=np.inf, track_ohms=5e3):
    """Return a wiper's volts under a pull and a load: Millman's theorem."""
    source = track_ohms * volts / 5.0 * (1.0 - volts / 5.0)
    return (volts / source + pull_volts / pull_ohms) / (
        1.0 / source + 1.0 / pull_ohms + 1.0 / load_ohms
    )


def lines(track, parameters):
    there = at_controller({"a": track}, parameters)["a"]
    reach = reaches({"a": track}, parameters)["a"]
    return there, {i.name: i for i in budget(there, parameters, None, reach)}


def test_who_states_nothing_has_the_bench_itself():
    """No digit moves; a rising track's rest can only be lowered by a load."""
    track = track_by_hand(LEVELS)
    there, found = lines(track, Parameters())
    assert there is track
    assert found[INPUT].volts == 0.0
    assert found[INPUT].basis == "assumed"
    assert "100 kohm to ground or more, no pull-up, which is an assumption" in as_text(
        found[INPUT].why
    )


def test_a_load_lifts_a_falling_track_towards_pressed():
    """The worst of the range: 100 kohm on a track 20 % over its 5 kohm."""
    track = track_by_hand(5.0 - LEVELS, full=0.8, direction="falling")
    _, found = lines(track, Parameters())
    rest = track.rest.value
    assert found[INPUT].volts == pytest.approx(
        rest - thevenin(rest, load_ohms=100e3, track_ohms=6e3), rel=0.05
    )
    assert found[INPUT].volts >= rest - thevenin(rest, load_ohms=100e3, track_ohms=6e3)


@pytest.mark.parametrize(("ohms", "millivolts"), [(47e3, 57), (10e3, 255)])
def test_a_stated_pull_up_moves_every_level(ohms, millivolts):
    """The rest, its returns and full travel are those that the controller reads."""
    track = track_by_hand(0.75 + (TEN_LEVELS - np.median(TEN_LEVELS)))
    parameters = Parameters(controller_pull="up", controller_pull_ohms=ohms)
    there, found = lines(track, parameters)
    assert 1000 * (there.rest.value - 0.75) == pytest.approx(millivolts, abs=0.6)
    assert there.rest_levels == pytest.approx(thevenin(track.rest_levels, ohms), abs=1e-9)
    assert there.full.value == pytest.approx(thevenin(4.2, ohms), abs=1e-9)
    # What is left is the tolerance: 20 % of the track, 5 % of the pull, a load of 100 kohm.
    worst = thevenin(0.75, 0.95 * ohms, track_ohms=6e3) - there.rest.value
    assert worst <= found[INPUT].volts < 1.15 * worst


def test_a_pull_to_another_supply_lies_apart_from_the_pedals():
    """Worked by hand: 10 kohm to 3.3 V while the pedal's 5 V is 2 % low and the other 2 % high.

    The controller counts the pedal's 4.9 V as 5 V; 5 % off the pull, 20 % on the track.
    """
    track = track_by_hand(0.75 + (TEN_LEVELS - np.median(TEN_LEVELS)))
    parameters = Parameters(controller_pull="up", controller_pull_ohms=10e3,
                            controller_pull_volts=3.3, controller_input_ohms=1e9)
    there, found = lines(track, parameters)
    worst = thevenin(0.75, 9.5e3, 3.3 * 1.02 / 0.98, track_ohms=6e3)
    assert there.rest.value + found[INPUT].volts >= worst - 1e-9
    # To the pedal's own supply nothing of that remains.
    own = replace(parameters, controller_pull_volts=5.0)
    there, found = lines(track, own)
    assert reaches({"a": track}, own)["a"].adds(0.0) == pytest.approx(
        thevenin(0.75, 9.5e3, track_ohms=6e3) - there.rest.value, abs=1e-9)


def test_a_sensor_that_keeps_its_volts_under_a_controller_that_measures_by_its_supply():
    """Worked by hand: 0.75 V by a board whose reference is 2 % high; the car's 5 V are 2 % low.

    0.765 V counted on 4.9 V as 5 V; less through its 100 ohm into 10 kohm to ground. The reverse, a
    sensor that follows a car's 5.1 V, read by a controller that measures in volts: 0.765 V.
    """
    track = track_by_hand(0.75 + (TEN_LEVELS - np.median(TEN_LEVELS)))
    fixed = Parameters(pedal_kind="hall-fixed", controller_pull="none", sensor_output_ohms=100.0,
                       controller_input_ohms=10e3)
    there, found = lines(track, fixed)
    read = 0.75 * 1.02 * 5.0 / 4.9
    assert there.rest.value + found["supply"].volts == pytest.approx(read)
    assert found[INPUT].volts == 0.0
    falls = replace(track, direction="falling", full=Estimate(0.30, 0.001))
    assert lines(falls, fixed)[1][INPUT].volts == pytest.approx(0.75 - 0.75 * 10e3 / 10.1e3)
    follows = Parameters(pedal_kind="hall", ratiometric_controller=False)
    assert lines(track, follows)[1]["supply"].volts == pytest.approx(0.75 * 5.1 / 5.0 - 0.75)


def test_fault_limits_keep_clear_of_what_the_supply_makes_of_full_travel():
    """4.2 V at full travel read 2 % high by a controller that measures in volts: 84 mV, not 15."""
    track = track_by_hand(LEVELS)
    parameters = Parameters(ratiometric_controller=False)
    band = dead_band(track, parameters)
    high = next(s for s in recommend({"a": track}, None, {"a": band}, parameters)
                if s.name == "fault_high")
    assert high.why.values["furthest_volts"] >= 4.2 * 1.02


def test_an_unknown_pull_is_the_worst_of_its_range():
    """Nobody knows whether there is one of 47 kohm or more: 57 mV and the track's tolerance."""
    track = track_by_hand(LEVELS)
    there, found = lines(track, Parameters(controller_pull="unknown"))
    assert there is track
    worst = thevenin(track.rest.value, 47e3, track_ohms=6e3) - track.rest.value
    assert worst <= found[INPUT].volts < 1.05 * worst


def test_full_travel_and_fault_limits_hold_there_too():
    """With a stated load every press still reaches the full travel that is entered."""
    track = track_by_hand(LEVELS)
    parameters = Parameters(controller_pull="none", controller_input_ohms=20e3)
    reach = reaches({"a": track}, parameters)
    band = dead_band(track, parameters, None, reach["a"])
    found = {s.name: s.value for s in recommend({"a": track}, None, {"a": band}, parameters, reach)}
    assert found["full_travel"] < thevenin(4.2, load_ohms=20e3, track_ohms=6e3)
    assert found["fault_low"] < thevenin(track.lowest_volts, load_ohms=20e3, track_ohms=6e3)


def both():
    """Return a pair whose rests are 0.75 and 0.90 V."""
    a = track_by_hand(0.75 + (TEN_LEVELS - np.median(TEN_LEVELS)))
    b = replace(track_by_hand(0.90 + (TEN_LEVELS - np.median(TEN_LEVELS))), column="b")
    return {"a": a, "b": b}


def trim_of(parameters):
    pair = both()
    return remedies(pair["a"], dead_band(pair["a"], parameters), parameters, tracks=pair)[1]


def test_a_trim_of_joined_legs_moves_both_tracks():
    """560 ohm before 2.5 kohm of two joined tracks: 2500/3060 of each."""
    goal = {"a": 0.615}
    own = trim_of(Parameters(target_rest_volts=goal, pedal_leads="own"))
    assert (own.amount, own.others) == (1100.0, ())
    assert own.rest_volts == pytest.approx(0.75 * 5000 / 6100)
    joined = trim_of(Parameters(target_rest_volts=goal, pedal_leads="joined"))
    assert joined.amount == 560.0
    assert joined.rest_volts == pytest.approx(0.75 * 2500 / 3060)
    (other,) = joined.others
    assert (other.rest_volts, other.full_volts) == pytest.approx(
        (0.90 * 2500 / 3060, 4.2 * 2500 / 3060)
    )
    unknown = as_text(trim_of(Parameters(target_rest_volts=goal)).why)
    assert "put 1100 ohm" in unknown
    assert "it takes 560 ohm in the supply leg" in unknown
    assert "track b then rests at 0.735 V" in unknown


def test_a_trim_counts_with_the_pull_of_the_controller():
    """1 E96 step (2.4 %) at most misses a target under a 47 kohm pull-up: Millman by hand."""
    parameters = Parameters(target_rest_volts={"a": 0.62}, controller_pull="up")
    pair = at_controller(both(), parameters)
    trim = remedies(pair["a"], dead_band(pair["a"], parameters), parameters, tracks=pair)[1]
    lower, whole = 0.15 * 5e3, 5e3 + trim.amount
    source = lower * (whole - lower) / whole
    read = (5 * lower / whole / source + 5 / 47e3) / (1 / source + 1 / 47e3)
    assert trim.rest_volts == pytest.approx(read, abs=1e-9)
    assert abs(read - 0.62) < 0.005 + 0.024 * 0.62 / 2


def test_turning_one_housing_turns_its_other_track():
    """Both rest 0.135 V lower: the same angle of a like track."""
    pair, parameters = both(), Parameters(target_rest_volts={"a": 0.615})
    turn = remedies(pair["a"], dead_band(pair["a"], parameters), parameters, tracks=pair)[0]
    (other,) = turn.others
    share = 0.135 / pair["a"].span.value
    assert other.rest_volts == pytest.approx(0.90 - share * pair["b"].span.value)


def test_no_controller_within_the_range_reads_a_rest_past_its_line():
    """Forty random pedals, harnesses and controllers, solved by the study's own conductances."""
    assert furthest_beyond(40, seed=5) <= ROUNDING_V


def test_a_pull_that_hides_a_broken_lead_is_told():
    """47 kohm to 3.3 V and an open input: 3.3 V on a lead that hangs on nothing, mid travel."""
    made = simulate_sweep(pedal_named("opposed"), 200.0, 12, seed=3).recording
    pulled = analyse(made, Parameters(controller_pull="up", controller_pull_volts=3.3,
                                      controller_input_ohms=1e9))
    told = [f for f in pulled.graded if f.code == "broken lead unseen"]
    # Of the falling track 3.3 V lies between its start of travel and 0 V as well.
    assert {f.channel for f in told} == {"a", "b"}
    # No supply of the pedal's: each of the two may be 2 % off, one high and one low.
    assert all((f.values["low_volts"], f.values["high_volts"]) == pytest.approx(
        (3.3 * 0.98 / 1.02, 3.3 * 1.02 / 0.98)) for f in told)
    assert "reads 3.17 to 3.43 V" in as_text(told[0])
    # To 5 V the rising track's fault limit sees it, the falling one's rest does too.
    whole = analyse(made, Parameters(controller_pull="up", controller_input_ohms=1e9))
    assert not [f for f in whole.graded if f.code == "broken lead unseen"]
    assert not [f for f in analyse(made).graded if f.code == "broken lead unseen"]


def test_a_turn_names_what_the_bench_will_read():
    """0.62 V under a 47 kohm pull-up is a wiper that the bench reads lower: Millman by hand."""
    parameters = Parameters(target_rest_volts={"a": 0.62}, controller_pull="up")
    pair = at_controller(both(), parameters)
    turn = remedies(pair["a"], dead_band(pair["a"], parameters), parameters, tracks=pair)[0]
    bench = turn.why.values["bench_volts"]
    assert thevenin(bench, 47e3) == pytest.approx(0.62, abs=1e-9)
    assert turn.amount == pytest.approx((0.75 - bench) / 5 * 270)
    assert f"{bench:.3f} V on the bench" in as_text(turn.why)


def test_the_board_that_logs_in_the_car_loads_the_track_while_it_hangs_there():
    """430 kohm on a divider of 5 kohm: v x source / (source + 430k), Thevenin's theorem.

    0.75 V and 4.25 V have 638 ohm: 1.1 mV and 6.3 mV towards 0 V (docs/wiring.md).
    """
    a = track_by_hand(np.full(5, 0.75), 4.25)
    b = replace(track_by_hand(np.full(5, 4.25), 0.75, direction="falling"), column="b")
    asked = Parameters(car_board_ohms=430e3, controller_input_ohms=1e9, track_ohms_tolerance=0.0)
    reach = reaches({"a": a, "b": b}, asked)
    source = 5000 * 0.15 * 0.85
    share = source / (source + 430e3)
    assert reach["a"].board_volts == pytest.approx(-0.75 * share, rel=1e-9)
    assert reach["b"].board_volts == pytest.approx(-4.25 * share, rel=1e-9)
    # A rising track is only moved away from pressed, a falling one towards it.
    assert reach["a"].adds(0.0) == 0.0
    assert reach["b"].adds(0.0) == pytest.approx(4.25 * share, rel=1e-9)
    assert "moves it by -6.3 mV while it hangs there" in as_text(reach["b"].why)
    assert reaches({"a": a}, Parameters())["a"].board_volts == 0.0
