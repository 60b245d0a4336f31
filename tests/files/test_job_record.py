"""A job's record loses nothing: not to a kill, a torn line, a changed line, or two writers."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
import zlib

import pytest
from places import ROOT

from bench.files.job_record import NAME, add_entry, read_job

WRITER = """
import sys
from pathlib import Path
from bench.files.job_record import add_entry
for n in range(100000):
    add_entry(Path(sys.argv[1]), "wires", None, {"n": n})
    print(n, flush=True)
"""


def test_kill_at_any_moment_loses_no_entry_that_was_told(tmp_path):
    """Killed with -9 ten times over: each entry that was told is there, in order, none damaged."""
    for turn in range(10):
        folder = tmp_path / str(turn)
        folder.mkdir()
        child = subprocess.Popen([sys.executable, "-c", WRITER, str(folder)], cwd=ROOT, text=True,
                                 stdout=subprocess.PIPE)
        told = int(child.stdout.readline())
        time.sleep(0.002 * turn)
        os.kill(child.pid, signal.SIGKILL)
        told = max([told, *(int(line) for line in child.stdout.read().split())])
        child.stdout.close()
        child.wait()
        kept = [e.values["n"] for e in read_job(folder).entries]
        assert kept == list(range(len(kept)))
        assert len(kept) >= told + 1
        add_entry(folder, "shake")
        assert read_job(folder).last("shake") is not None


def test_a_torn_line_and_a_changed_one_do_not_count(tmp_path):
    """Both are skipped and counted; what is written behind them counts."""
    for n in range(3):
        add_entry(tmp_path, "wires", None, {"n": n})
    path = tmp_path / NAME
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(lines[0] + lines[1].replace(b'"n": 1', b'"n": 9') + lines[2][:25])
    add_entry(tmp_path, "loads", None, {"n": 3})
    job = read_job(tmp_path)
    assert [e.values["n"] for e in job.entries] == [0, 3]
    assert job.damaged == 2


@pytest.mark.parametrize(("key", "value"), [
    ("file", "x" * 5000), ("file", "../drive.csv"), ("file", "/etc/hostname"), ("file", ".."),
    ("file", "a\0b"), ("file", 10**400), ("when", "\x1b[2J"), ("when", None), ("what", ["drive"]),
    ("sha256", "\u202e"),
])
def test_a_line_that_no_program_of_ours_wrote_counts_as_damaged(tmp_path, key, value):
    """Right by its check sum, but it names a file elsewhere, or a sign that a terminal obeys."""
    add_entry(tmp_path, "wires", None, {"n": 0})
    said = {"when": "2026-11-28T10:00:00+00:00", "what": "drive", "file": "drive.csv",
            "sha256": "", "values": {}} | {key: value}
    plain = json.dumps(said, ensure_ascii=False, sort_keys=True)
    # The sum that the format asks for: CRC-32 as zlib has it (RFC 1952), of the text without it.
    line = json.dumps({**said, "crc32": f"{zlib.crc32(plain.encode()):08X}"})
    with (tmp_path / NAME).open("a", encoding="utf-8") as file:
        file.write(line + "\n")
    job = read_job(tmp_path)
    assert [e.what for e in job.entries] == ["wires"]
    assert job.damaged == 1


FULL = """
import resource, sys
sys.dont_write_bytecode = True
from pathlib import Path
from bench.errors import BadFile
from bench.files.job_record import add_entry
folder, most = Path(sys.argv[1]), int(sys.argv[2])
resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
try:
    add_entry(folder, "drive", None, {"text": "x" * 500})
    print("kept")
except BadFile as error:
    print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX limits")
def test_an_entry_that_fits_in_part_only_is_told_and_leaves_nothing(tmp_path):
    """The system takes the first part of a write that does not fit, and says so only by its length.

    Source: write() in POSIX.1-2017, "as many bytes as there is room for shall be written".
    """
    add_entry(tmp_path, "wires", None, {"n": 1})
    before = (tmp_path / NAME).read_bytes()
    said = subprocess.run([sys.executable, "-B", "-c", FULL, str(tmp_path), str(len(before) + 200)],
                          cwd=ROOT, text=True, capture_output=True, check=True).stdout
    assert said.startswith("cannot write")
    assert said.count("\n") == 1
    assert (tmp_path / NAME).read_bytes() == before
    add_entry(tmp_path, "loads")
    job = read_job(tmp_path)
    assert [e.what for e in job.entries] == ["wires", "loads"]
    assert job.damaged == 0


def test_eight_writers_at_once_lose_nothing(tmp_path):
    """Lines are appended whole, whoever writes beside."""
    def write(who):
        for n in range(10):
            add_entry(tmp_path, f"w{who}", None, {"n": n})

    threads = [threading.Thread(target=write, args=(k,)) for k in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    job = read_job(tmp_path)
    assert job.damaged == 0
    for who in range(8):
        assert [e.values["n"] for e in job.entries if e.what == f"w{who}"] == list(range(10))
