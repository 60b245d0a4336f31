"""The last seconds of a recording: no extreme lost, no gap bridged, at constant cost."""

import numpy as np
import pytest

from bench.plots.live import BINS, Trail


def test_every_extreme_in_view_is_kept_and_what_rolled_out_is_forgotten():
    trail = Trail(2, 9.0, 1000.0)
    time_s = np.arange(60_000) / 1000.0
    volts = np.stack([np.full(time_s.size, 2.0), np.full(time_s.size, 1.0)], axis=1)
    volts[40_000, 0] = 5.0   # rolled out at the end
    volts[55_500, 0] = 0.25  # one sample, still in view
    for rows in np.array_split(np.arange(time_s.size), 777):
        trail.add(time_s[rows], volts[rows])
    when, low, high = trail.lines()
    assert (low[:, 0].min(), high[:, 0].max()) == (0.25, 2.0)
    # A bin is 9 s / BINS wide; its middle is off by half of it at most.
    assert when[low[:, 0].argmin()] == pytest.approx(55.5, abs=9.0 / BINS)
    assert set(low[:, 1]) == set(high[:, 1]) == {1.0}
    assert when.size <= BINS
    assert trail.gaps(trail.now_s) == ()


def test_a_cable_gap_is_one_gap_of_its_length_and_nothing_is_drawn_across_it():
    trail = Trail(1, 9.0, 500.0)
    for times in (np.arange(0.0, 3.0, 0.002), np.arange(6.2, 8.0, 0.002)):
        trail.add(times, np.full((times.size, 1), 1.5))
    (start, end), = trail.gaps(trail.now_s)
    assert (start, end) == (pytest.approx(2.998), pytest.approx(6.2))
    when, _, _ = trail.lines()
    before, after = trail.pieces(when)
    assert when[before].max() < start + 0.02
    assert when[after].min() > end - 0.02


def test_a_silence_that_lasts_is_a_gap_up_to_now():
    trail = Trail(1, 9.0, 500.0)
    times = np.arange(0.0, 1.0, 0.002)
    trail.add(times, np.full((times.size, 1), 1.5))
    assert trail.gaps(1.05) == ()
    assert trail.gaps(4.0) == ((pytest.approx(0.998), 4.0),)


def test_a_slow_board_has_no_gaps_between_its_rows():
    trail = Trail(1, 9.0, 5.0)
    trail.add(np.arange(0.0, 6.0, 0.2), np.ones((30, 1)))
    assert trail.gaps(6.1) == ()


def test_a_piece_without_rows_changes_nothing():
    """Nothing came: the time now stays what it was, and no gap begins by it."""
    trail = Trail(1, 10.0, 100.0)
    trail.add(np.empty(0), np.empty((0, 1)))
    assert np.isnan(trail.now_s)
    trail.add(np.array([1.0]), np.array([[0.5]]))
    trail.add(np.empty(0), np.empty((0, 1)))
    assert trail.now_s == 1.0
