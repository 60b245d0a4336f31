"""The time of a recording, row by row: every number here is worked out by hand."""

import numpy as np
import pytest

from bench.acquisition.recorder_time import RISING, RecordedTime, first_rising, host_clock
from bench.acquisition.wire import Batch

NAN = float("nan")


def batch(times, restarts=(), lost=None):
    count = len(times)
    return Batch(np.array(times), np.zeros((count, 1), np.int64),
                 np.zeros(count, np.int64) if lost is None else np.array(lost), None, (), restarts)


def placed(*batches, rate=100.0, has_clock=True):
    """Return times and losses of each of the (now, batch), at this stated rate."""
    time = RecordedTime()
    time.rate_hz = rate
    found = [time.place(one, now, has_clock) for now, one in batches]
    return [t.tolist() for t, _ in found], [n.tolist() for _, n in found]


def test_only_what_was_lost_behind_the_first_row_is_lost_and_nobody_elses_numbers_are_changed():
    first, second = batch([7.0, 7.01], lost=[9, 1]), batch([7.02], lost=[4])
    times, lost = placed((50.0, first), (50.0, second))
    assert times == [[0.0, 0.01], [0.02]]
    assert lost == [[0, 1], [4]]
    assert first.lost_before.tolist() == [9, 1]


def test_a_time_that_goes_back_stands_still_and_times_are_whole_microseconds():
    times, _ = placed((0.0, batch([1.0, 1.5, 1.2])), (0.0, batch([1.3, 1.6000004])))
    assert times == [[0.0, 0.5, 0.5], [0.5, 0.6]]


@pytest.mark.parametrize(("waited", "extra"), [(2.0, 0.0), (2.01, 2.0)])
def test_rows_that_only_count_are_bridged_beyond_two_seconds_alone(waited, extra):
    times, lost = placed((10.0, batch([0.0])), (10.0 + waited, batch([0.01])), has_clock=False)
    assert times[1] == pytest.approx([0.01 + extra])
    assert lost[1] == [round(100 * extra)]


def test_a_bridge_takes_the_time_of_arrival_less_what_came_with_it():
    """The last of four rows 10 ms apart came 1 s after the row before: the first came 0.97 s."""
    times, lost = placed((5.0, batch([0.0])), (6.0, batch([0.01, 0.02, 0.03, 0.04], (0,))),
                         (6.0, batch([0.05])))
    assert times[1:] == [pytest.approx([0.97, 0.98, 0.99, 1.0]), pytest.approx([1.01])]
    assert lost[1:] == [[96, 0, 0, 0], [0]]


def test_a_second_bridge_adds_to_the_first():
    times, lost = placed((0.0, batch([0.0])), (1.0, batch([0.01], (0,))),
                         (3.0, batch([0.02], (0,))))
    assert times == [[0.0], pytest.approx([1.0]), pytest.approx([3.0])]
    assert lost == [[0], [99], [199]]


def test_rows_that_came_sooner_than_their_clock_says_are_no_loss():
    times, lost = placed((0.0, batch([0.0])), (0.2, batch([0.5], (0,))))
    assert (times[1], lost[1]) == ([0.5], [0])


def test_a_restart_inside_of_a_batch_moves_nothing():
    times, lost = placed((0.0, batch([0.0])), (9.0, batch([0.01, 0.02], (1,))))
    assert (times[1], lost[1]) == ([0.01, 0.02], [0, 0])


@pytest.mark.parametrize(("rows", "gone"), [(1, 0), (2, 999), (3, 999)])
def test_without_a_stated_rate_that_of_the_rows_so_far_counts(rows, gone):
    """Rows 10 ms apart are 100 per second, and 9.99 s are missing; one row is no rate."""
    _, lost = placed((0.0, batch([0.01 * k for k in range(rows)])),
                     (10.0, batch([0.01 * rows], (0,))), rate=None)
    assert lost[1] == [gone]


@pytest.mark.parametrize("times", [[0.0], [0.0, 0.0]])
def test_rows_that_show_no_rate_lose_nothing_however_long_the_gap(times):
    found, lost = placed((0.0, batch(times)), (1000.0, batch([0.01], (0,))), rate=None)
    assert found[1] == pytest.approx([1000.0])
    assert lost[1] == [0]


def test_rows_without_any_time_share_what_passed_since_the_rows_before():
    times, lost = placed((20.0, batch([NAN])), (20.4, batch([NAN] * 4)), (20.5, batch([NAN])),
                         rate=None)
    assert times == [[0.0], pytest.approx([0.1, 0.2, 0.3, 0.4]), pytest.approx([0.5])]
    assert lost == [[0], [0] * 4, [0]]


@pytest.mark.parametrize(("came", "begin"), [(2.2, 0.0), (2.21, 2.01)])
def test_beyond_two_seconds_and_their_own_rows_without_a_time_were_away(came, begin):
    """Twenty rows at 100 Hz take 0.2 s, and two seconds of silence are borne besides."""
    times, lost = placed((0.0, batch([NAN])), (came, batch([NAN] * 20)))
    assert times[1][0] == pytest.approx(begin + (came - begin) / 20)
    assert times[1][-1] == pytest.approx(came)
    assert lost[1] == [round(100 * begin)] + [0] * 19


def test_the_silence_that_counts_is_that_since_the_rows_before():
    """Steady rows are no gap at whatever time; 7 s less the 10 ms of a row are 699 of them."""
    times, lost = placed((0.0, batch([NAN])), (1.9, batch([NAN])), (3.8, batch([NAN])),
                         (10.8, batch([NAN])))
    assert times == [[0.0], pytest.approx([1.9]), pytest.approx([3.8]), pytest.approx([10.8])]
    assert lost == [[0], [0], [0], [699]]


def test_without_any_rate_rows_that_were_away_came_when_they_came():
    times, _ = placed((0.0, batch([NAN])), (2.005, batch([NAN] * 2)), rate=None)
    assert times[1] == pytest.approx([2.005, 2.005])


def test_a_restart_of_rows_without_a_time_is_a_gap_however_short():
    times, lost = placed((0.0, batch([NAN])), (0.5, batch([NAN] * 2, (0,))))
    assert times[1] == pytest.approx([0.49, 0.5])
    assert lost[1] == [48, 0]


def test_without_a_time_a_host_clock_that_goes_back_turns_no_row_back():
    times, lost = placed((5.0, batch([NAN])), (6.0, batch([NAN])), (4.0, batch([NAN] * 2)))
    assert times[2] == [1.0, 1.0]
    assert lost[2] == [0, 0]


STEPS = [10] * 8


@pytest.mark.parametrize(("steps", "told"), [
    (STEPS[:7], False), (STEPS, True), ([*STEPS, 5], True), ([*STEPS, 4], False),
    ([*STEPS, 20], True), ([*STEPS, 21], False), ([0] * 9, False), ([-10] * 9, False),
    ([1] * 8, True)])
def test_a_column_that_rises_by_about_the_same_at_least_eight_times_looks_like_a_clock(steps, told):
    column = 3 + np.concatenate([[0], np.cumsum(steps)])
    still = np.full_like(column, 500)
    place, words = first_rising(np.stack([still, column], axis=1))
    said = f"only rises, {steps[0]} each row, from 3 to {column[-1]}"
    assert (place, words) == ((1, said) if told else (0, ""))
    assert len(steps) < RISING


def test_the_hosts_clock_never_runs_back():
    """The library reference of `time`: neither of the two clocks can be set."""
    before = host_clock()
    assert 0 <= host_clock() - before < 60
