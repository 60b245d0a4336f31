"""Files that are not as they should be: refused in one line, or made anew beside the old one."""

import datetime
import json
import os
import zlib
from dataclasses import replace

import numpy as np
import pytest
from scripted_board import counting

from analysis.model.recording import Channel, Recording
from bench.errors import BadFile
from bench.files import malloc_tuning
from bench.files.job_record import add_entry, read_job
from bench.files.new_file import create_new, move_new, put_new
from bench.files.read_limited import read_whole
from bench.files.recording_file import read_recording
from bench.files.recording_header import RecordingHeader, header_of, parse_header
from bench.files.recording_writer import write_recording

CHANNEL = ["[[channel]]", 'column = "a"', 'role = "track"', 'unit = "V"']


def head(*lines):
    return ["stillpedal_recording = 1", *lines]


@pytest.mark.parametrize(("lines", "words"), [
    (head(), "names no channel; add a"),
    (head("channel = [1, 2]"), r"must be \[\[channel\]\] tables"),
    (head("started = 3", *CHANNEL), "started is 3 in the header; write an ISO 8601 time"),
    (head(*(word.replace('"a"', f'"c{k}"') for k in range(1025) for word in CHANNEL)), "at most"),
    (head(*CHANNEL, *CHANNEL), "two channels are called 'a'; rename one"),
    (head(*(word.replace('"a"', '"mark"') for word in CHANNEL)), "cannot be called 'mark'"),
    (head(*(word.replace('"a"', '"#a"') for word in CHANNEL)), "cannot be called '#a'"),
    (head('purpose = "fun"', *CHANNEL), "purpose 'fun'; use one of"),
    (head("rate_hz = -5", *CHANNEL), "rate_hz is -5.*state a number above 0"),
])
def test_a_header_that_is_none(lines, words):
    """What was wrong, its value, what to do."""
    with pytest.raises(BadFile, match=words):
        parse_header(lines)


def test_a_time_of_toml_is_a_time():
    """TOML 1.0 has dates of its own, written without quotes."""
    made = parse_header(head("started = 2026-03-01T10:00:00Z", *CHANNEL))
    assert made.started == "2026-03-01T10:00:00+00:00"


def test_a_date_that_somebody_put_in_comes_back(tmp_path):
    """What the header holds beside what we know is kept as it was (TOML 1.0)."""
    day = datetime.date(2026, 3, 1)
    path = write_recording(tmp_path / "r.csv", replace(
        counting(20), extra={"calibrated": day, "by": {"hour": datetime.time(9, 30)}}))
    kept = read_recording(path).extra
    assert kept["calibrated"] == day
    assert kept["by"] == {"hour": datetime.time(9, 30)}


def test_a_recording_without_a_channel_is_not_written(tmp_path):
    """Its header could not be read again."""
    with pytest.raises(BadFile, match="names no channel"):
        header_of(Recording(np.array([0.0, 1.0]), ()))
    assert RecordingHeader((Channel("a", "track", np.empty(0), "V"),)).columns == ("a",)


def test_a_name_that_is_taken_gets_the_next_number(tmp_path):
    """Nothing is ever written over: -2, -3 ... stand before the ending."""
    wanted = tmp_path / "log.csv"

    def write(part):
        part.write_text("new")

    assert put_new(wanted, write) == wanted
    with pytest.raises(FileExistsError):
        put_new(wanted, write)
    assert put_new(wanted, write, number=True).name == "log-2.csv"
    handle, made = create_new(wanted, number=True)
    os.close(handle)
    assert made.name == "log-3.csv"
    with pytest.raises(FileExistsError):
        create_new(wanted)
    other = tmp_path / "other.csv"
    other.write_text("other")
    assert move_new(other, wanted).name == "log-4.csv"
    assert not other.exists()
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "log-2.csv", "log-3.csv", "log-4.csv", "log.csv"]


def test_a_file_that_cannot_be_filled_leaves_nothing(tmp_path):
    """Neither the file nor a part of it."""
    def fails(part):
        part.write_text("half")
        raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space left"):
        put_new(tmp_path / "log.csv", fails)
    assert list(tmp_path.iterdir()) == []


def test_a_small_file_that_is_none(tmp_path):
    """Larger than such a file can be, or not to be read at all."""
    path = tmp_path / "template.txt"
    path.write_bytes(b"x" * 101)
    with pytest.raises(BadFile, match="is larger than 100 bytes"):
        read_whole(path, 100)
    assert read_whole(path, 101) == b"x" * 101
    with pytest.raises(BadFile, match="cannot read"):
        read_whole(tmp_path, 100)


@pytest.mark.parametrize("system", ["win32", "darwin"])
def test_other_systems_keep_their_own_way_with_memory(system, monkeypatch):
    """mallopt(3) is glibc's, on Linux."""
    monkeypatch.setattr(malloc_tuning.sys, "platform", system)
    assert malloc_tuning.keep_freed_memory() is False


def entry(**content):
    """Return a line of a record with a sum that fits, as another program could write it."""
    def plain(value):
        return json.dumps(value, ensure_ascii=False, sort_keys=True)

    whole = {"when": "2026-03-01", "what": "wires", "file": "wires.csv", "sha256": "",
             "values": {}, **content}
    return plain({**whole, "crc32": f"{zlib.crc32(plain(whole).encode()):08X}"}) + "\n"


@pytest.mark.parametrize("content", [
    {"values": 3}, {"what": 3}, {"when": "\x1b[2J"}, {"file": "../away.csv"}, {"file": ".."}])
def test_a_line_of_a_job_that_is_none_counts_as_damaged(content, tmp_path):
    """Even where its sum is right; the others count."""
    add_entry(tmp_path, "entered", None, {"volts": {}})
    record = next(tmp_path.iterdir())
    mine = record.read_text(encoding="utf-8")
    record.write_text(mine + entry() + entry(**content), encoding="utf-8")
    job = read_job(tmp_path)
    assert [e.what for e in job.entries] == ["entered", "wires"]
    assert job.damaged == 1
