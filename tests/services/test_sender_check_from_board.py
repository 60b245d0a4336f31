"""`stillpedal meter` from a board: the guided check, in process and over a port."""

import io
import json
import sys
import time
from dataclasses import replace

import numpy as np
import pytest
from said import as_text, refuses
from sender_check_by_hand import DIVIDER, LEAFLET, VOLTS, bench_recording, options

from analysis.model.errors import NoCalibration
from analysis.model.recording import Channel, Recording
from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.serial_board import SerialBoard
from bench.acquisition.boards.simulated_sender import SimulatedSenderBoard
from bench.acquisition.boards.streamed import StreamedBoard
from bench.command_line import main
from bench.errors import BadCall
from bench.files.recording_file import read_recording, write_recording
from bench.services.sender_check import calibrate_taken, points_of_recording
from bench.services.sender_check_live import MeterSession


def take_all(session, board, levels, gain):
    """Take a point at each level, waiting until the channel is steady."""
    for volts in levels:
        board.go_to(volts)
        deadline = time.monotonic() + 20
        time.sleep(0.15)
        while not session.add(f"{gain * volts:.2f}").steady:
            assert time.monotonic() < deadline


def test_a_guided_check_in_process(tmp_path):
    """Through board, decoder and recorder: the true ratio is inside the interval, all is kept."""
    board = SimulatedSenderBoard(0.5, speed=20.0)
    with MeterSession(board, options(), tmp_path / "m.csv", print) as session:
        take_all(session, board, VOLTS, 5.04)
        assert "of at least" in session.progress() or "enough" in session.progress()
        result = session.result(tmp_path / "kept")
    predicted = result.stored.predict_volts(3.0)
    assert predicted.low < 3.0 * 5.04 < predicted.high
    assert result.enough.enough
    kept = read_recording(tmp_path / "m.csv")
    assert kept.complete
    assert kept.purpose == "meter"
    # The recording alone leads to the same calibration.
    again = calibrate_taken(points_of_recording(kept, options()), options())
    assert again.stored.calibration.curve.coefficients == pytest.approx(
        result.stored.calibration.curve.coefficients, abs=0.02)


def test_a_guided_check_refuses_while_it_drifts(tmp_path):
    """A point typed while the level still moves is refused with the drift and its limit."""
    board = SimulatedSenderBoard(0.5, speed=5.0)
    with MeterSession(board, options(window_s=1.0), tmp_path / "m.csv", print) as session:
        assert session.add("2.52").steady
        board.go_to(4.0)
        refused = session.add("20.16")
        assert not refused.steady
        assert "drifts by +" in as_text(refused)
        assert "allowed" in as_text(refused)
        assert len(session.points) == 1
        with pytest.raises(BadCall, match="no number"):
            session.add("twenty")
        session.undo()
        assert session.points == []
        with refuses(NoCalibration, "no point"):
            session.result()


@pytest.mark.skipif(not can_serve(), reason="no pseudo terminals here")
def test_a_guided_check_over_a_serial_port(tmp_path):
    """Through a real serial device, opened like hardware, the same points come out."""
    board = SimulatedSenderBoard(0.5, speed=10.0)
    server = PtyServer(board)
    try:
        with MeterSession(SerialBoard(server.port), options(), tmp_path / "m.csv",
                          print) as session:
            take_all(session, board, (0.5, 2.3, 4.1), 5.0)
            result = session.result()
    finally:
        server.close()
    assert result.stored.calibration.points.volts == pytest.approx([0.5, 2.3, 4.1], abs=2e-3)


def test_the_guided_verb_reads_what_is_typed(tmp_path, monkeypatch, capsys):
    """Typed lines drive the verb; wrong words are answered, the calibration is kept."""
    monkeypatch.chdir(tmp_path)
    lines = "what\n2.53\nwait 2.5\n7.07\nwait 2.5\n11.62\nundo\nwait 2.5\n11.62\ndone\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    assert main(["meter", "--board", "simulated", *DIVIDER, *LEAFLET, "--seconds", "0.4",
                 "--json"]) == 0
    out, err = capsys.readouterr()
    assert "'what' is no number" in err
    assert "the meter shows 2.5" in err
    assert len(json.loads(out)["points"]) == 3
    assert len(list((tmp_path / "calibrations").glob("sender-*.json"))) == 1
    assert read_recording(tmp_path / "meter.csv").complete


def test_a_board_that_ends_too_soon_loses_nothing(tmp_path, monkeypatch, capsys):
    """When the board goes away after one point, that is said, and the recording holds the point."""
    monkeypatch.chdir(tmp_path)
    short = bench_recording()
    short = replace(short, time_s=short.time_s[:300], marks=(), channels=tuple(
        replace(c, readings=c.readings[:300]) for c in short.channels))
    write_recording(tmp_path / "short.csv", short)
    monkeypatch.setattr("sys.stdin", io.StringIO("2.51\nwait 2\n7.03\n"))
    assert main(["meter", "--board", "replay:short.csv", "--channel", "pack", *DIVIDER,
                 "--seconds", "0.5"]) == 2
    assert "1 points were taken; the readings are kept in meter.csv" in capsys.readouterr().err
    kept = read_recording(tmp_path / "meter.csv")
    assert kept.complete
    assert [m.text for m in kept.marks] == ["meter 2.51"]


@pytest.mark.skipif(not can_serve(), reason="needs pseudo terminals")
def test_the_verb_reads_a_board_of_plain_numbers_as_the_sweep_does(tmp_path, monkeypatch, capsys):
    """Names, scale and volts per count are said with the same options as for a sweep."""
    rows = 8000
    recording = Recording(np.arange(rows) / 400.0, tuple(
        Channel(c, "other", np.full(rows, level), full_scale=1024.0, reference_volts=5.0)
        for c, level in (("x", 205.0), ("y", 512.0))), rate_hz=400.0)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", io.StringIO("wait 3\n5.0\ndone\n"))
    with PtyServer(StreamedBoard("pty", recording, speed=1.0)) as server:
        main(["meter", "--board", server.port, "--columns", "low,high", "--channel", "high",
              "--scale", "high=2", "--yes", "--no-store", "--keep", "kept.csv"])
    assert "reading channel high" in capsys.readouterr().err
    kept = read_recording(tmp_path / "kept.csv")
    assert [c.column for c in kept.channels] == ["low", "high"]
    assert kept.channel("high").scale == 2.0
