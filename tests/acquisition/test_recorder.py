"""The recorder keeps what came: through pulled cables, silence, rubbish and full disks."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from scripted_board import HELLO, Ears, Scripted, counting, run
from text_lines import encode_text

from bench.acquisition.boards.board import Unplugged
from bench.acquisition.boards.channels import ChannelOptions
from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.serial_board import SerialBoard
from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.listener import Listener, Rows, Source
from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_time import RecordedTime
from bench.acquisition.wire import Batch, Hello, encode_frames, encode_hello
from bench.errors import BadCall, BadFile, BoardTrouble
from bench.files.recording_file import read_recording
from bench.services.record import FileListener, Order, Recorded, record

needs_pty = pytest.mark.skipif(not can_serve(), reason="this system has no pseudo terminals")
def frames(start: int, rows: int, restart_at: int | None = None) -> bytes:
    index = np.arange(start, start + rows)
    ticks = (index if restart_at is None else index - restart_at) * 1000
    return encode_frames(start, ticks, np.stack([index % 4096, 2 * index % 4096], 1))


def test_rows_are_heard_as_they_were_sent() -> None:
    ears = Ears()
    board = Scripted(encode_hello(HELLO), frames(0, 100), frames(100, 50))
    run(board, ears)
    assert ears.source == Source(ears.source.channels, 1000.0, "test board")
    np.testing.assert_array_equal(ears.readings[:, 0], np.arange(150))
    np.testing.assert_array_equal(ears.time_s, np.arange(150) / 1000)
    assert ears.heard == [("ended", None)]
    assert board.written.startswith(b"?\nstart\n")


def test_rows_before_the_hello_are_not_lost() -> None:
    ears = Ears()
    run(Scripted(frames(0, 100), encode_hello(HELLO), frames(100, 50)), ears)
    np.testing.assert_array_equal(ears.readings[:, 0], np.arange(150))


def test_a_damaged_frame_costs_itself_and_is_counted() -> None:
    data = bytearray(frames(0, 100))
    data[16 * 40 + 12] ^= 0x10
    ears = Ears()
    run(Scripted(encode_hello(HELLO), bytes(data), frames(100, 5)), ears)
    assert 40 not in ears.readings[:, 0]
    assert len(ears.readings) == 104
    assert int(ears.lost.sum()) == 1
    assert any(kind == "note" for kind, _ in ears.heard)


def test_a_bad_cable_does_not_drown_the_screen_in_notes() -> None:
    pieces = []
    for k in range(100):
        data = bytearray(frames(20 * k, 20))
        data[16 * 7 + 12] ^= 0x10
        pieces.append(bytes(data))
    ears = Ears()
    recorder = run(Scripted(encode_hello(HELLO), *pieces, frames(2000, 5)), ears)
    assert len([1 for kind, _ in ears.heard if kind == "note"]) <= 2
    assert recorder.problems == 100
    assert int(ears.lost.sum()) == 100


def test_what_was_lost_before_the_first_row_is_no_loss() -> None:
    placed = RecordedTime()
    first = batch([1.0, 1.01])
    first.lost_before[:] = (399, 2)
    assert placed.place(first, 100.0)[1].tolist() == [0, 2]


def test_a_listener_that_fails_is_dropped_and_the_rest_go_on(tmp_path: Path) -> None:
    class Broken(Listener):
        def rows(self, rows: Rows) -> None:
            raise ValueError("no screen")

    ears, file = Ears(), FileListener(tmp_path / "r.csv", "sweep")
    run(Scripted(encode_hello(HELLO), frames(0, 100), frames(100, 50)), Broken(), ears, file)
    assert len(ears.readings) == 150
    assert [text for kind, text in ears.heard if kind == "note"] == [
        "a display stopped (ValueError: no screen); the recording goes on"]
    assert read_recording(tmp_path / "r.csv").rows == 150


def test_marks_stand_beside_the_next_row(tmp_path: Path) -> None:
    class Marker(Listener):
        recorder: Recorder

        def rows(self, rows: Rows) -> None:
            if rows.time_s[0] == 0:
                self.recorder.mark("here")

    marker, file = Marker(), FileListener(tmp_path / "r.csv", "sweep", "a title")
    recorder = Recorder(Scripted(encode_hello(HELLO), frames(0, 10), frames(10, 10)),
                        (file, marker))
    marker.recorder = recorder
    recorder.start()
    recorder.join()
    recording = read_recording(tmp_path / "r.csv")
    assert [(m.row, m.text) for m in recording.marks] == [(10, "here")]
    assert (recording.title, recording.board_name) == ("a title", "test board")
    assert recording.started


@needs_pty
def test_a_pulled_cable_costs_what_passed_meanwhile_and_no_more(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    ears, file = Ears(), FileListener(path, "sweep")
    with PtyServer(StreamedBoard("pty", counting(20_000), speed=1.0)) as server:
        recorder = Recorder(SerialBoard(server.port), (file, ears))
        recorder.start()
        while not ears.batches or ears.batches[-1].time_s[-1] < 1.0:
            time.sleep(0.01)
        pulled = time.monotonic()
        server.unplug()
        time.sleep(1.0)
        # What was recorded is in the file while the cable is out.
        during = read_recording(path)
        assert during.rows > 900
        server.plug()
        while ears.batches[-1].time_s[-1] < 3.2:
            assert time.monotonic() < pulled + 10
            time.sleep(0.01)
        away = time.monotonic() - pulled
        recorder.stop()
        recorder.join()
    kinds = [kind for kind, _ in ears.heard]
    assert kinds.index("lost") < kinds.index("back")
    recording = read_recording(path)
    assert recording.complete
    assert len([m for m in recording.marks if m.text.startswith("gap ")]) == 1
    assert 900 < recording.lost_samples < 1000 * away
    steps = np.diff(recording.time_s)
    # The gap in time is the gap in samples, at 1000 rows per second.
    assert steps.max() * 1000 == pytest.approx(recording.lost_samples + 1, abs=2)
    assert recording.rows + recording.lost_samples == pytest.approx(
        recording.time_s[-1] * 1000, abs=5)


@needs_pty
def test_a_cable_that_stays_out_ends_the_recording_and_keeps_it(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    with PtyServer(StreamedBoard("pty", counting(20_000), speed=1.0)) as server:
        threading.Timer(0.6, server.unplug).start()
        with pytest.raises(BoardTrouble, match=r"did not come back within 0\.5 s.*r\.csv"):
            record(SerialBoard(server.port), Order(path=path, retry_s=0.5))
    recording = read_recording(path)
    assert recording.complete
    assert recording.rows > 100


def test_unplugging_before_anything_came_is_an_error() -> None:
    with pytest.raises(Unplugged):
        run(Scripted(Unplugged("pulled; plug it in")), Ears())


def test_a_silent_board_is_told_within_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bench.acquisition.recorder.SILENT_S", 0.3)
    with pytest.raises(BoardTrouble, match=r"not a byte .*powered"):
        run(Scripted(*[0.05] * 40), Ears())


def test_bytes_at_the_wrong_speed_are_told_within_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bench.acquisition.recorder.UNCLEAR_S", 0.3)
    noise = np.random.default_rng(1).integers(0, 256, 4000, np.uint8).tobytes()
    pieces = [x for k in range(0, 4000, 100) for x in (noise[k: k + 100], 0.02)]
    with pytest.raises(BoardTrouble, match=r"no valid line or frame: wrong --baud"):
        run(Scripted(*pieces), Ears())


def test_a_board_that_falls_silent_is_told_and_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bench.acquisition.recorder.SILENT_S", 0.2)
    ears = Ears()
    run(Scripted(encode_hello(HELLO), frames(0, 10), *[0.05] * 10, frames(10, 10)), ears)
    assert any("nothing readable" in str(text) for _, text in ears.heard)
    assert len(ears.readings) == 20


def test_a_text_board_that_says_what_it_is_late_loses_its_clock_line_only() -> None:
    rows = np.stack([np.arange(60), np.arange(60)], 1)
    late = encode_text(None, np.arange(60) * 5000, rows)
    told = encode_text(Hello("sketch", ("a", "b"), 1024, 5.0, 200.0),
                       np.arange(60, 120) * 5000, rows)
    ears = Ears()
    run(Scripted(late, told), ears)
    assert ears.source is not None
    assert ears.source.columns == ("a", "b")
    assert ears.source.channels[0].full_scale == 1024
    np.testing.assert_array_equal(ears.readings[-60:], rows)


def test_a_text_board_without_a_hello_is_recorded_with_the_users_word(
        monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bench.acquisition.recorder.HELLO_S", 0.1)
    rows = np.stack([np.arange(200) % 37 + 300, np.arange(200) % 41 + 100], 1)
    lines = encode_text(None, None, rows).splitlines(True)
    pieces = [x for k in range(0, 200, 20) for x in (b"".join(lines[k: k + 20]), 0.03)]
    ears = Ears()
    run(Scripted(*pieces), ears, options=ChannelOptions(
        columns=("left", "right"), full_scale=1024, reference_volts=5.0))
    assert ears.source.columns == ("left", "right")
    # Without a clock and a rate the host stamps the rows: 10 pieces 30 ms apart.
    assert 0.2 < ears.time_s[-1] < 1.0
    assert np.all(np.diff(ears.time_s) >= 0)


def test_a_text_board_of_unknown_scale_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bench.acquisition.recorder.UNCLEAR_S", 0.2)
    line = b"512,300\r\n" * 10
    with pytest.raises(BoardTrouble, match="--full-scale"):
        run(Scripted(*[x for _ in range(20) for x in (line, 0.03)]), Ears())


def test_frames_without_any_hello_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bench.acquisition.recorder.UNCLEAR_S", 0.2)
    with pytest.raises(BoardTrouble, match="never says what it is"):
        run(Scripted(*[x for k in range(20) for x in (frames(10 * k, 10), 0.03)]), Ears())


def test_a_board_that_changes_its_scale_ends_the_recording_and_keeps_it(tmp_path: Path) -> None:
    other = Hello("test board", ("a", "b"), 1024, 5.0, 1000.0, roles=("track", "track"))
    path = tmp_path / "r.csv"
    with pytest.raises(BoardTrouble, match="changed its channels or its scale"):
        record(Scripted(encode_hello(HELLO), frames(0, 100), encode_hello(other),
                        frames(100, 100)), Order(path=path))
    assert read_recording(path).rows == 100
    assert read_recording(path).complete


def test_a_full_disk_ends_the_recording_with_the_reason(tmp_path: Path) -> None:
    program = (
        "import resource, sys\n"
        "sys.dont_write_bytecode = True\n"  # else what is kept of our modules is cut off as well
        "resource.setrlimit(resource.RLIMIT_FSIZE, (30000, 30000))\n"
        "from bench.command_line import main\n"
        "sys.exit(main(sys.argv[1:]))\n")
    path = tmp_path / "r.csv"
    # -B: under the limit a module's compiled file would be cut short as well, and stay so.
    done = subprocess.run(
        [sys.executable, "-B", "-c", program, "sweep", "--board", "simulated", "--fast", "--out",
         str(path)], capture_output=True, text=True, timeout=60)
    assert done.returncode == 2
    assert "the disk is full" in done.stderr.splitlines()[-1]
    assert done.stderr.splitlines()[-1].startswith("stillpedal: ")
    recording = read_recording(path)
    assert not recording.complete
    assert f"after {recording.rows} rows" in done.stderr
    assert recording.rows > 500


def test_an_existing_file_is_refused_before_the_board_is_opened(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text("mine")
    board = Scripted()
    with pytest.raises(BadFile, match="exists and is not written over"):
        record(board, Order(path=path))
    with pytest.raises(BadFile, match="no folder"):
        record(board, Order(path=tmp_path / "none" / "r.csv"))
    assert board.opened == 0
    assert path.read_text() == "mine"
    assert not Order(path=None).place().exists()


def test_an_order_of_nonsense_is_refused() -> None:
    with pytest.raises(BadCall, match="rate"):
        Order(rate_hz=0).commands()


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_ctrl_c_closes_the_file_properly(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    process = subprocess.Popen(
        [sys.executable, "-m", "bench", "sweep", "--board", "simulated", "--out", str(path)],
        stderr=subprocess.PIPE, text=True)
    end = time.monotonic() + 20
    while not (path.exists() and path.stat().st_size > 3000) and time.monotonic() < end:
        time.sleep(0.05)
    os.kill(process.pid, signal.SIGINT)
    _, err = process.communicate(timeout=20)
    assert process.returncode == 130
    assert "Traceback" not in err
    recording = read_recording(path)
    assert recording.complete
    assert recording.rows > 50


def test_what_is_recorded_is_returned(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    done = record(StreamedBoard("x", counting(500), speed=None), Order(path=path))
    assert done == Recorded(path, 500, 0.499, 0, False)


def batch(times: list[float], restarts: tuple[int, ...] = ()) -> Batch:
    n = len(times)
    return Batch(np.array(times), np.zeros((n, 1), np.int64), np.zeros(n, np.int64), None, (),
                 restarts)


def test_over_a_restart_the_hosts_clock_tells_how_long_it_was() -> None:
    placed = RecordedTime()
    placed.rate_hz = 100.0
    first, _ = placed.place(batch([5.00, 5.01, 5.02]), 100.0)
    assert first.tolist() == [0.0, 0.01, 0.02]
    again, lost = placed.place(batch([5.03, 5.04], (0,)), 160.0)
    # 60 s passed; 59.99 s of them between the last row and the first new one.
    np.testing.assert_allclose(again, [60.01, 60.02], atol=1e-9)
    assert lost.tolist() == [5998, 0]
    later, lost = placed.place(batch([5.05]), 160.01)
    np.testing.assert_allclose(later, [60.03], atol=1e-9)
    assert lost.tolist() == [0]


def test_rows_without_a_clock_carry_the_time_they_came_and_show_a_sleep_as_a_gap() -> None:
    placed = RecordedTime()
    nan = float("nan")
    placed.place(batch([nan]), 100.0)
    for k in range(1, 11):
        last, lost = placed.place(batch([nan] * 10), 100.0 + k / 10)
        assert lost.sum() == 0
    np.testing.assert_allclose(last, np.linspace(0.91, 1.0, 10), atol=1e-9)
    last, lost = placed.place(batch([nan] * 10), 3701.0)
    assert last[-1] == pytest.approx(3601.0)
    assert last[0] == pytest.approx(3600.91)
    assert lost[0] == pytest.approx(360_000, rel=0.01)


def test_rows_that_only_count_are_put_right_after_the_computer_slept() -> None:
    placed = RecordedTime()
    placed.rate_hz = 100.0
    placed.place(batch([0.0, 0.01]), 100.0, False)
    placed.place(batch([0.02, 0.03]), 100.02, False)
    asleep, lost = placed.place(batch([0.04, 0.05]), 160.02, False)
    np.testing.assert_allclose(asleep, [60.02, 60.03], atol=1e-9)
    assert lost.tolist() == [5998, 0]
    # A board with a clock of its own counts its losses itself; late bytes are no loss.
    clocked = RecordedTime()
    clocked.rate_hz = 100.0
    clocked.place(batch([0.0, 0.01]), 100.0)
    late, lost = clocked.place(batch([0.02, 0.03]), 160.0)
    assert late.tolist() == [0.02, 0.03]
    assert lost.sum() == 0
