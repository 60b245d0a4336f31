"""The relation of two tracks."""

import dataclasses
import re

import numpy as np
import pytest
from said import refuses

from analysis.model.errors import BadParameter
from analysis.parameters import Parameters
from analysis.pedal.findings import analyse
from analysis.pedal.pair import robust_line
from analysis.pedal.relations import relation_named, relation_of
from analysis.simulation import pedal_named, simulate_sweep


@pytest.mark.parametrize(("gain", "offset", "relation"), [
    # The limits of FORMATS.md: 10 % on the gain, 5 % of supply on the offset.
    (1.0, 0.0, "same slope"), (1.09, 0.049, "same slope"), (0.91, -0.051, "same slope with offset"),
    (0.5, 0.0, "half slope"), (2.19, -0.1, "half slope"), (0.44, 0.0, "other"),
    (-1.0, 1.0, "opposed slopes"), (-0.91, 0.9, "opposed slopes"), (-0.5, 0.7, "other"),
    (0.75, 0.0, "other"),
])
def test_relation_keeps_its_limits(gain: float, offset: float, relation: str) -> None:
    """Each relation holds exactly inside its stated limits."""
    assert relation_of(gain, offset) == relation


@pytest.mark.parametrize(("relation", "gain", "word", "volts"), [
    # By hand, of a first track that rests at 0.8 V on 5 V: half, twice, and mirrored in the supply.
    ("half slope", 0.5, "half", 0.4), ("half slope", -0.99, "half", 0.4),
    ("half slope", 1.0, "twice", 1.6), ("half slope", 2.0, "twice", 1.6),
    ("opposed slopes", -1.0, "opposed", 4.2),
])
def test_the_usual_law_says_where_the_second_track_rests(relation, gain, word, volts) -> None:
    """Only a relation with a law of its own says so."""
    law = relation_named(relation).law
    assert law is not None
    assert law(gain, 0.8, 5.0) == (word, pytest.approx(volts))
    assert relation_named("same slope").law is None


def test_line_without_outliers_is_near_least_squares() -> None:
    """On normal errors the robust line agrees with numpy.polyfit within its uncertainty."""
    rng = np.random.default_rng(7)
    x = np.linspace(0.5, 4.5, 200)
    y = 0.5 * x + 0.1 + rng.normal(0, 0.01, x.size)
    gain, offset = robust_line(x, y)
    (slope, intercept), covariance = np.polyfit(x, y, 1, cov=True)  # reference library: numpy
    assert abs(gain.value - slope) < 0.5 * np.sqrt(covariance[0, 0])
    assert abs(offset.value - intercept) < 0.5 * np.sqrt(covariance[1, 1])
    assert gain.uncertainty == pytest.approx(np.sqrt(covariance[0, 0]), rel=0.35)


def test_line_is_not_moved_by_a_clipped_end() -> None:
    """A track that stands still over the last eighth of travel does not bend the line."""
    x = np.linspace(0.5, 4.5, 200)
    y = np.minimum(x + 0.3, 4.3)
    gain, _ = robust_line(x, y, (np.array([0.5, 4.5]), np.array([0.8, 4.3])))
    assert gain.value == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("name", ["healthy", "half-slope", "opposed", "offset", "off-at-rest"])
def test_gain_and_offset_are_the_simulated_ones(name: str) -> None:
    """Gain within 1 % and offset within 20 mV of what the simulator was given."""
    sweep = simulate_sweep(pedal_named(name), seed=11)
    pair = analyse(sweep.recording).pair
    assert pair is not None
    assert pair.relation == sweep.truth.relation
    assert pair.gain.value == pytest.approx(sweep.truth.gain, rel=0.01)
    assert pair.offset_volts.value == pytest.approx(sweep.truth.offset_volts, abs=0.02)


def test_play_is_measured_and_does_not_move_the_gain() -> None:
    """Three per cent of play between the shafts are seen as such, the gain stays within 1 %."""
    sweep = simulate_sweep(pedal_named("play"), seed=11)
    pair = analyse(sweep.recording).pair
    assert pair is not None
    assert pair.play_percent.value == pytest.approx(sweep.truth.play_percent, abs=0.3)
    assert pair.gain.value == pytest.approx(sweep.truth.gain, rel=0.01)


def test_mismatch_on_targets_needs_a_target() -> None:
    """Without targets there is no mismatch on targets; with them it is the plain arithmetic."""
    sweep = simulate_sweep(pedal_named("off-at-rest"), seed=11)
    found = analyse(sweep.recording)
    assert found.pair is not None
    assert found.pair.mismatch_at_rest_percent is None
    parameters = Parameters(target_rest_volts={"a": 0.75, "b": 0.75},
                    target_full_volts={"a": 4.25, "b": 4.25})
    aimed = analyse(sweep.recording, parameters)
    assert aimed.pair is not None
    rest = {n: t.rest.value for n, t in aimed.tracks.items()}
    assert aimed.pair.mismatch_at_rest_percent == pytest.approx(
        100 * abs(rest["a"] - rest["b"]) / 3.5)


def test_targets_that_leave_no_travel_give_no_mismatch() -> None:
    """Rest and full travel wished at one voltage: no travel to count in, and no infinite number."""
    recording = simulate_sweep(pedal_named("healthy"), 200.0, seed=11).recording
    pair = analyse(recording, Parameters(target_rest_volts={"a": 1.0},
                                     target_full_volts={"a": 1.0})).pair
    assert pair is not None
    assert pair.mismatch_at_rest_percent is None


@pytest.mark.parametrize("volts", [-61.0, 2e7, float("nan"), float("inf")])
def test_a_target_that_no_input_can_have_is_refused(volts: float) -> None:
    """The one-line error names the parameter, the track and the value."""
    with refuses(BadParameter, re.escape(f"--target-full of track 'b' is {volts:g} V")):
        Parameters(target_full_volts={"b": volts})


def test_without_a_supply_channel_there_is_no_usual_supply() -> None:
    """The usual supply is the median of its readings, and no number where there are none."""
    recording = simulate_sweep(pedal_named("sagging-supply"), 200.0, seed=11).recording
    supply = recording.supply_volts()
    assert supply is not None
    # The sag of 12 s is less than half of the sweep: numpy's median leaves it out.
    assert recording.usual_supply_volts == pytest.approx(np.median(supply))
    bare = dataclasses.replace(recording, channels=recording.with_role("track"))
    assert np.isnan(bare.usual_supply_volts)
    # Volts are then as measured.
    assert bare.stated_volts(bare.channels[0]) == pytest.approx(bare.channels[0].volts())


def test_swapping_the_tracks_turns_the_relation_round() -> None:
    """The second track taken first gives the inverse line and the same worst mismatch."""
    recording = simulate_sweep(pedal_named("half-slope"), seed=2).recording
    there = analyse(recording).pair
    swapped = dataclasses.replace(
        recording, channels=(recording.channels[1], recording.channels[0],
                             *recording.channels[2:]))
    back = analyse(swapped).pair
    assert there is not None
    assert back is not None
    assert back.relation == there.relation
    assert back.gain.value * there.gain.value == pytest.approx(1.0, abs=0.01)
    assert back.mismatch_max_percent.value == pytest.approx(
        there.mismatch_max_percent.value, abs=0.05)
