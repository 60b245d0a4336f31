"""The in-car log waits in little room, marks every turn of the key, and loses nothing it has."""

import json
import os
import signal
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from in_process import stillpedal
from scripted_board import DeafBoard

from analysis.key_on import analyse_key_on
from analysis.model.recording import Channel, Recording
from analysis.simulation.car import Car, drive
from bench.acquisition.boards.board import Board
from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.simulated import SimulatedCarBoard
from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.key_on_logger import Capture, LoggerOptions, Switch
from bench.acquisition.listener import Rows, Source
from bench.acquisition.wire import Hello, encode_frames, encode_hello
from bench.command_line import main
from bench.errors import BadCall, BoardTrouble
from bench.files.recording_file import read_recording, write_recording
from bench.services.key_on import entered_settings, new_capture, open_key_on, watch
from bench.services.record import Order

needs_pty = pytest.mark.skipif(not can_serve(), reason="this system has no pseudo terminals")


def call(*words: str) -> subprocess.CompletedProcess[str]:
    return stillpedal("watch", "--more", *words)


def log(board: Board, tmp_path: Path, **options: object) -> tuple[Recording, Capture]:
    order = Order(path=tmp_path / "log.csv")
    capture = new_capture(order, LoggerOptions(**options))  # type: ignore[arg-type]
    watch(board, order, capture)
    return read_recording(order.path), capture


def car(**more: object) -> Recording:
    values = {"cycles": 2, "off_s": 20.0, "on_s": 6.0, "rate_hz": 500.0} | more
    return drive(Car(**values))[0]  # type: ignore[arg-type]


def test_the_log_begins_before_the_key_and_marks_every_turn_at_its_row(tmp_path: Path) -> None:
    true = car()
    recording, capture = log(StreamedBoard("car", true, None), tmp_path, before_s=5.0)
    assert capture.key_ons == 2
    assert recording.purpose == "key-on"
    assert recording.time_s[0] == 0.0
    ons = [m.row for m in recording.marks if m.text == "key on"]
    # Truth: the key goes on after 20 s; the log holds the last 5 of them (and one piece).
    assert recording.time_s[ons[0]] == pytest.approx(5.0, abs=0.05)
    skipped = true.rows - recording.rows
    assert skipped / 500.0 == pytest.approx(15.0, abs=0.05)
    key = true.channel("key").volts()
    true_ons = np.flatnonzero((key[1:] > 2.0) & (key[:-1] <= 2.0)) + 1
    assert {row + skipped for row in ons} <= set(true_ons.tolist())
    for channel in true.channels:
        np.testing.assert_array_equal(
            recording.channel(channel.column).readings, channel.readings[skipped:])
    offs = [m.row for m in recording.marks if m.text == "key off"]
    assert len(ons) == 2
    assert len(offs) == 1  # the log ends with the key on
    found = analyse_key_on(recording)
    assert len(found.cycles) == 2


def test_the_supply_that_appears_starts_a_log_without_a_key_line(tmp_path: Path) -> None:
    true = car(with_key=False)
    dead = true.channel("supply").readings.copy()
    dead[:5000] = 3.0
    channels = tuple(c if c.role != "supply" else
                     Channel("supply", "supply", dead, "counts", c.full_scale, c.reference_volts,
                             c.scale, 0.0, 5.0) for c in true.channels)
    recording, capture = log(StreamedBoard("car", Recording(
        true.time_s, channels, rate_hz=500.0), None), tmp_path, before_s=2.0)
    assert capture.key_ons == 1
    on = next(m.row for m in recording.marks if m.text == "key on")
    assert recording.time_s[on] == pytest.approx(2.0, abs=0.05)
    assert recording.channel("supply").readings[on - 1] == 3.0
    assert recording.channel("supply").readings[on] > 1000


def test_a_key_that_is_on_already_is_told_and_logged_at_once(tmp_path: Path) -> None:
    said: list[str] = []
    true = car(off_s=0.5, on_s=10.0)
    late = Recording(true.time_s[1000:], tuple(
        Channel(c.column, c.role, c.readings[1000:], "counts", c.full_scale, c.reference_volts,
                c.scale, 0.0, c.nominal_volts) for c in true.channels), rate_hz=500.0)
    order = Order(path=tmp_path / "log.csv")
    watch(StreamedBoard("car", late, None), order,
          new_capture(order, LoggerOptions(), said.append))
    assert any("on already" in text and "wait ten seconds" in text for text in said)
    assert read_recording(order.path).rows == late.rows


