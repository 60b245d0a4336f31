"""A board is told how to sample and followed to another speed, and sent back when it is let go."""

import pytest
from scripted_board import HELLO, Scripted

from bench.acquisition.boards import configured_board
from bench.acquisition.boards.board import Unplugged
from bench.acquisition.boards.configured_board import TunedBoard, Tuning
from bench.acquisition.wire import encode_hello
from bench.errors import BadCall, BoardTrouble


class Clock:
    """A clock that goes on by a twentieth of a second each time it is looked at."""

    def __init__(self):
        self.now = 0.0

    def monotonic(self):
        self.now += 0.05
        return self.now


class TwoSpeeds(Scripted):
    """Talk at one speed; go to another when asked for one that the sketch knows."""

    def __init__(self, at=115200, board_at=115200, knows=(115200, 500000)):
        super().__init__()
        self.baud, self.board_at, self.knows, self.deaf = at, board_at, knows, False

    def read(self):
        return encode_hello(HELLO) if self.baud == self.board_at else b""

    def write(self, data):
        if self.deaf:
            raise Unplugged("gone")
        super().write(data)
        for line in data.split(b"\n"):
            word, _, number = line.partition(b" ")
            if word.strip() == b"baud" and self.baud == self.board_at and int(number) in self.knows:
                self.board_at = int(number)

    def change_baud(self, baud):
        self.baud = baud


@pytest.fixture(autouse=True)
def _no_waiting(monkeypatch):
    monkeypatch.setattr(configured_board, "time", Clock())


def test_it_is_told_what_is_wanted_and_nothing_else():
    """One line each, as docs/wire.md has them; the speed stays as it is."""
    line = TwoSpeeds()
    board = TunedBoard(line, Tuning(rate_hz=500, channels=3, oversample=4, format="frames"))
    board.open()
    assert line.written.split(b"\n")[:4] == [b"channels 3", b"oversample 4", b"rate 500", b"frames"]
    assert b"baud" not in line.written
    assert board.baud == 115200
    board.close()
    assert b"baud" not in line.written


def test_it_is_followed_to_another_speed_and_sent_back():
    """So that the next program finds it where this one found it."""
    line = TwoSpeeds()
    board = TunedBoard(line, Tuning(line_baud=500000))
    board.open()
    assert (board.baud, line.board_at) == (500000, 500000)
    board.close()
    assert line.board_at == 115200


def test_one_left_at_the_other_speed_is_found_there():
    """A program that was killed sent it back nowhere."""
    line = TwoSpeeds(board_at=500000)
    board = TunedBoard(line, Tuning(line_baud=500000))
    board.open()
    assert board.baud == 500000
    assert b"?" in line.written


def test_one_that_is_at_neither_speed_is_tried_where_it_was_found():
    """And refused in one line when it does not follow."""
    line = TwoSpeeds(board_at=9600)
    with pytest.raises(BoardTrouble, match="did not follow to 500000 baud; leave out --line-baud"):
        TunedBoard(line, Tuning(line_baud=500000)).open()


def test_a_speed_that_the_sketch_does_not_know_is_refused():
    """It stays at its own speed, and is not heard at the other."""
    line = TwoSpeeds(knows=(115200,))
    with pytest.raises(BoardTrouble, match="did not follow to 500000 baud"):
        TunedBoard(line, Tuning(line_baud=500000)).open()


def test_a_cable_pulled_before_it_could_be_sent_back_is_no_trouble():
    """The recording was closed already."""
    line = TwoSpeeds()
    board = TunedBoard(line, Tuning(line_baud=500000))
    board.open()
    line.deaf = True
    board.close()
    assert line.board_at == 500000


@pytest.mark.parametrize(("asked", "words"), [
    ({"oversample": 3}, "oversampling by 3; use 1, 4 or 16"),
    ({"format": "morse"}, "format 'morse'; use text or frames")])
def test_what_no_board_knows_is_refused_before_it_is_sent(asked, words):
    """With what there is instead."""
    with pytest.raises(BadCall, match=words):
        Tuning(**asked)
