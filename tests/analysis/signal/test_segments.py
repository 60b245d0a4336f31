"""Segments are found from the signal, whatever the marks say."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.pedal.findings import analyse
from analysis.signal.segments import find_segments, turning_points
from analysis.simulation import Motion, pedal_named, simulate_sweep


def _kinds(travel: list[float], step_s: float = 0.01) -> list[str]:
    values = np.repeat(np.array(travel, dtype=float), 1)
    return [s.kind for s in find_segments(values, np.arange(values.size) * step_s, 1)]


def _ramp(*levels: tuple[float, int]) -> list[float]:
    """Return travel that goes to each level in so many points and stays there for as many."""
    travel, at = [0.0] * 50, 0.0
    for level, points in levels:
        travel += list(np.linspace(at, level, points)) + [level] * points
        at = level
    return travel


def test_one_press_is_rest_press_hold_release_rest() -> None:
    """A press and its release split the time into five segments, without holes."""
    travel = _ramp((100, 100), (0, 100))
    segments = find_segments(np.array(travel), np.arange(len(travel)) * 0.01, 1)
    assert [s.kind for s in segments] == ["rest", "press", "hold", "release", "rest"]
    assert [s.start for s in segments[1:]] == [s.stop for s in segments[:-1]]
    assert (segments[0].start, segments[-1].stop) == (0, len(travel))


def test_a_hesitation_is_no_second_press() -> None:
    """A press that eases off by less than 30 % of travel and goes on stays one press."""
    assert _kinds(_ramp((70, 60), (50, 40), (100, 60), (0, 80))).count("press") == 1


def test_a_return_that_sticks_half_way_ends_its_press() -> None:
    """A pedal that stays at 40 % between two presses has been pressed twice."""
    assert _kinds(_ramp((100, 60), (40, 60), (100, 60), (0, 80))).count("press") == 2


def test_a_recording_that_begins_pressed_counts_only_whole_presses() -> None:
    """Starting with the foot down gives a hold and a release first, and one press after."""
    travel = [100.0] * 80 + list(np.linspace(100, 0, 80)) + _ramp((100, 80), (0, 80))
    assert _kinds(travel) == ["hold", "release", "rest", "press", "hold", "release", "rest"]


def test_turning_points_alternate() -> None:
    """Extremes alternate between valley and peak, however the signal trembles."""
    rng = np.random.default_rng(5)
    travel = 50 + 50 * np.sin(np.linspace(0, 40, 4000)) + rng.normal(0, 2, 4000)
    peaks = [peak for _, peak in turning_points(travel)]
    assert all(a != b for a, b in itertools.pairwise(peaks))
    assert sum(peaks) == 7  # crests of a sine of 40 rad, at pi/2 + 2 pi k


@given(st.lists(st.integers(0, 12), min_size=1, max_size=900), st.integers(1, 8))
def test_turning_points_do_not_depend_on_the_blocks(steps: list[int], turn: int) -> None:
    """They are those that a walk from value to value finds by the definition."""
    travel = np.cumsum(np.array(steps, dtype=float) - 6.0)
    assert turning_points(travel, float(turn)) == _one_by_one(travel.tolist(), float(turn))


def test_a_turn_is_found_blocks_after_its_extreme() -> None:
    """So slow that hundreds of values lie between an extreme and what confirms it."""
    travel = np.interp(np.arange(9000.0), [0, 3000, 6000, 9000], [0, 100, 0, 100])
    assert turning_points(travel) == _one_by_one(travel.tolist(), 30.0)
    assert [at for at, _ in turning_points(travel)] == [0, 3000, 6000, 8999]


def _one_by_one(values: list[float], turn: float) -> list[tuple[int, bool]]:
    points: list[tuple[int, bool]] = []
    rising: bool | None = None
    low = high = 0
    for i, value in enumerate(values):
        high = i if value > values[high] else high
        low = i if value < values[low] else low
        if rising is not False and values[high] - value > turn:
            points.append((high, True))
            rising, low, high = False, i, i
        elif rising is not True and value - values[low] > turn:
            points.append((low, False))
            rising, low, high = True, i, i
    if rising is None:
        return points
    return [*points, (high, True) if rising else (low, False)]


@pytest.mark.parametrize("late_s", [0.0, 2.0, 4.0])
@pytest.mark.parametrize("marks", [True, False])
def test_lateness_and_missing_marks_change_nothing(late_s: float, marks: bool) -> None:
    """A person seconds behind the prompts, or no prompts at all: the presses are all there."""
    sweep = simulate_sweep(pedal_named("healthy"), 200.0, 10, seed=3,
                           motion=Motion(cycles=5, quick=3, late_s=late_s, marks=marks))
    found = analyse(sweep.recording)
    assert sum(s.kind == "press" for s in found.segments) == sweep.truth.presses == 8
    assert sum(s.quick for s in found.segments if s.kind == "release") == 3
