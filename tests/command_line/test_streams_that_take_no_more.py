"""What a stream cannot take ends nothing that matters; what a screen shows is wiped again."""

import errno
import io
import os
import sys
import threading
from types import SimpleNamespace

import numpy as np
import pytest
from in_process import stillpedal
from places import ROOT
from scripted_board import counting

from bench.command_line import main, window
from bench.command_line.plain_stream import OutputLost, PlainStream, let_go, nowhere
from bench.command_line.progress import Progress
from bench.command_line.signals import stopped_by_signals
from bench.files.recording_writer import write_recording
from bench.services.trend import summarise, usable_cores

HEALTHY = ROOT / "sample_sweeps" / "synthetic_healthy_pair.csv"


class Screen(io.StringIO):
    def isatty(self):
        return True


class Refusing(io.StringIO):
    """Take nothing; say why."""

    def __init__(self, error):
        super().__init__()
        self.error, self.tried = error, 0

    def write(self, text):
        self.tried += 1
        raise self.error


@pytest.mark.parametrize("error", [
    BrokenPipeError(), OSError(errno.ENOSPC, "No space left on device"), ValueError("closed")])
def test_an_error_stream_that_takes_no_more_stops_no_recording(error):
    """It is written to once; from then on nowhere."""
    stream = Refusing(error)
    told = PlainStream(stream, returns=True)
    assert told.write("cable lost\n") == len("cable lost\n")
    told.write("cable back\n")
    told.flush()
    assert stream.tried == 1


def test_a_reader_that_went_away_is_no_error_of_ours():
    """POSIX tells it by EPIPE; whoever writes to standard output hears of it."""
    with pytest.raises(BrokenPipeError):
        PlainStream(Refusing(BrokenPipeError())).write("x")


def test_standard_output_that_takes_no_more_is_told_once():
    """With the reason and what to do; then it is given up."""
    shown = PlainStream(Refusing(OSError(errno.ENOSPC, "No space left on device")))
    with pytest.raises(OutputLost, match=r"No space left on device.*free some space"):
        shown.write("x")
    assert shown.failed
    shown.give_up()
    assert shown.write("x") == 1
    shown.flush()


def test_control_signs_go_out_as_their_codes():
    """A file name cannot clear a screen (ECMA-48: ESC [ 2 J)."""
    stream = io.StringIO()
    PlainStream(stream).write("a\x1b[2Jb\rc\r\n")
    assert stream.getvalue() == "a\\u001b[2Jb\\u000dc\r\n"


def test_what_a_stream_still_holds_can_go_nowhere(tmp_path):
    """The interpreter would fail on it at its end; a stream without a number holds nothing."""
    path = tmp_path / "out.txt"
    with path.open("w", encoding="utf-8") as stream:
        stream.write("held back")
        let_go(stream)
    assert path.read_text(encoding="utf-8") == ""
    for none in (None, io.StringIO()):
        let_go(none)
    with nowhere() as sink:
        assert sink.write("x") == 1


def test_a_line_that_stands_on_the_screen_is_left():
    """The next words begin on a line of their own."""
    screen = Screen()
    progress = Progress(stream=screen)
    progress.ended(None)
    assert screen.getvalue() == ""
    recording = counting(5)
    progress.started(SimpleNamespace(board_name="test board", channels=recording.channels,
                                     rate_hz=None))
    progress.rows(SimpleNamespace(
        time_s=recording.time_s,
        readings=np.column_stack([c.readings for c in recording.channels])))
    progress.ended(None)
    assert screen.getvalue().endswith("\r\n")


def test_signals_belong_to_the_main_thread():
    """Elsewhere what is inside runs as it is: only the main thread can be interrupted (signal)."""
    done = []

    def work():
        with stopped_by_signals():
            done.append(1)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join(5.0)
    assert done == [1]


@pytest.fixture
def folder(tmp_path):
    """Two files that are no sweeps: their lines say why, and nothing is analysed."""
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text("a,b\n1,2\n")
    return tmp_path


def test_a_bar_on_a_screen_is_wiped_in_the_end(folder, monkeypatch):
    """And into a file goes the table alone."""
    screen, out = Screen(), folder / "trend.txt"
    monkeypatch.setattr(sys, "stderr", screen)
    assert main(["trend", str(folder), "--out", str(out)]) in (0, 2)
    said = screen.getvalue()
    assert "2/2, 0 s left" in said
    assert f"\r{' ' * 80}\r" in said
    assert out.read_text(encoding="utf-8").count(".csv") >= 2


