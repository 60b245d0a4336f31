"""Joining a board that is running already, and boards whose rows do not fit their words."""

import pytest
from scripted_board import Ears, Scripted, run

from bench.acquisition.recorder import Recorder
from bench.errors import BoardTrouble


@pytest.mark.parametrize("cut", [20, 60, 110, 180])
def test_joining_late_before_the_board_says_what_it_is(cut):
    # docs/wire.md's sketch, running already: the rows before its # line look like four readings
    rows = "".join(f"{5000 * k},{100 + k},200,1023\n" for k in range(400))
    lines = rows.splitlines(keepends=True)
    says = "# full_scale=1024 reference_volts=5.0 rate_hz=200 time=us columns=a,b,supply\n"
    stream = ("".join(lines[:40]) + says + "".join(lines[40:])).encode()[7:]
    board = Scripted(stream[:cut], *(stream[k:k + 64] for k in range(cut, len(stream), 64)))
    ears = Ears()
    recorder = run(board, ears)
    assert recorder.error is None
    assert [c.column for c in ears.source.channels] == ["a", "b", "supply"]
    assert ears.readings[:, 0].tolist() == [100 + k for k in range(40, 400)]


def test_a_sketch_that_names_other_rows_than_it_sends_is_told_so(monkeypatch):
    monkeypatch.setattr("bench.acquisition.recorder.UNCLEAR_S", 0.4)
    rows = "".join(f"{k},200,1023\n" for k in range(300, 400))
    says = "# full_scale=1024 reference_volts=5.0 rate_hz=200 columns=a,b\n"
    stream = (rows + says + rows).encode()
    board = Scripted(*(stream[k:k + 200] for k in range(0, len(stream), 200)), *[0.05] * 12)
    recorder = Recorder(board, [Ears()])
    recorder.start()
    with pytest.raises(BoardTrouble, match="names 2 channels and sends 3 numbers; correct its"):
        recorder.join()


def test_a_row_that_came_late_is_kept_though_nothing_follows_it():
    # 200 rows a second, the last after 15 ms: two are missing, for no burst brings them
    says = "# full_scale=1024 reference_volts=5.0 rate_hz=200 time=us columns=a\n"
    ticks = [*range(0, 500_000, 5000), 510_000]
    board = Scripted(says.encode(), *(f"{t},{t // 5000}\n".encode() for t in ticks))
    ears = Ears()
    run(board, ears)
    assert ears.readings[:, 0].tolist() == [*range(100), 102]
    assert ears.lost.tolist() == [0] * 100 + [2]
