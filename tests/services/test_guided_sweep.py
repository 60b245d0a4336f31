"""The guided sweep: prompts become marks, what cannot be used is said, the demo shows it all."""

import io
import json
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from in_process import stillpedal as call

from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep
from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.simulated import SimulatedPedalBoard
from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.guided_plan import Prompt, guided_plan, plan_of, refusals
from bench.acquisition.listener import Rows, Source
from bench.command_line import main
from bench.command_line.progress import Progress
from bench.errors import BadCall, BenchError
from bench.files.recording_file import read_recording, write_recording
from bench.wording.cautions import BENCH

needs_pty = pytest.mark.skipif(not can_serve(), reason="this system has no pseudo terminals")


def test_the_usual_plan_records_enough_returns_in_a_minute_and_a_half() -> None:
    plan = guided_plan()
    presses = [p for p in plan.prompts if p.kind == "press"]
    assert len(presses) == 12
    assert sum(p.quick for p in presses) == 4
    assert 75 <= plan.end_s <= 90
    starts = [p.start_s for p in plan.prompts]
    assert starts == sorted(starts)
    assert [p.kind for p in plan.prompts[:6]] == ["rest", "press", "hold", "release", "rest",
                                                  "press"]
    assert "slip your foot off" in plan.prompts[-2].words
    assert plan.due(-1.0, 0.0) == plan.prompts[:1]
    assert plan.next_after(0.0) == plan.prompts[1]


@pytest.mark.parametrize(("more", "reason"), [
    ({"cycles": 0}, "--presses is 0; use 1 to 100"), ({"quick": -1}, "--quick is -1"),
    ({"hold_s": 0.1}, "--hold-s is 0.1; use 0.5 to 60"), ({"rest_s": float("nan")}, "--rest-s"),
])
def test_a_plan_nobody_can_follow_is_refused(more: dict, reason: str) -> None:
    with pytest.raises(BadCall, match=reason):
        guided_plan(**more)