def test_without_key_and_supply_it_logs_at_once(tmp_path: Path) -> None:
    true = car(with_key=False, with_supply=False)
    recording, _ = log(StreamedBoard("car", true, None), tmp_path)
    assert recording.rows == true.rows


def test_a_log_that_never_began_says_what_it_waited_for(tmp_path: Path) -> None:
    with pytest.raises(BoardTrouble, match="waited for Enter"):
        log(StreamedBoard("car", car(), None), tmp_path, start_on="enter")
    assert not list(tmp_path.iterdir())
    with pytest.raises(BadCall, match="no channel has that role"):
        log(StreamedBoard("car", car(with_key=False), None), tmp_path, start_on="key")


def source() -> Source:
    return Source((Channel("a", "track", np.empty(0), full_scale=1024.0, reference_volts=5.0),),
                  100.0, "b")


def rows(start: int, count: int) -> Rows:
    index = np.arange(start, start + count)
    return Rows(index / 100.0, index[:, None] % 1024, np.zeros(count, np.int64))


def test_enter_starts_the_log_marks_the_key_and_takes_notes(tmp_path: Path) -> None:
    capture = Capture(tmp_path / "log.csv", "", LoggerOptions("enter", 1.0))
    capture.started(source())
    for k in range(100):
        capture.rows(rows(10 * k, 10))
    capture.enter()
    capture.rows(rows(1000, 10))
    for k, text in enumerate(("", "fan on", "")):
        capture.enter(text)
        capture.rows(rows(1010 + 10 * k, 10))
    capture.ended(None)
    recording = read_recording(tmp_path / "log.csv")
    assert [m.text for m in recording.marks] == ["key on", "fan on", "key off"]
    assert 1.0 <= recording.time_s[recording.marks[0].row] <= 1.25


def test_waiting_keeps_only_the_last_seconds(tmp_path: Path) -> None:
    capture = Capture(tmp_path / "log.csv", "", LoggerOptions("enter", 2.0))
    capture.started(source())
    for k in range(5000):
        capture.rows(rows(10 * k, 10))
    capture.enter()
    capture.rows(rows(50_000, 10))
    capture.ended(None)
    # 2 s of 100 readings a second in whole pieces, of the 500 s that came, and the piece after.
    assert 200 <= read_recording(tmp_path / "log.csv").rows - 10 <= 220


def test_contact_bounce_is_one_turn_of_the_key() -> None:
    channel = Channel("key", "key", np.empty(0), full_scale=1024.0, reference_volts=5.0)
    switch = Switch(channel, 0, 1.0, 2.0)
    levels = np.zeros(1000, np.int64)
    levels[300:305] = 800  # first touch
    levels[307:700] = 800  # 2 ms of bounce, then on
    levels[702:704] = 800  # bounce when it opens
    levels[500:600] = 300  # 1.46 V: between the levels, no turn
    edges = []
    for k in range(0, 1000, 10):
        edges += [(k + row, on) for row, on in switch.edges(
            np.arange(k, k + 10) / 1000.0, levels[k: k + 10, None])]
    assert edges == [(300, True), (700, False)]


@pytest.mark.parametrize(("options", "reason"), [
    ({"start_on": "horn"}, "--start-on"), ({"before_s": 601}, "--before-s is 601"),
    ({"cycles": 0}, "--cycles is 0"), ({"seconds": 0.0}, "--minutes is 0"),
    ({"key_volts": float("nan")}, "--key-volts is nan"),
])
def test_options_that_make_no_sense_are_refused(options: dict, reason: str) -> None:
    with pytest.raises(BadCall, match=reason):
        LoggerOptions(**options)


def test_a_log_ends_after_so_many_cycles_or_minutes(tmp_path: Path) -> None:
    recording, capture = log(StreamedBoard("car", car(cycles=3), None), tmp_path, cycles=1)
    assert capture.key_offs == 1
    (tmp_path / "log.csv").unlink()
    recording, _ = log(StreamedBoard("car", car(), None), tmp_path, start_on="now", seconds=3.0)
    assert recording.time_s[-1] == pytest.approx(3.0, abs=0.1)