def test_the_table_of_a_folder_as_json(folder):
    """Each file that cannot be used with its reason."""
    done = stillpedal("trend", str(folder), "--json")
    assert done.stdout.count('"error"') >= 2


@pytest.mark.parametrize("loads", [True, False])
def test_the_window_is_opened_or_told_why_not(loads, monkeypatch):
    """A part of Qt that lacks a library of the system is told in one line."""
    from bench.window import app

    opened = []
    monkeypatch.setattr(window, "without_screen", lambda: False)
    monkeypatch.setattr(window, "on_x11", lambda: not loads)
    monkeypatch.setattr(app, "x11_part", lambda: "/none/libqxcb.so")
    monkeypatch.setattr(app, "run", lambda file, before: opened.append((file, before)) or 0)
    done = stillpedal("window", str(HEALTHY))
    if loads:
        assert (done.returncode, opened) == (0, [(HEALTHY, None)])
    else:
        assert (done.returncode, opened) == (2, [])
        assert "the window cannot load Qt" in done.stderr


def test_a_log_taken_in_is_told_as_json(tmp_path):
    """With what was understood of it and what was not."""
    rows = "".join(f"{0.01 * k:.2f},{0.7 + 0.01 * k:.2f},x\n" for k in range(60))
    (tmp_path / "log.csv").write_text("time (s),a_V,remark\n" + rows)
    out = tmp_path / "new.csv"
    done = stillpedal("import", str(tmp_path / "log.csv"), "--a", "a_V", "--out", str(out),
                      "--json")
    assert done.returncode == 0, done.stderr
    assert '"rows": 60' in done.stdout
    assert "columns not used: 'remark'" in done.stdout
    assert f"next: stillpedal findings {out}" in done.stderr


def test_a_log_of_which_nothing_is_plain_is_shown_all_the_same(tmp_path):
    """Its first rows, and what must be said."""
    rows = "".join(f"1,{k % 3},{k % 5}\n" for k in range(60))
    (tmp_path / "log.csv").write_text("t,time,x\n" + rows)
    done = stillpedal("import", str(tmp_path / "log.csv"), "--preview")
    assert done.returncode == 0
    assert "taken as" not in done.stdout
    assert "--time" in done.stdout


def test_settings_on_a_screen_carry_their_warnings_in_the_text(monkeypatch):
    """A file or a pipe gets them on the error stream; a screen would have them twice."""
    off = ROOT / "sample_sweeps" / "synthetic_off_at_rest.csv"
    piped = stillpedal("settings", str(off))
    assert "warning: " in piped.stderr
    screen, told = Screen(), io.StringIO()
    monkeypatch.setattr(sys, "stdout", screen)
    monkeypatch.setattr(sys, "stderr", told)
    assert main(["settings", str(off)]) == 0
    assert "warning: " not in told.getvalue()
    assert screen.getvalue()


def test_measurements_are_written_and_their_place_is_shown(tmp_path):
    """Which is all that the verb has to say on its output."""
    write_recording(tmp_path / "r.csv", counting(20))
    done = stillpedal("export", str(tmp_path / "r.csv"), "--out", str(tmp_path / "m.csv"))
    assert done.returncode == 0
    assert done.stdout.strip() == str(tmp_path / "m.csv")
    assert os.path.getsize(tmp_path / "m.csv") > 100


def test_a_folder_is_summarised_without_a_bar_to_show(folder):
    """Each file by its name, in this one process."""
    lines = summarise([folder / "a.csv", folder / "b.csv"], folder)
    assert [(line.file, bool(line.error)) for line in lines] == [("a.csv", True), ("b.csv", True)]
    assert usable_cores() >= 1


def test_a_sender_without_a_meter_needs_its_points():
    """What is stated alone calibrates nothing."""
    done = stillpedal("meter", "--kind", "divider", "--set", "top_ohms=1M", "--set",
                      "bottom_ohms=10k", "--set", "highest_volts=160")
    assert done.returncode == 2
    assert "--from" in done.stderr


def test_typed_lines_start_a_log(tmp_path, monkeypatch):
    """Enter starts it; what is shown meanwhile stands on one line of the screen."""
    monkeypatch.setattr(sys, "stdin", Screen("\nfan on\n"))
    screen, log = Screen(), tmp_path / "log.csv"
    monkeypatch.setattr(sys, "stderr", screen)
    main(["watch", "--board", "simulated", "--fast", "--cycles", "1", "--start-on", "enter",
          "--out", str(log)])
    assert f"logging to {log}: started by you" in screen.getvalue()
    assert log.exists()