def test_a_sweep_of_the_simulated_board_is_what_its_pedal_did(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    done = call("sweep", "--board", "simulated", "--fast", "--pedal", "opposed", "--seed", "5",
                "--presses", "3", "--quick", "2", "--json", "--out", str(path))
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    recording = read_recording(path)
    assert said["rows"] == recording.rows
    assert said["complete"] is True
    assert said["refusals"] == []
    assert f"stillpedal findings {path}" in done.stderr
    motion = Motion(cycles=3, quick=2, press_s=2.2, hold_s=1.3, release_s=2.2, rest_s=2.0)
    true = simulate_sweep(pedal_named("opposed"), 500.0, 12, motion=motion, seed=5)
    for channel in true.recording.channels:
        np.testing.assert_array_equal(
            recording.channel(channel.column).readings, channel.readings)
    np.testing.assert_allclose(recording.time_s, true.recording.time_s, atol=1e-6)
    marks = [m.text for m in recording.marks]
    assert marks == [p.kind for p in true.truth.parts]
    # A prompt stands at most one piece (40 ms) and its rows behind where it was due.
    due = [m.row for m in true.recording.marks]
    assert all(0 <= m.row - d <= 25 for m, d in zip(recording.marks, due, strict=True))
    assert analyse(recording).pair.relation == "opposed slopes"


@needs_pty
def test_a_sweep_over_a_real_serial_port_is_the_same_sweep(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    board = SimulatedPedalBoard("half-slope", 500.0, 12, Motion(cycles=2, quick=1), 3, speed=20.0)
    with PtyServer(board) as server:
        # The person at this pedal stops after three presses: the cable goes with them.
        seconds = float(board.sweep.recording.time_s[-1]) / 20.0
        threading.Timer(seconds + 3.0, server.unplug).start()
        done = call("sweep", "--board", server.port, "--scale", "supply=2", "--wait-s", "0.5",
                    "--out", str(path))
    assert done.returncode == 2
    assert "did not come back" in done.stderr.splitlines()[-1]
    for caution in BENCH:
        assert caution in done.stderr
    assert "CABLE: " in done.stderr
    assert "Traceback" not in done.stderr
    recording = read_recording(path)
    true = board.sweep.recording
    assert recording.complete
    assert recording.lost_samples == 0
    assert [(c.column, c.role, c.scale) for c in recording.channels] == [
        (c.column, c.role, c.scale) for c in true.channels]
    for one, other in zip(recording.channels, true.channels, strict=True):
        np.testing.assert_array_equal(one.readings, other.readings)


def test_a_replay_is_recorded_row_by_row(tmp_path: Path) -> None:
    true = simulate_sweep(pedal_named("lost-samples"), 200.0, 10, cycles=5, quick=1, seed=2)
    write_recording(tmp_path / "first.csv", true.recording)
    done = call("sweep", "--board", f"replay:{tmp_path / 'first.csv'}", "--fast", "--out",
                str(tmp_path / "second.csv"))
    assert done.returncode == 0, done.stderr
    second = read_recording(tmp_path / "second.csv")
    for channel in true.recording.channels:
        np.testing.assert_array_equal(second.channel(channel.column).readings, channel.readings)
    assert second.lost_samples == true.recording.lost_samples > 0


def tracks(a: np.ndarray, b: np.ndarray, supply: np.ndarray | None = None) -> Recording:
    channels = [Channel(c, "track", np.clip(np.round(r), 0, 1023), full_scale=1024.0,
                        reference_volts=5.0) for c, r in (("a", a), ("b", b))]
    if supply is not None:
        channels.append(Channel("supply", "supply", supply, full_scale=1024.0,
                                reference_volts=5.0, nominal_volts=5.0))
    return Recording(np.arange(a.size) / 100.0, tuple(channels))


WAVE = 500 - 400 * np.cos(np.arange(4000) / 100.0)
STILL = np.full(4000, 200.0)


@pytest.mark.parametrize(("recording", "reason"), [
    (tracks(STILL, STILL), "no motion seen: a stays at 0.977 V, b stays at 0.977 V"),
    (tracks(WAVE, STILL), "only one track moves: b stays at 0.977 V"),
    (tracks(WAVE, STILL + 8 * np.sin(np.arange(4000))), "only one track moves: b"),
    (tracks(WAVE, 1.6 * WAVE), "track b is cut off at 1023 counts"),
    (tracks(WAVE, WAVE - 300), "track b is cut off at 0 counts"),
    (tracks(WAVE, WAVE, np.full(4000, 3.0)), "supply is missing: it reads 0.01 V where 5 V"),
    (tracks(WAVE[:5], WAVE[:5]), "only 5 rows"),
])
def test_what_cannot_be_used_is_refused_with_what_to_do(recording: Recording, reason: str) -> None:
    said = refusals(recording)
    assert len(said) == 1
    assert reason in said[0]
    assert "\n" not in said[0]


@pytest.mark.parametrize("name", [
    "healthy", "opposed", "half-slope", "off-at-rest", "dropouts", "worn-spot", "stuck-return",
    "sagging-supply", "slip", "play", "one-track",
])
def test_a_faulty_pedal_is_still_a_good_sweep(name: str) -> None:
    assert refusals(simulate_sweep(pedal_named(name), 200.0, 10, seed=1).recording) == ()


def test_a_clipped_sweep_is_told_and_kept(tmp_path: Path) -> None:
    path = tmp_path / "c.csv"
    done = call("sweep", "--board", "simulated", "--fast", "--pedal", "clipped", "--presses", "2",
                "--quick", "0", "--out", str(path))
    assert done.returncode == 2
    last = done.stderr.splitlines()[-1]
    assert last.startswith("stillpedal: track b is cut off")
    assert f"recording saved: {path}" in last
    assert read_recording(path).complete


@pytest.mark.parametrize(("words", "reason"), [
    ([], "name the board with --board"),
    (["--presses", "0"], "--presses is 0"),
    (["--pedal", "none"], "choose one of healthy"),
    (["--bits", "11"], "11 bits"),
    (["--rate", "0"], "rate"),
    (["--board", "/dev/ttyNONE"], "no board at /dev/ttyNONE"),
    (["--board", "/dev/ttyNONE", "--pedal", "healthy"], "--pedal goes with"),
    (["--board", "replay:none.csv"], "No such file"),
    (["--role", "a=gas"], "role 'gas'"),
    (["--role", "a"], "not COLUMN=VALUE"),
    (["--role", "q=track", "--fast"], "--role names column 'q'"),
    (["--scale", "a=x"], "'x' is not a number"),
    (["--columns", "a,,b"], "--columns 'a,,b'"),
    (["--full-scale", "-3"], "--full-scale is -3"),
    (["--wait-s", "nan"], "--wait-s is nan"),
    (["--baud", "7", "--board", "COM3"], "7 baud"),
    (["--bogus"], "unrecognized arguments"),
])
def test_a_call_that_cannot_be_is_one_line_and_status_2(
        words: list[str], reason: str, tmp_path: Path, capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    try:
        board = [] if "--board" in words or not words else ["--board", "simulated"]
        status = main(["sweep", *board, *words])
    except SystemExit as stop:
        status = int(stop.code or 0)
    out, err = capsys.readouterr()
    assert status == 2
    assert out == ""
    last = err.splitlines()[-1]
    assert reason in last
    assert not list(tmp_path.iterdir())


@needs_pty
def test_prompts_wait_while_the_cable_is_out(tmp_path: Path) -> None:
    # The second half of the plan is still prompted, however long the cable was out.
    from bench.acquisition.boards.serial_board import SerialBoard
    from bench.services.record import Guide, Order, record

    rows = 60_000
    recording = Recording(np.arange(rows) / 1000.0, tuple(
        Channel(c, "track", np.arange(rows) % 900.0, full_scale=1024.0, reference_volts=5.0)
        for c in "ab"), rate_hz=1000.0)
    plan = plan_of([(0.0, "rest"), (0.5, "press"), (1.0, "hold"), (1.5, "release")], 1, 2.0)
    shown: list[str] = []
    with PtyServer(StreamedBoard("pty", recording, speed=1.0)) as server:
        def pull() -> None:
            while "press" not in shown:
                time.sleep(0.01)
            server.unplug()
            time.sleep(3.0)
            server.plug()

        thread = threading.Thread(target=pull)
        thread.start()
        done = record(SerialBoard(server.port), Order(path=tmp_path / "p.csv"), (),
                      Guide(plan, lambda p: shown.append(p.kind)))
        thread.join()
    assert shown == ["rest", "press", "hold", "release"]
    assert done.seconds > 4.5
    marks = [m.text for m in read_recording(done.path).marks]
    assert [m for m in marks if not m.startswith("gap")] == shown
    assert sum(m.startswith("gap") for m in marks) == 1


@needs_pty
@pytest.mark.parametrize(("held_s", "least_s", "most_s"), [(0.0, 2.9, 3.7), (2.0, 4.6, 7.0)])
def test_a_sweep_that_would_end_pressed_waits_for_the_pedal(held_s, least_s, most_s, tmp_path):
    """Being late does no harm: the end is kept open until the pedal is back."""
    from bench.acquisition.boards.streamed import StreamedBoard as Board
    from bench.services.record import Guide, Order, record

    times = np.arange(12_000) / 1000.0
    pressed = ((times > 1.2) & (times < 2.1 + held_s)).astype(float)
    recording = Recording(times, tuple(Channel(
        c, "track", np.round(150 + 700 * pressed), full_scale=1024.0, reference_volts=5.0)
        for c in "ab"), rate_hz=1000.0)
    plan = plan_of([(0.0, "rest"), (1.0, "press"), (2.0, "release"), (2.5, "rest")], 1, 3.0)
    shown: list[str] = []
    with PtyServer(Board("pty", recording, speed=1.0)) as server:
        from bench.acquisition.boards.serial_board import SerialBoard

        done = record(SerialBoard(server.port), Order(path=tmp_path / "p.csv"), (),
                      Guide(plan, lambda p: shown.append(p.kind)))
    assert least_s < done.seconds < most_s
    assert shown[:4] == ["rest", "press", "release", "rest"]
    assert (len(shown) > 4) == (held_s > 0)


@needs_pty
def test_a_sweep_whose_prompts_cannot_be_shown_ends_and_is_kept(tmp_path: Path) -> None:
    # Whoever closed the terminal presses no more; without the guide nothing else would stop it.
    from bench.acquisition.boards.serial_board import SerialBoard
    from bench.services.record import Guide, Order, record

    recording = Recording(np.arange(20_000) / 1000.0, tuple(
        Channel(c, "track", np.arange(20_000) % 900.0, full_scale=1024.0, reference_volts=5.0)
        for c in "ab"), rate_hz=1000.0)
    plan = plan_of([(0.0, "rest"), (0.5, "press")], 1, 60.0)

    def show(prompt: Prompt) -> None:
        if prompt.kind == "press":
            raise BrokenPipeError(32, "Broken pipe")

    path = tmp_path / "kept.csv"
    with (PtyServer(StreamedBoard("pty", recording, speed=1.0)) as server,
          pytest.raises(BenchError, match="BrokenPipeError")):
        record(SerialBoard(server.port), Order(path=path), (), Guide(plan, show))
    kept = read_recording(path)
    assert kept.complete
    assert 400 <= kept.rows < 5000


def test_a_screen_of_80_columns_shows_prompt_time_and_both_tracks(
        monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    screen = io.StringIO()
    screen.isatty = lambda: True  # type: ignore[method-assign]
    plan = guided_plan()
    progress = Progress(plan, screen)
    source = Source(tuple(Channel(c, "track", np.empty(0), full_scale=1024.0, reference_volts=5.0)
                          for c in "ab"), 500.0, "board")
    progress.started(source)
    progress.show(plan.prompts[1])
    progress.rows(Rows(np.array([30.0]), np.array([[512, 256]]), np.zeros(1, np.int64)))
    line = screen.getvalue().split("\r")[-1]
    assert len(line) < 80
    for words in ("[####", "30 s", "PRESS SLOWLY, ALL THE WAY DOWN", "a 2.500", "b 1.250"):
        assert words in line
    progress.told("lost", "the cable is out")
    assert screen.getvalue().endswith("CABLE: the cable is out\n")


def test_the_demo_leads_from_a_faulty_pedal_to_its_settings(tmp_path: Path) -> None:
    path = tmp_path / "demo.csv"
    started = time.monotonic()
    done = call("demo", "--speed", "60", "--out", str(path))
    took = time.monotonic() - started
    assert done.returncode == 0, done.stderr
    assert took < 60
    recording = read_recording(path)
    assert recording.complete
    assert recording.lost_samples == 0
    # The faults put into the demo's pedal, in the words of its story, are found.
    faults = {(f.kind, f.channel) for f in analyse(recording).faults}
    assert ("dropout", "b") in faults
    assert ("noise", "a") in faults
    assert "track b rests 160 mV further towards pressed" in done.stdout
    assert "start of travel, a" in done.stdout
    assert f"stillpedal findings {path}" in done.stderr
    if can_serve():
        assert "serial port" in done.stderr


def test_the_demo_needs_no_serial_device(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                         capsys: pytest.CaptureFixture[str]) -> None:
    # As on Windows, which has no pseudo terminals.
    monkeypatch.setattr("bench.services.simulated.can_serve", lambda: False)
    assert main(["demo", "--speed", "100", "--out", str(tmp_path / "d.csv")]) == 0
    out, err = capsys.readouterr()
    assert "serial port" not in err
    assert "start of travel, a" in out
    assert read_recording(tmp_path / "d.csv").complete


def test_sweeping_loads_no_window_and_no_slow_parts() -> None:
    code = ("import sys, bench.command_line.sweep, bench.services.record\n"
            "import bench.acquisition.boards.serial_board\n"
            "print([m for m in ('PySide6', 'pyqtgraph', 'scipy.stats', 'scipy.signal')"
            " if m in sys.modules])")
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert out.stdout.strip() == "[]"