def test_entered_settings_are_read_or_refused() -> None:
    found = entered_settings(["a.start_of_travel=0.82", "b.rest = 0.7"])
    assert [(s.channel, s.name, s.value) for s in found] == [
        ("a", "start_of_travel", 0.82), ("b", "rest", 0.7)]
    for text in ("a=1", "a.start_of_travel", "a.power=1", "a.rest=x", "a.rest=nan", ".=1"):
        with pytest.raises(BadCall, match=r"TRACK\.NAME=VOLTS"):
            entered_settings([text])


def test_watch_logs_analyses_and_says_what_to_do(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    done = call("--board", "simulated", "--fast", "--out", str(path), "--set",
                "a.start_of_travel=0.706", "--strict", "--json")
    # The simulated car lifts the rest of 0.700 V by 12 mV: past a start of travel of 0.706 V.
    assert done.returncode == 1, done.stderr
    said = json.loads(done.stdout)
    assert said["verdict"]["applied"] is True
    assert len(said["cycles"]) == 3
    both = ("--set", "a.start_of_travel=0.9", "--set", "b.start_of_travel=1.1")
    again = call("--from", str(path), *both, "--strict")
    assert again.returncode == 0, again.stderr
    assert "Each key-on" in again.stdout
    assert again.stderr == ""
    lift = open_key_on(path).tracks["a"].shift.value
    assert lift == pytest.approx(0.012, abs=0.002)


@pytest.mark.parametrize(("words", "reason"), [
    ([], "name the board with --board"),
    (["--from", "none.csv"], "No such file"),
    (["--cycles", "0"], "--cycles is 0"),
    (["--start-on", "horn"], "invalid choice"),
    (["--set", "a=1"], "TRACK.NAME=VOLTS"),
    (["--before-s", "-1"], "--before-s is -1"),
    (["--board", "/dev/ttyNONE"], "no board at /dev/ttyNONE"),
    (["--start-on", "enter", "--fast", "--minutes", "0.02"], "waited for Enter"),
])
def test_a_call_that_cannot_be_is_one_line_and_status_2(
        words: list[str], reason: str, tmp_path: Path, capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", None)
    try:
        board = [] if {"--board", "--from"} & set(words) or not words else ["--board", "simulated"]
        status = main(["watch", "--more", *board, *words])
    except SystemExit as stop:
        status = int(stop.code or 0)
    assert status == 2
    assert reason in capsys.readouterr().err.splitlines()[-1]
    assert not list(tmp_path.iterdir())


def test_a_log_without_a_key_on_is_kept_and_told(tmp_path: Path) -> None:
    quiet = car(cycles=1, off_s=8.0, on_s=0.002, with_key=False)
    write_recording(tmp_path / "quiet.csv", quiet)
    done = call("--board", f"replay:{tmp_path / 'quiet.csv'}", "--fast", "--start-on", "now",
                "--out", str(tmp_path / "log.csv"))
    assert done.returncode == 2
    assert "no key-on found" in done.stderr.splitlines()[-1]
    assert f"log saved: {tmp_path / 'log.csv'}" in done.stderr.splitlines()[-1]
    assert read_recording(tmp_path / "log.csv").complete


def start_watch(port: str, path: Path) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-m", "bench", "watch", "--board", port, "--out", str(path),
         "--start-on", "now", "--role", "key=key"], stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    end = time.monotonic() + 30
    while not (path.exists() and path.stat().st_size > 20_000):
        assert time.monotonic() < end
        assert process.poll() is None, process.communicate()
        time.sleep(0.05)
    return process


@needs_pty
@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_a_log_survives_kill_9(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    with PtyServer(SimulatedCarBoard(rate_hz=1000.0)) as server:
        process = start_watch(server.port, path)
        before = path.stat().st_size
        process.kill()
        process.communicate(timeout=20)
    recording = read_recording(path)
    assert not recording.complete
    assert path.stat().st_size >= before
    assert recording.rows > 300
    assert recording.lost_samples == 0


class HushableBoard(SimulatedCarBoard):
    """A board whose bytes are lost on their way while it is silent."""

    silent = False

    def read(self) -> bytes:
        data = super().read()
        return b"" if self.silent else data


@needs_pty
@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_sleep_is_a_marked_gap_and_a_hangup_closes_the_log(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    board = HushableBoard(rate_hz=500.0)
    with PtyServer(board) as server:
        process = start_watch(server.port, path)
        # A computer that sleeps stands still while the board goes on and its bytes are lost.
        os.kill(process.pid, signal.SIGSTOP)
        board.silent = True
        time.sleep(2.0)
        board.silent = False
        os.kill(process.pid, signal.SIGCONT)
        size = path.stat().st_size
        while path.stat().st_size < size + 20_000:
            time.sleep(0.05)
        os.kill(process.pid, signal.SIGHUP)
        _, err = process.communicate(timeout=20)
    assert "Traceback" not in err
    recording = read_recording(path)
    assert recording.complete
    gaps = [m for m in recording.marks if m.text.startswith("gap ")]
    assert len(gaps) == 1
    assert recording.lost_samples == pytest.approx(1000, abs=150)
    # By the board's clock: time over the gap is the samples lost, at 500 per second.
    row = gaps[0].row
    assert recording.time_s[row] - recording.time_s[row - 1] == pytest.approx(
        (recording.lost_samples + 1) / 500.0, abs=1e-3)


@needs_pty
def test_a_pulled_cable_in_the_car_is_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    with PtyServer(SimulatedCarBoard(rate_hz=500.0)) as server:
        process = start_watch(server.port, path)
        server.unplug()
        time.sleep(1.5)
        assert process.poll() is None
        server.plug()
        size = path.stat().st_size
        end = time.monotonic() + 15
        while path.stat().st_size < size + 20_000 and time.monotonic() < end:
            time.sleep(0.05)
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=20)
    assert "CABLE: " in err
    assert "is back" in err
    recording = read_recording(path)
    assert recording.complete
    assert 500 < recording.lost_samples < 3000


class EndlessBoard(DeafBoard):
    """Send six channels at 1 kHz for so many rows, made as they are read, keeping nothing."""

    def __init__(self, total: int) -> None:
        self.name, self.total, self.sent = "endless", total, 0

    def open(self) -> None:
        self.said = encode_hello(Hello("endless", tuple("abcdef"), 4096, 5.0, 1000.0,
                                       roles=("track", "track", "supply", "key", "brake", "other")))

    def read(self) -> bytes:
        said, self.said = self.said, b""
        index = np.arange(self.sent, self.sent + 200)
        self.sent += 200
        readings = (index[:, None] * np.arange(1, 7)) % 4096
        return said + encode_frames(int(index[0]), index * 1000, readings)

    @property
    def ended(self) -> bool:
        return self.sent >= self.total


def grown(total: int, path: Path, memory: Callable[[], float]) -> float:
    """Return by how many bytes `memory` grew over the last three quarters of so many rows."""
    seen: list[float] = []
    board = EndlessBoard(total)
    order = Order(path=path)
    capture = new_capture(order, LoggerOptions("now"))
    plain = capture.rows

    def rows_and_look(rows: Rows) -> None:
        plain(rows)
        if board.sent in (total // 4, total):
            seen.append(memory())

    capture.rows = rows_and_look  # type: ignore[method-assign]
    watch(board, order, capture)
    return seen[-1] - seen[0]


def test_a_minute_of_six_channels_needs_no_more_memory_than_a_quarter(tmp_path: Path) -> None:
    tracemalloc.start()
    try:
        growth = grown(60_000, tmp_path / "log.csv",
                       lambda: tracemalloc.get_traced_memory()[0])
    finally:
        tracemalloc.stop()
    # A fifth of a byte for each row.
    assert growth < 12_000
    assert read_recording(tmp_path / "log.csv").rows == 60_000


@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_four_hours_of_six_channels_need_no_more_memory_than_one(tmp_path: Path) -> None:
    def resident() -> float:
        return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")

    # A few MB either way is the allocator's, not the log's (600 MB).
    assert grown(14_400_000, tmp_path / "log.csv", resident) < 10e6
