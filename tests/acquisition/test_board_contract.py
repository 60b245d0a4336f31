"""Every board keeps the one contract: on a serial port, simulated, and a recording sent again."""

import os
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from analysis.model.recording import Channel, Mark, Recording
from analysis.simulation import Motion
from bench.acquisition.boards import SIMULATED, list_boards, open_named
from bench.acquisition.boards.board import WAIT_S, Board, Unplugged
from bench.acquisition.boards.channels import ChannelOptions, channels_of
from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.replay import ReplayBoard
from bench.acquisition.boards.serial_board import SerialBoard
from bench.acquisition.boards.simulated import SimulatedCarBoard, SimulatedPedalBoard
from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.wire import Decoder, Hello, command, encode_hello
from bench.errors import BadCall, BadFile, BoardTrouble
from bench.files.recording_file import write_recording

needs_pty = pytest.mark.skipif(not can_serve(), reason="this system has no pseudo terminals")
SHORT = Motion(cycles=1, quick=0, first_rest_s=0.5, press_s=0.5, hold_s=0.5, release_s=0.5,
               rest_s=0.5, last_rest_s=0.2)


def small(rows: int = 2000, **more: object) -> Recording:
    """Return rows whose every reading says where it belongs."""
    counts = np.arange(rows, dtype=float)
    channels = tuple(
        Channel(c, "track", (counts * k) % 4096, full_scale=4096.0, reference_volts=5.0)
        for k, c in enumerate(("a", "b"), start=1))
    return Recording(np.arange(rows) / 1000.0, channels, rate_hz=1000.0, **more)


@pytest.fixture(params=["serial", "simulated", "replay"])
def board(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Board]:
    if request.param == "simulated":
        yield SimulatedPedalBoard("healthy", motion=SHORT, speed=None)
    elif request.param == "replay":
        write_recording(tmp_path / "r.csv", small())
        yield ReplayBoard(tmp_path / "r.csv", speed=None)
    else:
        if not can_serve():
            pytest.skip("this system has no pseudo terminals")
        with PtyServer(StreamedBoard("pty", small(), speed=None)) as server:
            yield SerialBoard(server.port)


def read_rows(board: Board, most: int, seconds: float = 10.0) -> np.ndarray:
    decoder = Decoder()
    found: list[np.ndarray] = []
    end = time.monotonic() + seconds
    while sum(map(len, found)) < most and time.monotonic() < end and not board.ended:
        batch = decoder.feed(board.read())
        found += [batch.readings] if batch.rows else []
        while decoder.pending:
            batch = decoder.feed(b"")
            found += [batch.readings] if batch.rows else []
    assert decoder.bad == 0
    return np.concatenate(found)


def test_an_opened_board_sends_rows_that_decode(board: Board) -> None:
    board.open()
    board.write(command("?"))
    try:
        assert len(read_rows(board, 500)) >= 500
    finally:
        board.close()


def test_a_board_closes_twice_and_opens_again(board: Board) -> None:
    for _ in range(2):
        board.open()
        board.write(command("?"))
        data = b""
        until = time.monotonic() + 10.0
        while not data and time.monotonic() < until:
            data = board.read()
        assert data
        board.close()
        board.close()


def test_stop_wakes_a_waiting_read_from_another_thread(board: Board) -> None:
    board.open()
    read_started = time.monotonic()
    thread = threading.Timer(0.05, board.stop)
    thread.start()
    while not board.ended and time.monotonic() < read_started + 0.1:
        board.read()
    before = time.monotonic()
    board.read()
    assert time.monotonic() - before < WAIT_S + 0.5
    thread.join()
    board.close()


def test_reading_a_board_that_is_not_open_is_an_error_in_words(board: Board) -> None:
    with pytest.raises(BoardTrouble, match="not open"):
        board.read()


@needs_pty
def test_every_reading_survives_the_serial_port() -> None:
    recording = small(20_000)
    with PtyServer(StreamedBoard("pty", recording, speed=None)) as server:
        board = SerialBoard(server.port)
        board.open()
        board.write(command("?"))
        rows = read_rows(board, recording.rows)
        board.close()
    np.testing.assert_array_equal(rows, np.stack([c.readings for c in recording.channels], 1))


@needs_pty
def test_a_pulled_cable_is_unplugged_and_the_same_name_opens_again() -> None:
    with PtyServer(StreamedBoard("pty", small(), speed=1.0)) as server:
        board = SerialBoard(server.port)
        board.open()
        board.write(command("?"))
        read_rows(board, 50)
        server.unplug()
        with pytest.raises(Unplugged, match=r"gone .*plug it in again"):
            read_rows(board, 10_000)
        with pytest.raises(BoardTrouble, match="no board at"):
            board.open()
        server.plug()
        board.open()
        board.write(command("?"))
        assert len(read_rows(board, 50)) >= 50
        board.close()


def test_a_question_is_answered_before_all_that_is_due() -> None:
    """However far a busy machine falls behind: the reader asks who it is, and must hear it."""
    board = StreamedBoard("late", small(20_000), speed=1e6)
    board.open()
    time.sleep(0.05)  # all of it is due now
    board.read()
    board.write(command("?"))
    said = encode_hello(board.hello)
    assert board.read().startswith(said)
    assert not board.ended
    rest = b""
    while not board.ended:
        rest += board.read()
    assert len(rest) > len(said)
    board.close()


