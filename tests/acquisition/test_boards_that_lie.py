"""Clocks that are damaged, stand still, count another unit or begin anew; cables out in a row."""

import numpy as np
import pytest
from scripted_board import Ears, counting, run
from stress import hostile_boards
from stress.stress_common import Report

from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.recorder_time import RecordedTime
from bench.acquisition.wire import Batch, Decoder

HEAD = "# full_scale=1024 reference_volts=5.0 columns=a,b time={unit} rate_hz={rate}\n"


def test_rows_losses_and_times_are_true_whatever_the_clock_and_the_cable_do():
    report = Report()
    hostile_boards.measure(True, report)
    assert not report.broken


def heard(lines, unit="us", rate=1000, piece=1 << 20):
    """Return times and losses of lines that come in pieces, after what a board says."""
    decoder = Decoder("text")
    data = HEAD.format(unit=unit, rate=rate).encode() + b"".join(b"%s,1,2\n" % n for n in lines)
    batches = []
    for at in range(0, len(data), piece):
        batches.append(decoder.feed(data[at:at + piece]))
        while decoder.pending:
            batches.append(decoder.feed(b""))
    decoder.let_go()
    while decoder.pending:
        batches.append(decoder.feed(b""))
    return (np.concatenate([b.time_s for b in batches]),
            np.concatenate([b.lost_before for b in batches]))


@pytest.mark.parametrize("piece", [7, 1 << 20])
@pytest.mark.parametrize(("unit", "begin", "step"), [
    ("us", 5000, 1000), ("us", (1 << 32) - 25_300, 1000), ("us", 1 << 45, 1000), ("ms", 5000, 1),
    ("ms", 70_000, 10)])
@pytest.mark.parametrize("wild", ["a digit less", "a digit more", "0"])
def test_a_clock_with_a_damaged_digit_loses_no_row_and_no_time(piece, unit, begin, step, wild):
    """Its neighbours are two steps apart, so nothing is missing between them."""
    ticks = begin + step * np.arange(60)
    if begin < 1 << 32:
        ticks %= 1 << 32
    lines = [b"%d" % t for t in ticks]
    lines[30] = {"a digit less": lines[30][1:], "a digit more": lines[30] + b"7", "0": b"0"}[wild]
    seconds = step * {"us": 1e-6, "ms": 1e-3}[unit]
    time_s, lost = heard(lines, unit, round(1 / seconds), piece)
    assert lost.tolist() == [0] * 60
    assert np.diff(time_s) == pytest.approx(np.full(59, seconds))


def test_a_row_lost_beside_a_damaged_clock_is_still_told():
    lines = [b"%d" % t for t in 5000 + 1000 * np.arange(60)]
    lines[30] = b"7"
    del lines[31]
    time_s, lost = heard(lines)
    assert lost.sum() == 1
    assert time_s[-1] - time_s[0] == pytest.approx(0.059)


def test_clocks_that_go_forth_and_back_by_turns_are_left_as_they_are():
    """Of two damaged clocks beside each other nobody knows which is whole."""
    ticks = 5000 + 1000 * np.arange(40).reshape(-1, 2)[:, ::-1].ravel()
    assert heard([b"%d" % t for t in ticks])[0].size == 40


def followed(board_s, host_s, has_clock=True):
    """Return what is told of rows, half a second of the host's apart, and how often."""
    time, told = RecordedTime(), []
    time.rate_hz = 100.0
    for k in range(int(host_s / 0.5) + 1):
        time.place(Batch(np.array([k * 0.5 * board_s / host_s]), np.array([[1, 2]]),
                         np.zeros(1, np.int64), None, (), ()), 50.0 + 0.5 * k, has_clock)
        told.append(time.doubt(has_clock))
    said = [words for words in told if words]
    assert len(said) <= 1
    return said[0] if said else ""


@pytest.mark.parametrize(("board_s", "has_clock", "said"), [
    (0.0, True, "0 s by its clock"), (0.01, True, "correct the unit of its clock"),
    (1e4, True, "correct the unit of its clock"), (10.3, True, ""), (120.0, True, ""),
    (7.9, False, "correct rate_hz in its hello"), (12.6, False, "correct rate_hz in its hello"),
    (8.01, False, ""), (12.49, False, ""), (5.01, True, ""), (4.9, True, "its clock"),
    (2999.0, True, ""), (3002.0, True, "correct the unit")])
def test_a_time_that_the_hosts_clock_contradicts_is_told_once(board_s, has_clock, said):
    """A millisecond taken for a microsecond is a thousand times (SI); a demo may run fast."""
    found = followed(board_s, 10.0, has_clock)
    assert said in found
    assert bool(said) == bool(found)


@pytest.mark.parametrize(("host_s", "told"), [(4.5, False), (5.0, True)])
def test_times_are_compared_from_five_seconds_on(host_s, told):
    assert bool(followed(0.0, host_s)) == told


def test_what_passes_in_silence_is_not_compared():
    """Beyond two seconds nobody listened, and the board's clock may have stood."""
    for gap, told in ((2.0, True), (2.1, False)):
        time = RecordedTime()
        for k in range(6):
            time.place(Batch(np.zeros(1), np.array([[1, 2]]), np.zeros(1, np.int64), None, (), ()),
                       gap * k)
        assert bool(time.doubt()) == told


def test_rows_that_come_at_the_same_instant_count_with_their_time():
    time = RecordedTime()
    for k in range(24):
        time.place(Batch(np.array([0.5 * k]), np.array([[1, 2]]), np.zeros(1, np.int64), None, (),
                         ()), 7.0 + k // 2, False)
    assert time.doubt(False) == ""


@pytest.mark.parametrize(("apart", "times", "told"), [
    (1.0, 10, True), (1.0, 9, False), (1.11, 10, True), (1.112, 10, False)])
def test_a_board_that_begins_anew_again_and_again_is_told(apart, times, told):
    """Ten times within 10 s: nine steps of 1.11 s are 9.99 s, of 1.112 s more."""
    time = RecordedTime()
    for k in range(times):
        time.place(Batch(np.array([k * apart]), np.array([[1, 2]]), np.zeros(1, np.int64), None,
                         (), (0,)), 100.0 + k * apart)
    found = time.doubt()
    assert ("two boards speak on one line" in found) == told
    assert bool(found) == told
    assert not time.doubt()


@pytest.mark.parametrize(("speed", "told"), [(None, False), (500.0, True)])
def test_only_a_board_in_real_time_is_held_against_the_clock_here(monkeypatch, speed, told):
    """A recording that is sent again as fast as it is read says nothing false of its time."""
    monkeypatch.setattr(RecordedTime, "doubt", lambda *_: "no time of this can be believed")
    ears = Ears()
    run(StreamedBoard("replay", counting(40), speed), ears)
    assert any("can be believed" in str(text) for _, text in ears.heard) == told
