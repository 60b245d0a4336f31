"""The writer loses no row: killed, on a full disk, beside another file."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import numpy as np
import pytest
from sealed_recording import header

from analysis.model.recording import Mark
from bench.errors import BadCall, BadFile
from bench.files.recording_file import RecordingWriter, free_path, read_recording, write_recording


def test_a_recording_is_never_written_over(tmp_path):
    path = tmp_path / "r.csv"
    with RecordingWriter(path, header()) as first:
        first.add(np.array([0.0]), np.array([[1, 2]]))
        with pytest.raises(BadFile, match="not written over"):
            RecordingWriter(path, header())
    with pytest.raises(BadFile, match="not written over"):
        write_recording(path, read_recording(path))
    assert read_recording(path).rows == 1
    assert free_path(path) == tmp_path / "r-2.csv"
    with pytest.raises(BadFile, match="another place"):
        RecordingWriter(tmp_path / "no such folder" / "r.csv", header())


def test_rows_that_do_not_fit_are_refused_and_the_file_stays_good(tmp_path):
    path = tmp_path / "r.csv"
    with RecordingWriter(path, header()) as writer:
        writer.add(np.array([1.0]), np.array([[1, 2]]))
        for times, readings in (([0.5], [[1, 2]]), ([np.nan], [[1, 2]]), ([2.0], [[1, 2, 3]])):
            with pytest.raises(BadCall):
                writer.add(np.array(times), np.array(readings))
    assert read_recording(path).rows == 1


def test_a_typed_mark_cannot_pose_as_lost_samples_and_gaps_keep_their_row(tmp_path):
    path = tmp_path / "r.csv"
    with RecordingWriter(path, header()) as writer:
        writer.mark("gap 12")
        writer.mark("two\nlines, \"quoted\"")
        writer.add(np.arange(4.0), np.ones((4, 2), np.int64), np.array([5, 0, 0, 0]))
    recording = read_recording(path)
    assert recording.lost_samples == 5
    assert recording.marks == (
        Mark(0, "gap 5"), Mark(1, "note: gap 12"), Mark(2, 'two lines, "quoted"'))


def writer_process(path: Path, more: str = "") -> subprocess.Popen:
    program = textwrap.dedent(f"""
        import sys, time, resource
        import numpy as np
        from analysis.model.recording import Channel
        from bench.errors import BadFile
        from bench.files.recording_file import RecordingHeader, RecordingWriter
        {more}
        channels = tuple(Channel(c, "track", np.empty(0), full_scale=1024, reference_volts=5.0)
                         for c in "ab")
        writer = RecordingWriter({str(path)!r}, RecordingHeader(channels, rate_hz=1000.0))
        try:
            for k in range(1_000_000):
                rows = np.arange(20 * k, 20 * k + 20)
                writer.add(rows / 1000, np.stack([rows % 1024, rows % 7], 1))
                print(rows[-1] + 1, flush=True)
                if len(sys.argv) > 1:
                    time.sleep(0.002)
        except BadFile as error:
            print(error, file=sys.stderr)
            sys.exit(2)
    """)
    return subprocess.Popen([sys.executable, "-B", "-c", program], stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True)


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is POSIX")
def test_kill_9_loses_nothing_that_was_added(tmp_path):
    path = tmp_path / "killed.csv"
    process = writer_process(path)
    lines = [process.stdout.readline() for _ in range(40)]
    os.kill(process.pid, signal.SIGKILL)
    process.communicate(timeout=20)
    recording = read_recording(path)
    assert not recording.complete
    assert recording.rows >= int(lines[-1])
    np.testing.assert_array_equal(recording.channel("a").readings,
                                  np.arange(recording.rows) % 1024)


def test_rows_reach_the_disk_within_a_second_though_none_follow(tmp_path, monkeypatch):
    synced = []
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda f: (synced.append(time.monotonic()), real(f))[1])
    with RecordingWriter(tmp_path / "r.csv", header()) as writer:
        synced.clear()
        added = time.monotonic()
        writer.add(np.array([0.0]), np.array([[1, 2]]))
        while not synced and time.monotonic() < added + 5:
            time.sleep(0.01)
        assert synced[0] - added < 1.0


def check_full(path: Path, process: subprocess.Popen) -> None:
    out, err = process.communicate(timeout=60)
    assert process.returncode == 2, err
    assert "the disk is full" in err
    assert err.count("\n") == 1
    acknowledged = int(out.split()[-1])
    recording = read_recording(path)
    assert not recording.complete
    assert recording.rows == acknowledged
    assert f"ends after {acknowledged} rows" in err


@pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX limits")
def test_a_full_disk_is_told_and_every_row_before_it_stays(tmp_path):
    path = tmp_path / "full.csv"
    limit = "resource.setrlimit(resource.RLIMIT_FSIZE, (20011, 20011))"
    check_full(path, writer_process(path, limit))


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0 or sys.platform != "linux",
                    reason="mounting a small disk needs root on Linux")
def test_a_really_full_small_disk_loses_nothing(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "none", str(disk)],
                             capture_output=True, text=True)
    if mounted.returncode:
        pytest.skip(f"cannot mount here: {mounted.stderr.strip()}")
    try:
        check_full(disk / "full.csv", writer_process(disk / "full.csv"))
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_disk_that_is_full_from_the_start_is_told():
    if not os.path.exists("/dev/full"):
        pytest.skip("no /dev/full on this system")
    with pytest.raises(BadFile, match="not written over"):
        RecordingWriter("/dev/full", header())