@needs_pty
def test_a_port_is_opened_by_one_program_only() -> None:
    with PtyServer(StreamedBoard("pty", small())) as server:
        first, second = SerialBoard(server.port), SerialBoard(server.port)
        first.open()
        with pytest.raises(BoardTrouble, match="in use by another program"):
            second.open()
        first.close()
        second.open()
        second.close()


def test_a_port_that_is_none_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(BoardTrouble, match="no board at"):
        SerialBoard(str(tmp_path / "ttyNONE")).open()
    file = tmp_path / "file"
    file.write_text("x")
    with pytest.raises(BoardTrouble) as caught:
        SerialBoard(str(file)).open()
    assert "\n" not in str(caught.value)
    with pytest.raises(BoardTrouble, match="1 baud"):
        SerialBoard("COM1", 1)


def test_the_listed_boards_begin_with_the_simulated_one() -> None:
    boards = list_boards()
    assert boards[0].port == SIMULATED
    assert all(b.port for b in boards)
    assert isinstance(open_named(SIMULATED), SimulatedPedalBoard)
    assert isinstance(open_named("COM7"), SerialBoard)
    with pytest.raises(BadCall, match="healthy"):
        SimulatedPedalBoard("no such pedal")
    with pytest.raises(BadCall, match="9 bits"):
        SimulatedPedalBoard(bits=9)


def test_a_replay_loses_what_the_recording_lost(tmp_path: Path) -> None:
    recording = small(100, marks=(Mark(40, "gap 7"), Mark(60, "press")))
    recording.channels[0].readings[80] = np.nan
    board = StreamedBoard("r", recording, speed=None)
    board.open()
    decoder = Decoder()
    lost = []
    while not board.ended:
        batch = decoder.feed(board.read())
        lost += batch.lost_before.tolist()
    assert len(lost) == 99
    assert {k: n for k, n in enumerate(lost) if n} == {40: 7, 80: 1}


def test_what_no_board_could_send_is_not_replayed(tmp_path: Path) -> None:
    volts = Recording(np.arange(3.0), (Channel("a", "track", np.ones(3), "V"),))
    write_recording(tmp_path / "v.csv", volts)
    with pytest.raises(BoardTrouble, match="not in whole counts"):
        ReplayBoard(tmp_path / "v.csv").open()
    (tmp_path / "bad.csv").write_text("rubbish")
    with pytest.raises(BadFile, match="not a recording"):
        open_named(f"replay:{tmp_path / 'bad.csv'}").open()


def test_the_simulated_board_keeps_real_time() -> None:
    board = SimulatedPedalBoard("healthy", rate_hz=500.0, motion=SHORT, speed=4.0)
    board.open()
    started = time.monotonic()
    read_rows(board, 800)
    took = time.monotonic() - started
    # 800 rows at 500/s are 1.6 s of the pedal: 0.4 s at four times real time.
    assert 0.35 < took < 1.5
    board.close()


def test_the_simulated_car_turns_its_key() -> None:
    board = SimulatedCarBoard(cycles=1, rate_hz=200.0, speed=None)
    board.open()
    rows = read_rows(board, 10_000)
    roles = [c.role for c in board.known]
    assert roles == ["track", "track", "supply", "key"]
    assert np.ptp(rows[:, 3]) > 1000
    board.close()


HELLO = Hello("b", ("a", "b", "supply"), 1024, 5.0, 200.0)


def test_channels_follow_the_users_word_before_the_boards() -> None:
    plain = channels_of(HELLO, None, ChannelOptions())
    assert [c.role for c in plain] == ["track", "track", "supply"]
    assert plain[2].nominal_volts == 5.0
    told = channels_of(HELLO, None, ChannelOptions(
        columns=("x", "y", "z"), roles={"z": "track", "x": "supply"}, full_scale=4096,
        scale={"x": 2.0}, supply_volts=4.8))
    assert [c.role for c in told] == ["supply", "other", "track"]
    assert (told[0].scale, told[0].nominal_volts, told[0].full_scale) == (2.0, 4.8, 4096)
    known = SimulatedPedalBoard("healthy", motion=SHORT).known
    assert [c.scale for c in channels_of(HELLO, known, ChannelOptions())] == [1.0, 1.0, 2.0]


@pytest.mark.parametrize(("options", "reason"), [
    (ChannelOptions(columns=("a", "b")), "--columns names 2 columns, the board sends 3"),
    (ChannelOptions(roles={"q": "track"}), "--role names column 'q'"),
    (ChannelOptions(scale={"q": 2.0}), "--scale names column 'q'"),
    (ChannelOptions(scale={"a": 0.0}), "scale 0.0"),
])
def test_options_that_do_not_fit_the_board_are_refused(
    options: ChannelOptions, reason: str
) -> None:
    with pytest.raises(BadCall, match=reason):
        channels_of(HELLO, None, options)


def test_a_board_that_hides_its_scale_is_not_recorded() -> None:
    silent = Hello("", ("a", "b"), None, None, None)
    with pytest.raises(BoardTrouble, match="--full-scale"):
        channels_of(silent, None, ChannelOptions())
    with pytest.raises(BadCall, match="role 'gas'"):
        ChannelOptions(roles={"a": "gas"})


@needs_pty
def test_a_closed_server_leaves_no_file_behind() -> None:
    server = PtyServer(StreamedBoard("pty", small()))
    port = server.port
    assert os.path.lexists(port)
    server.close()
    assert not os.path.lexists(port)
