"""A recording outlives a deleted file, a kill, and screens that cannot show anything."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from places import ROOT
from scripted_board import Ears, Scripted
from stress.stress_common import ramp, row_numbers

from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.acquisition.wire import Hello, encode_frames, encode_hello
from bench.command_line import signals
from bench.command_line.signals import stopped_by_signals
from bench.errors import BadFile
from bench.files.recording_file import RecordingWriter, header_of, read_recording
from bench.services.record import Order

SWEEP = str(ROOT / "sample_sweeps" / "synthetic_healthy_pair.csv")
POSIX = pytest.mark.skipif(os.name != "posix", reason="an open file cannot be deleted there")


def write(writer, first, rows):
    part = ramp(rows, first=first)
    writer.add(part.time_s + first / 1000, np.stack([c.readings for c in part.channels], 1))


def gone_on(writer, first, rows):
    """Write so many rows after the first in a new file; return it, in which all of them must be."""
    after = writer.again()
    write(writer, first, rows)
    writer.close()
    found = read_recording(after)
    assert found.complete
    assert np.array_equal(row_numbers(found), np.arange(first + rows))
    return after


@POSIX
@pytest.mark.parametrize("how", ["deleted", "moved", "put over", "with its folder"])
def test_all_rows_are_in_the_new_file_when_the_first_is(tmp_path, how):
    path = tmp_path / "folder" / "r.csv"
    path.parent.mkdir()
    writer = RecordingWriter(path, header_of(ramp(1)))
    write(writer, 0, 3000)
    assert not writer.gone
    if how == "deleted":
        path.unlink()
    elif how == "moved":
        path.rename(tmp_path / "elsewhere.csv")
    elif how == "put over":
        (tmp_path / "other").write_text("mine")
        (tmp_path / "other").replace(path)
    else:
        path.unlink()
        path.parent.rmdir()
    assert writer.gone
    after = gone_on(writer, 3000, 500)
    if how == "put over":
        assert path.read_text() == "mine"
        assert after.name == "r-2.csv"


@POSIX
def test_all_rows_are_in_the_new_file_written_in_small_parts(tmp_path, monkeypatch):
    """POSIX lets write() take a part of the data; what it left is written as well."""
    write_some = os.write
    monkeypatch.setattr(os, "write", lambda handle, data: write_some(handle, data[:700]))
    writer = RecordingWriter(tmp_path / "r.csv", header_of(ramp(1)))
    write(writer, 0, 300)
    writer.path.unlink()
    gone_on(writer, 300, 50)


@POSIX
def test_a_deleted_file_is_told_within_a_second_and_the_recording_goes_on(tmp_path):
    path = tmp_path / "r.csv"
    rows = ramp(2000)
    readings = np.stack([c.readings for c in rows.channels], 1).astype(int)
    pieces = [encode_hello(Hello("ramp", ("a", "b"), 4096, 5.0, 1000.0))]
    pieces += [x for k in range(0, 2000, 20) for x in (
        encode_frames(k, np.arange(k, k + 20) * 1000, readings[k:k + 20]), 0.02)]
    ears, file = Ears(), FileListener(path, "sweep")
    recorder = Recorder(Scripted(*pieces), [file, ears])
    file.recorder = recorder
    recorder.start()
    while not path.exists():
        time.sleep(0.01)
    path.unlink()
    gone = time.monotonic()
    while not any(kind == "note" for kind, _ in ears.heard) and time.monotonic() - gone < 5:
        time.sleep(0.01)
    assert time.monotonic() - gone < 1.0
    recorder.join()
    assert np.array_equal(row_numbers(read_recording(file.path)), np.arange(2000))


def test_a_folder_that_cannot_be_written_is_told_before_anything_is_asked(tmp_path, monkeypatch):
    def refused(**_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.TemporaryFile", refused)
    with pytest.raises(BadFile, match=r"cannot write in the folder .*Permission denied"):
        Order(path=tmp_path / "r.csv").place()


def stillpedal(*words, **how):
    return subprocess.run([sys.executable, "-m", "bench", *words], cwd=how.pop("cwd", ROOT),
                          env=os.environ | {"PYTHONPATH": str(ROOT)}, timeout=120, check=False,
                          stderr=how.pop("stderr", subprocess.PIPE), **how)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
@pytest.mark.parametrize("words", [["findings", SWEEP], ["--help"], ["--version"],
                                   ["settings", SWEEP, "--json"], ["boards"]])
def test_a_full_output_is_one_line_and_exit_2(words):
    with open("/dev/full", "w") as full:
        done = stillpedal(*words, stdout=full)
    said = done.stderr.decode()
    assert done.returncode == 2, said
    assert "the output could not be written (No space left on device)" in said
    assert said.count("\n") == 1


@POSIX
@pytest.mark.parametrize("words", [["findings", SWEEP], ["--help"]])
def test_a_closed_output_is_one_line_and_exit_2(words):
    done = stillpedal(*words, preexec_fn=lambda: os.close(1))
    said = done.stderr.decode()
    assert done.returncode == 2, said
    assert "the output could not be written" in said
    assert said.count("\n") == 1


@POSIX
def test_a_closed_error_stream_stops_no_recording(tmp_path):
    done = stillpedal("sweep", "--board", "simulated", "--fast", "--presses", "1", "--quick", "0",
                      "--out", str(tmp_path / "r.csv"), stdout=subprocess.PIPE, stderr=None,
                      preexec_fn=lambda: os.close(2))
    assert done.returncode == 0
    assert read_recording(tmp_path / "r.csv").complete


@POSIX
@pytest.mark.parametrize("verb", [["sweep", "--board", "simulated"], ["demo", "--speed", "1"]])
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_sweep_and_demo_close_their_file_on_a_kill_and_a_hang_up(tmp_path, verb, name):
    path = tmp_path / "r.csv"
    running = subprocess.Popen(
        [sys.executable, "-m", "bench", *verb, "--out", str(path)], cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)}, stderr=subprocess.PIPE)
    begun = time.monotonic()
    while not path.exists() and time.monotonic() - begun < 60:
        time.sleep(0.05)
    time.sleep(0.7)
    running.send_signal(getattr(signal, name))
    said = running.communicate(timeout=60)[1].decode()
    assert running.returncode == 130, said
    assert "Traceback" not in said
    found = read_recording(path)
    assert found.complete
    assert found.rows > 50


def test_systems_without_a_hang_up_are_served_by_what_they_have(monkeypatch):
    """Windows has SIGTERM and SIGBREAK and no SIGHUP (docs.python.org, module signal)."""
    handlers = {15: "former", 21: "old"}

    class WindowsSignals:
        SIGTERM, SIGBREAK, SIG_DFL = 15, 21, 0

        @staticmethod
        def signal(number, handler):
            before, handlers[number] = handlers[number], handler
            return before

    monkeypatch.setattr(signals, "signal", WindowsSignals)
    with pytest.raises(KeyboardInterrupt), stopped_by_signals():
        handlers[21](21, None)
    assert handlers == {15: "former", 21: "old"}
