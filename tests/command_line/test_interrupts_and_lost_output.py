"""Ctrl-C ends what records with its file whole; an output that is lost hides no written file."""

import errno
import io
import os
import shutil
import signal
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest
from places import ROOT

from bench.acquisition.boards import pty_server
from bench.command_line import main
from bench.errors import BoardTrouble
from bench.files.recording_file import read_recording

SAMPLES = ROOT / "sample_sweeps"
JOB = SAMPLES / "job_with_a_loose_plug"


class FullDisk(io.StringIO):
    """Stand for standard output on a full disk: POSIX lets the write be refused late, on flush."""

    def flush(self):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("words", [
    ["export", str(SAMPLES / "synthetic_one_track.csv"), "--out"],
    ["report", str(SAMPLES / "synthetic_one_track.csv"), "--out"]])
def test_a_file_whose_name_cannot_be_shown_is_written_and_told_so(tmp_path, monkeypatch, capsys,
                                                                  words):
    out = tmp_path / ("page.html" if words[0] == "report" else "out.csv")
    with monkeypatch.context() as patched:
        if words[0] == "report":
            # The page itself is made elsewhere in these tests, and is dear.
            patched.setattr("bench.services.report.write_report",
                            lambda source, out, *_: out.write_text("page" * 300) and out)
        patched.setattr(sys, "stdout", FullDisk())
        assert main([*words, str(out)]) == 0
    said = capsys.readouterr().err.splitlines()
    assert said[0].startswith(f"{out} is written and whole; only its name was not shown: the ")
    assert "No space left on device" in said[0]
    assert said[1].startswith("next: ")
    assert out.stat().st_size > 1000


@pytest.mark.skipif(os.name != "posix", reason="POSIX signals")
@pytest.mark.parametrize(("verb", "code"), [
    # A log is ended by Ctrl-C, so what it shows is told; the others did not come to their end.
    (["sweep", "--board", "simulated"], 130), (["demo", "--speed", "4"], 130),
    (["watch", "--board", "simulated", "--start-on", "now"], 2),
    # Not a step was done yet, so there is no proof to take in.
    (["prove", "FOLDER", "--do", "drive", "--board", "simulated"], 2)])
def test_ctrl_c_leaves_a_whole_file_no_traceback_and_the_exit_code_of_its_verb(
        tmp_path, capsys, verb, code):
    """130 is 128 and the number of the signal (POSIX shells, 2.8.2)."""
    shutil.copy(JOB / "sweep.csv", tmp_path / "sweep.csv")
    if verb[0] == "prove":
        assert main(["prove", str(tmp_path), "--add", "sweep.csv"]) == 0
    path = tmp_path / "r.csv"

    def interrupt():
        end = time.monotonic() + 30
        while time.monotonic() < end and not (path.exists() and path.stat().st_size > 4000):
            time.sleep(0.02)
        signal.pthread_kill(threading.main_thread().ident, signal.SIGINT)

    hand = threading.Thread(target=interrupt)
    hand.start()
    words = [w.replace("FOLDER", str(tmp_path)) for w in verb]
    assert main([*words, "--out", str(path)]) == code
    hand.join()
    err = capsys.readouterr().err
    assert "Traceback" not in err
    assert str(path) in err
    found = read_recording(path)
    assert found.complete
    if verb[0] != "prove":
        # The rows that were told are the rows that are there.
        assert f"{found.rows} rows" in err


@pytest.mark.skipif(not pty_server.can_serve(), reason="no pseudo terminals here to take away")
def test_without_a_pseudo_terminal_to_spare_nothing_is_left_behind(tmp_path, monkeypatch):
    """As in a container without /dev/pts, where a terminal is made but has no name (ENOENT)."""
    def none_left(_):
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))

    monkeypatch.setattr(os, "ttyname", none_left)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    held = len(os.listdir("/dev/fd")) if Path("/dev/fd").exists() else 0
    assert not pty_server.can_serve()
    with pytest.raises(BoardTrouble, match="use the board 'simulated'"):
        pty_server.PtyServer(None)
    assert not list(tmp_path.iterdir())
    assert (len(os.listdir("/dev/fd")) if held else 0) == held
