"""Remedies against node equations, preferred values against the standard."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from said import as_text, as_texts, refuses
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.errors import BadParameter
from analysis.model.estimate import Estimate
from analysis.parameters import Parameters
from analysis.pedal.dead_band import dead_band
from analysis.pedal.findings import analyse
from analysis.pedal.preferred_values import E12, E24, E96, nearest_value
from analysis.pedal.remedies import divided, loaded, remedies, trim_legs
from analysis.simulation import Motion, pedal_named, simulate_sweep


def wiper_by_nodes(ratio, track, supply_leg=1e-9, ground_leg=1e-9, load=1e15, volts=5.0):
    """Solve the three nodes of a potentiometer with legs and load by conductances."""
    g_s, g_top = 1 / supply_leg, 1 / ((1 - ratio) * track)
    g_bottom, g_g, g_load = 1 / (ratio * track), 1 / ground_leg, 1 / load
    matrix = np.array([
        [g_s + g_top, -g_top, 0.0],
        [-g_top, g_top + g_bottom + g_load, -g_bottom],
        [0.0, -g_bottom, g_bottom + g_g]])
    return np.linalg.solve(matrix, np.array([g_s * volts, 0.0, 0.0]))[1]


@pytest.mark.parametrize("ratio", [0.1, 0.16, 0.5, 0.84])
@pytest.mark.parametrize(("supply", "ground"), [(470.0, 0.1), (0.1, 330.0), (1200.0, 560.0)])
def test_divider_is_that_of_the_node_equations(ratio, supply, ground):
    assert 5.0 * divided(ratio, 5000.0, supply, ground) == pytest.approx(
        wiper_by_nodes(ratio, 5000.0, supply, ground), rel=1e-9)
    assert 5.0 * loaded(ratio, 5000.0, 47e3, supply, ground) == pytest.approx(
        wiper_by_nodes(ratio, 5000.0, supply, ground, 47e3), rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(rest=st.floats(0.05, 0.3), full=st.floats(0.5, 0.95), goal=st.floats(0.05, 0.4),
       span=st.floats(0.3, 1.0), falling=st.booleans())
def test_legs_bring_both_ends_to_their_targets_or_are_refused(rest, full, goal, span, falling):
    target_full = goal + span * (full - rest)
    if falling:
        rest, full, goal, target_full = 1 - rest, 1 - full, 1 - goal, 1 - target_full
    supply, ground, why = trim_legs(rest, full, goal, target_full, 5000.0)
    if why:
        assert math.isnan(supply)
        assert math.isnan(ground)
        return
    for share, target in ((rest, goal), (full, target_full)):
        # numpy's solver; legs below 1 ohm are rounded to a wire by design.
        assert wiper_by_nodes(share, 5000.0, max(supply, 1e-6), max(ground, 1e-6)) == (
            pytest.approx(5.0 * target, abs=2e-3))


@pytest.mark.parametrize(("goal", "leg"), [(0.10, "supply"), (0.22, "ground")])
def test_one_target_takes_one_leg_and_reaches_it(goal, leg):
    supply, ground, why = trim_legs(0.16, 0.84, goal, None, 5000.0)
    assert why is None
    assert (supply > 0, ground > 0) == (leg == "supply", leg == "ground")
    assert wiper_by_nodes(0.16, 5000.0, supply or 1e-6, ground or 1e-6) == pytest.approx(
        5.0 * goal, abs=1e-6)


@pytest.mark.parametrize(("goal", "full", "reason"), [
    (0.0, None, "to a rail"), (0.1, 1.2, "to a rail"), (0.16, 0.95, "of the present span"),
    (0.5, 0.3, "swap its outer wires"), (0.02, 0.5, "ground leg would need less"),
    (0.5, 0.95, "supply leg would need less")])
def test_what_resistors_cannot_do_is_refused_with_the_reason(goal, full, reason):
    supply, ground, why = trim_legs(0.16, 0.84, goal, full, 5000.0)
    assert reason in as_text(why)
    assert math.isnan(supply)
    assert math.isnan(ground)


def ways(target=None, full_target=None, **track):
    track = track_by_hand(TEN_LEVELS, **track)
    parameters = Parameters(target_rest_volts={} if target is None else {"a": target},
                    target_full_volts={} if full_target is None else {"a": full_target})
    return track, remedies(track, dead_band(track, parameters), parameters)


def test_all_three_ways_stand_side_by_side():
    _, found = ways(0.7)
    assert [r.kind for r in found] == ["turn", "trim resistor", "dead band"]


def test_turning_moves_both_ends_by_the_same_volts():
    track, found = ways(0.5)
    turn = found[0]
    # 5 V over 270 degrees: 54 degrees per volt.
    assert turn.amount == pytest.approx(54 * (track.rest.value - 0.5))
    assert turn.rest_volts == 0.5
    assert turn.full_volts - turn.rest_volts == pytest.approx(track.full.value - track.rest.value)
    assert "falls by 0.300 V" in as_text(turn.why)


def test_turning_off_the_end_of_the_element_is_refused():
    _, found = ways(1.7)
    assert math.isnan(found[0].amount)
    assert "off the end" in as_text(found[0].why)


@pytest.mark.parametrize("target", [0.6, 0.75, 0.9, 1.1])
def test_trim_takes_a_preferred_value_and_states_what_it_gives(target):
    track, found = ways(target)
    trim = found[1]
    # IEC 60063: a value of E24 or E96.
    figure = trim.amount / 10 ** math.floor(math.log10(trim.amount))
    assert any(figure == pytest.approx(v) for v in (*E24, *E96))
    assert abs(trim.rest_volts - target) < 0.01
    leg = {"supply_leg" if "supply leg" in as_text(trim.why) else "ground_leg": trim.amount}
    for level, stated in ((track.rest.value, trim.rest_volts), (track.full.value, trim.full_volts)):
        assert wiper_by_nodes(level / 5, 5000.0, **leg) == pytest.approx(stated, abs=1e-6)
    assert trim.lost_travel_percent > found[2].lost_travel_percent


def test_a_trim_that_wastes_the_span_is_refused():
    _, found = ways(0.2)
    assert math.isnan(found[1].amount)
    assert "% of the span" in as_text(found[1].why)


def test_a_leg_comes_from_the_finer_series_when_the_coarse_one_misses():
    # By hand: the nearest value by ratio of all decades, judged with numpy's node equations.
    def nearest(series, ohms):
        return min((v * 10.0**k for v in series for k in range(6)),
                   key=lambda v: abs(math.log(v / ohms)))

    track = track_by_hand(TEN_LEVELS + 0.9)
    rest = track.rest.value / 5
    seen = set()
    for target in np.linspace(1.76, 3.2, 60):
        parameters = Parameters(target_rest_volts={"a": float(target)})
        trim = remedies(track, dead_band(track, parameters), parameters)[1]
        exact = 5000.0 * ((1 - rest) / (1 - target / 5) - 1)
        coarse, fine = nearest(E24, exact), nearest(E96, exact)
        misses = [abs(wiper_by_nodes(rest, 5000.0, ground_leg=g) - target) for g in (coarse, fine)]
        # Good enough is a thousandth of the 5 V supply.
        chosen = coarse if misses[0] <= 0.005 else fine
        if min(abs(m - 0.005) for m in misses) > 1e-6 and chosen < 5000.0:
            assert trim.amount == pytest.approx(chosen)
            seen.add((misses[0] <= 0.005, misses[1] <= 0.005))
    assert {(True, True), (False, True), (False, False)} <= seen


def test_a_track_without_a_rest_or_a_span_has_no_remedy():
    track = track_by_hand(TEN_LEVELS)
    nan = float("nan")
    for poor in (dataclasses.replace(track, rest=Estimate(nan, nan)),
                 dataclasses.replace(track, span=Estimate(0.0, 0.001))):
        parameters = Parameters(target_rest_volts={"a": 0.6})
        assert remedies(poor, dead_band(poor, parameters), parameters) == ()


def test_two_targets_take_a_resistor_in_each_leg():
    track, found = ways(0.9, 4.0)
    first, second = (r for r in found if r.kind == "trim resistor")
    assert "supply leg" in as_text(first.why)
    assert "together with" in as_text(first.why)
    legs = first.amount, second.amount
    for level, stated in ((track.rest.value, first.rest_volts),
                          (track.full.value, first.full_volts)):
        assert wiper_by_nodes(level / 5, 5000.0, *legs) == pytest.approx(stated, abs=1e-6)
    assert first.full_volts == pytest.approx(4.0, abs=0.02)


def test_living_with_it_names_what_a_controller_set_to_the_target_needs():
    track, found = ways(0.7)
    live = found[-1]
    band = dead_band(track, Parameters())
    assert live.amount == pytest.approx(band.start_of_travel_volts - band.rest_volts)
    needed = band.start_of_travel_volts - 0.7
    assert f"{needed:.3f} V in all" in as_text(live.why)


def test_without_a_target_nothing_is_turned_and_the_reason_is_given():
    _, found = ways()
    assert math.isnan(found[0].amount)
    assert math.isnan(found[1].amount)
    assert "no target rest" in as_text(found[0].why)
    assert np.isfinite(found[2].amount)


def test_a_rest_on_target_needs_no_mending():
    track = track_by_hand(TEN_LEVELS)
    _, found = ways(round(track.rest.value, 3))
    assert "already" in as_text(found[0].why)


def test_a_falling_track_is_turned_and_trimmed_the_other_way():
    track = track_by_hand(5 - TEN_LEVELS, full=0.8, direction="falling")
    parameters = Parameters(target_rest_volts={"a": 4.0})
    turn, trim, live = remedies(track, dead_band(track, parameters), parameters)
    assert "falls by 0.200 V" in as_text(turn.why)
    assert "supply leg" in as_text(trim.why)
    # Rest moved towards rail from pressed: the controller loses travel until it gets there.
    assert "loses another" in as_text(live.why)


def test_a_weak_dead_band_says_so():
    track = track_by_hand(TEN_LEVELS[:2])
    parameters = Parameters(target_rest_volts={"a": 0.6})
    found = remedies(track, dead_band(track, parameters), parameters)
    assert "not offered" in as_text(found[-1].why)
    assert "no dead band can be stated" in as_text(found[-1].why)


def test_living_with_a_dead_band_that_is_not_proven_is_not_offered():
    # A margin as large as the travel: start of travel would lie beyond the 5 V supply.
    track = track_by_hand(TEN_LEVELS)
    for parameters in (Parameters(margin_volts=5.0), Parameters(margin_volts=5.0,
                                                    target_rest_volts={"a": 0.6})):
        live = remedies(track, dead_band(track, parameters), parameters)[-1]
        assert as_text(live.why).startswith("not offered")
        assert np.isnan(live.amount)
        assert "start travel at" not in as_text(live.why)


def test_series_are_those_of_the_standard():
    # IEC 60063, from memory: counts, and some values of each.
    assert (len(E12), len(E24), len(E96)) == (12, 24, 96)
    assert E12 == (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
    assert {1.02, 1.21, 1.47, 2.49, 3.01, 4.99, 6.04, 8.06, 9.09, 9.76} < set(E96)


@pytest.mark.parametrize(("ohms", "series", "value"), [
    (344.0, "E24", 330.0), (9.9, "E24", 10.0), (95500.0, "E12", 100000.0), (0.98, "E96", 0.976),
    (1234.0, "E96", 1240.0), (9.87, "E96", 9.76), (9.9, "E96", 10.0), (4.5e6, "E12", 4.7e6)])
def test_the_nearest_value_may_lie_in_the_next_decade(ohms, series, value):
    assert nearest_value(ohms, series) == value


def test_preferred_values_of_nonsense_are_refused():
    with refuses(BadParameter, "-1"):
        nearest_value(-1.0)
    with refuses(BadParameter, "E7"):
        nearest_value(100.0, "E7")


@pytest.mark.parametrize("fault", ["slip", "stuck-return"])
def test_nothing_is_turned_or_trimmed_before_the_pedal_is_mended(fault):
    """A track that slips or a pedal that does not come back is fastened and freed first."""
    found = analyse(simulate_sweep(pedal_named(fault), 200.0, motion=Motion(cycles=8, quick=2),
                                   seed=4).recording, Parameters(target_rest_volts={"b": 0.70}))
    ways = {r.kind: r for r in found.remedies["b"]}
    for kind in ("turn", "trim resistor"):
        assert math.isnan(ways[kind].amount)
        assert "this comes first" in as_text(ways[kind].why)


def test_play_is_fastened_before_anything_is_turned():
    """3 % of play put track b 1.5 % off at rest; turned by that it would be off the other way."""
    found = analyse(simulate_sweep(pedal_named("play"), 200.0, motion=Motion(cycles=8, quick=2),
                                   seed=4).recording)
    (said,) = [s for s in as_texts(found.verdict) if "further towards pressed" in s]
    assert "% between the two explains it: fasten what is loose" in said
    assert all(math.isnan(r.amount) for r in found.remedies["b"] if r.kind == "turn")


def test_play_that_does_not_explain_the_rest_is_told_beside_it():
    """Track b is 4.3 % off at rest and has 1.5 % of play: either is said, and b is turned."""
    pedal = dataclasses.replace(pedal_named("off-at-rest"), play_percent=1.5)
    found = analyse(simulate_sweep(pedal, 200.0, motion=Motion(cycles=8, quick=2),
                                   seed=4).recording)
    assert sum("% of play: one follows the pedal later" in s for s in as_texts(found.verdict)) == 1
    assert any("turn or trim track b" in s for s in as_texts(found.verdict))
    assert any(math.isfinite(r.amount) for r in found.remedies["b"] if r.kind == "turn")


def test_what_brings_rests_together_tells_how_far_apart_full_travel_is():
    """By hand: a 0.75 to 4.25 V and b 0.91 to 4.24 V of 5 V; b turned by -0.16 V ends at 4.08 V.

    Trimmed in the supply leg to 0.75 V, b keeps 0.75 / 0.91 of 4.24 V: 3.49 V, 0.76 V or 22 % of
    3.5 V from a, more than the 10 % of Formula SAE rules T.4.2.
    """
    a = track_by_hand(TEN_LEVELS - np.median(TEN_LEVELS) + 0.75, full=4.25)
    b = dataclasses.replace(
        track_by_hand(TEN_LEVELS - np.median(TEN_LEVELS) + 0.91, full=4.24), column="b")
    parameters = Parameters(target_rest_volts={b.column: 0.75})
    turn, trim, _ = remedies(b, dead_band(b, parameters), parameters, a, asked=False)
    assert "170 mV apart, 4.9 % of travel" in as_text(turn.why)
    assert math.isnan(trim.amount)
    assert "22" in as_text(trim.why)
    assert "more than the 10 %" in as_text(trim.why)
    asked = remedies(b, dead_band(b, parameters), parameters, a, asked=True)[1]
    assert asked.full_volts == pytest.approx(4.24 * 0.75 / 0.91, rel=0.01)
    assert "22" in as_text(asked.why).split("apart, ")[1]
    assert "apart" not in as_text(remedies(b, dead_band(b, parameters), parameters)[0].why)


def test_a_target_at_a_rail_is_told_to_look_like_a_broken_wire():
    b = track_by_hand(TEN_LEVELS)
    near = Parameters(target_rest_volts={b.column: 0.1})
    assert "cannot tell it from a broken wire" in as_text(
        remedies(b, dead_band(b, near), near)[0].why)
    far = Parameters(target_rest_volts={b.column: 0.6})
    assert "broken wire" not in as_text(remedies(b, dead_band(b, far), far)[0].why)
