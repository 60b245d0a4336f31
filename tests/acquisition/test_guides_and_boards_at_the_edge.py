"""Guides without a recorder, boards that refuse, sweeps in which nothing was read."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from said import refuses
from scripted_board import counting

from analysis.model.errors import BadRecording
from analysis.model.recording import Channel, Recording
from bench.acquisition.boards import pty_server
from bench.acquisition.boards.channels import ChannelOptions, channels_of
from bench.acquisition.boards.pty_server import PtyServer
from bench.acquisition.boards.simulated import SimulatedCarBoard, SimulatedPedalBoard
from bench.acquisition.boards.simulated_sender import SimulatedSenderBoard
from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.guided_plan import guided_plan, refusals
from bench.acquisition.key_on_logger import LoggerOptions
from bench.acquisition.listener import Rows, Source
from bench.acquisition.proof_prompts import ProofGuide, prompts_of
from bench.acquisition.recorder_time import first_rising
from bench.acquisition.sweep_judge import SweepJudge
from bench.acquisition.wire import Hello, command
from bench.errors import BadCall, BoardTrouble
from bench.files.recording_file import read_recording
from bench.services import trend
from bench.services.car_live import CarWatch
from bench.services.key_on import new_capture
from bench.services.record import Guide, Order


@pytest.mark.parametrize(("make", "words"), [
    (lambda: SimulatedPedalBoard("nobody"), "nobody"),
    (lambda: SimulatedPedalBoard("healthy", bits=11), "a converter of 11 bits; use one of 8, 10"),
    (lambda: SimulatedPedalBoard("healthy", rate_hz=0.5), "0.5 rows per second; use 1 to 20000"),
    (lambda: SimulatedCarBoard(0), "0 key cycles at 1000 Hz; use 1 to 1000"),
    (lambda: SimulatedCarBoard(3, 0.5), "3 key cycles at 0.5 Hz"),
    (lambda: LoggerOptions(contactor="ajar"), "--contactor 'ajar'; use one of"),
])
def test_a_simulated_board_that_cannot_be(make, words):
    """With what there is."""
    with pytest.raises(BadCall, match=words):
        make()


def test_a_simulated_sender_is_opened_before_it_is_read():
    """And a reader that was woken gets nothing more."""
    board = SimulatedSenderBoard(0.5)
    with pytest.raises(BoardTrouble, match="is not open; open it first"):
        board.read()
    board.open()
    assert board.read()
    board.stop()
    assert board.read() == b""


def sent(recording):
    board = StreamedBoard("replay", recording, speed=None)
    board.open()
    pieces = []
    while not board.ended:
        pieces.append(board.read())
    return board, b"".join(pieces)


def test_names_that_no_hello_can_say_become_letters():
    """A blank or a comma parts names (docs/wire.md)."""
    recording = counting(20)
    odd = replace(recording, channels=tuple(
        replace(c, column=name) for c, name in zip(recording.channels, ("track, left", "b"),
                                                   strict=True)))
    assert StreamedBoard("replay", odd, speed=None).hello.columns == ("a", "b")
    assert StreamedBoard("replay", recording, speed=None).hello.columns == ("a", "b")


def test_a_recording_of_blank_cells_has_no_frame_to_send():
    """Only the hello comes, and it ends."""
    recording = counting(20)
    blank = replace(recording, channels=tuple(
        replace(c, readings=np.full(20, np.nan)) for c in recording.channels))
    assert len(sent(blank)[1]) < len(sent(recording)[1])
    assert sent(blank)[0].ended


def test_more_channels_than_a_board_has_are_not_replayed():
    """Sixteen are in a frame at most (docs/wire.md)."""
    first = counting(20).channels[0]
    many = Recording(np.arange(20) / 100, tuple(
        replace(first, column=f"c{k}") for k in range(17)))
    with pytest.raises(BoardTrouble, match="has 17 channels; a board sends 1 to 16"):
        sent(many)


def test_a_system_without_pseudo_terminals_is_told_what_does(monkeypatch):
    """Nothing is left open."""
    monkeypatch.setattr(pty_server, "can_serve", lambda: False)
    with pytest.raises(BoardTrouble, match="use the board 'simulated'"):
        PtyServer(SimulatedSenderBoard(0.5))


def track(readings, column="a", unit="counts", **more):
    size = {"full_scale": 4096.0, "reference_volts": 5.0} if unit == "counts" else {}
    return Channel(column, "track", np.asarray(readings, float), unit, **size, **more)


def swept(*channels):
    return Recording(np.arange(channels[0].readings.size) / 100, channels, rate_hz=100.0)


RAMP = np.concatenate([np.full(100, 500.0), np.linspace(500, 3500, 100), np.full(100, 500.0)])


@pytest.mark.parametrize(("recording", "words"), [
    (swept(replace(track(RAMP), role="other")), "no channel is a track; name them, for example"),
    (swept(track(RAMP[:5])), "only 5 rows were recorded"),
    (swept(track(np.full(300, np.nan))), "no motion seen: a has no readings"),
    (swept(track(RAMP), track(np.full(300, 700.0), "b")), "only one track moves: b stays at"),
    (swept(track(np.where(RAMP > 2000, 4095, RAMP))), "track a is cut off at 4095 counts"),
])
def test_a_sweep_that_cannot_be_used(recording, words):
    """In one sentence with what to do."""
    assert words in refusals(recording)[0]


def test_a_sweep_in_volts_has_no_end_of_a_converter():
    """Nobody said where it lies."""
    assert refusals(swept(track(RAMP / 800, unit="V"))) == ()


def guided(guide, channels, readings, step_s=0.05):
    guide.started(Source(channels, 1.0 / step_s, "test"))
    for k in range(readings.shape[0] // 10):
        part = slice(10 * k, 10 * k + 10)
        guide.rows(Rows(step_s * np.arange(10 * k, 10 * k + 10), readings[part],
                        np.zeros(10, np.int64)))


def test_a_guide_that_nobody_records_goes_on_all_the_same():
    """Prompts are shown and hints are given, but nothing is marked."""
    shown = []
    guide = Guide(guided_plan(2, 0, alone=False), shown.append)
    channels = counting(1).channels
    assert (guide.accepted, guide.whole) == (0, False)
    guided(guide, channels, np.full((3000, 2), 700))
    assert [p.kind for p in shown[:3]] == ["rest", "press", "hold"]
    assert guide.hint
    assert guide.accepted == 0


def test_a_judge_of_no_rows_says_nothing():
    """An empty piece is no rest."""
    judge = SweepJudge([track([500.0])], 100.0)
    judge.take(np.empty((0, 1)), True)
    judge.take(np.full((50, 1), 0.7), True)
    judge.take(np.full((50, 1), 0.7), False)
    assert judge.accepted == 0
    volts = SweepJudge([track([0.5], unit="V", scale=2.0)], None)
    volts.take(np.full((50, 1), 0.7), True)
    assert volts.back


def test_a_script_with_a_mark_of_its_own_goes_on():
    """What no prompt asks for is marked and not shown."""
    marks, shown = [], []
    guide = ProofGuide(prompts_of("drive", ("a", "b")), shown.append,
                       ((0.5, "lamp on"), (1.0, "drive")))
    guide.recorder = SimpleNamespace(mark=marks.append, stop=lambda: marks.append("stopped"))
    guide.started(None)
    for time_s in (0.4, 0.6, 1.2):
        guide.rows(SimpleNamespace(time_s=np.array([time_s])))
    assert marks == ["lamp on", "drive"]
    assert [p.code for p in shown] == ["drive"]


def test_an_empty_line_beside_a_prompt_of_known_length_changes_nothing():
    """It goes on by itself, and the last one needs no recorder to end."""
    marks = []
    guide = ProofGuide(prompts_of("loads", ("a",), ("fan",)), lambda prompt: None)
    guide.recorder = SimpleNamespace(mark=marks.append, stop=lambda: marks.append("stopped"))
    guide.started(None)
    guide.enter("")
    guide.rows(SimpleNamespace(time_s=np.array([1.0])))
    assert (guide.place, marks) == (0, ["load fan off"])


def test_too_few_rows_say_nothing_of_a_clock_among_the_readings():
    """Five rows may rise by chance; thirty that rise evenly are a counter."""
    def rising(n):
        return np.column_stack([np.arange(n) * 5 + 3, np.full(n, 7)])

    assert first_rising(rising(5)) == (0, "")
    assert first_rising(rising(30)) == (0, "only rises, 5 each row, from 3 to 148")
    assert first_rising(rising(30)[:, 1:]) == (0, "")


def test_a_board_is_told_its_rate_and_its_format(tmp_path):
    """Each in a line of its own (docs/wire.md); nothing where nothing was asked for."""
    assert Order("sweep", tmp_path / "s.csv").commands() == ()
    asked = Order("sweep", tmp_path / "s.csv", rate_hz=500, format="frames")
    assert asked.commands() == (command("rate", 500), command("frames"))


def test_a_log_of_a_rheostat_is_refused_before_it_is_made(tmp_path):
    """Its volts depend on the controller that it is no longer wired to."""
    order = replace(Order("key-on", tmp_path / "log.csv"), kind="rheostat")
    with refuses(BadRecording, "rheostat"):
        new_capture(order, LoggerOptions())
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(("answer", "cores"), [(6, 6), (None, 1)])
def test_the_cores_of_a_system_that_tells_all_of_them(answer, cores, monkeypatch):
    """Where a process is not told its own share, all of them are its own; at least one."""
    monkeypatch.delattr(trend.os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(trend.os, "cpu_count", lambda: answer)
    assert trend.usable_cores() == cores


def car_rows(first_s, readings, step_s=0.01):
    count = readings.shape[0]
    return Rows(first_s + step_s * np.arange(count), readings, np.zeros(count, np.int64))


def test_a_log_in_volts_that_nothing_is_read_of():
    """A converter in volts has no end that is known; no reading is told, never a good one."""
    channels = (track([], unit="V"), Channel("key", "key", np.empty(0), "V"))
    watch = CarWatch(None, 2.0, False)
    watch.started(Source(channels, 100.0, "test"))
    for k in range(30):
        watch.rows(car_rows(0.5 * k, np.column_stack([np.full(50, np.nan), np.full(50, 12.0)])))
    assert watch.now.state == "open"
    assert "no reading" in dict(watch.now.why)


def test_a_typed_line_starts_a_log_and_is_its_first_mark(tmp_path):
    """An empty one only starts it; with a key line to tell, a later one is a note."""
    channels = (track([], unit="V"), Channel("key", "key", np.empty(0), "V"))
    log = new_capture(Order("key-on", tmp_path / "log.csv"), LoggerOptions())
    log.started(Source(channels, 100.0, "test"))
    log.marked("too early")
    off = np.column_stack([np.full(50, 0.7), np.zeros(50)])
    log.rows(car_rows(0.0, off))
    assert not log.logging
    log.enter("wheels chocked")
    log.rows(car_rows(0.5, off))
    assert log.logging
    log.enter("")
    log.rows(car_rows(1.0, off))
    log.ended(None)
    marks = [m.text for m in read_recording(tmp_path / "log.csv").marks]
    assert marks == ["wheels chocked", "noted"]


def test_channels_known_of_another_board_are_not_believed():
    """A replay of two channels says nothing of a board that sends three."""
    hello = Hello("board", ("x", "y", "z"), 1024, 5.0, 100.0)
    found = channels_of(hello, counting(1).channels, ChannelOptions())
    assert [c.column for c in found] == ["x", "y", "z"]
    assert {c.full_scale for c in found} == {1024.0}
