"""The writer at its edges: marks, torn writes, disks that refuse late, names that cannot be."""

import errno
import os
import zlib

import numpy as np
import pytest
from said import refuses

from analysis.model.recording import Channel, Mark, Recording
from bench.errors import BadCall, BadFile
from bench.files import recording_writer
from bench.files.recording_file import read_recording
from bench.files.recording_header import LONGEST_HEADER, RecordingHeader
from bench.files.recording_writer import RecordingWriter, free_path, is_taken, write_recording

CHANNELS = (Channel("a", "track", None, full_scale=1024.0, reference_volts=5.0),)
POSIX = pytest.mark.skipif(os.name != "posix", reason="an open file cannot be deleted there")


@pytest.fixture
def writer(tmp_path):
    with RecordingWriter(tmp_path / "r.csv", RecordingHeader(CHANNELS)) as made:
        yield made


def add(writer, times, lost=None):
    times = np.array(times, float)
    writer.add(times, np.arange(times.size).reshape(-1, 1),
               None if lost is None else np.array(lost))


def refused(number):
    def act(*_):
        raise OSError(number, os.strerror(number))
    return act


def test_each_mark_has_the_next_row_without_a_gap_of_its_own_and_waits_for_one(writer):
    for text in ("one", " ", "two\tlines", "gap 5", "x" * 1500):
        writer.mark(text)
    add(writer, [])
    add(writer, [0.0, 0.1, 0.2], [0, 3, 0])
    add(writer, [0.2])
    add(writer, [0.3, 0.4], [0, 1])
    writer.mark("six")
    writer.mark("seven")
    add(writer, [0.5, 0.5])
    writer.close()
    writer.close()
    marks = [(m.row, m.text) for m in read_recording(writer.path).marks]
    assert marks == [(0, "one"), (1, "gap 3"), (2, "two lines"), (3, "note: gap 5"),
                     (4, "x" * 1000), (5, "gap 1"), (6, "six"), (7, "seven")]


@pytest.mark.parametrize(("times", "rows"), [
    ([0.2], 1), ([0.4, 0.3], 2), ([0.5, float("nan")], 2), ([0.5], 2), ([float("inf")], 1)])
def test_rows_that_cannot_follow_are_refused_and_nothing_of_them_is_written(writer, times, rows):
    add(writer, [0.1, 0.3])
    size = writer.bytes_written
    with refuses(BadCall, r"time must not run backwards \(after 0.300000|do not fit"):
        writer.add(np.array(times), np.zeros((rows, 1 if len(times) == rows else 2), int))
    assert (writer.bytes_written, writer.rows) == (size, 2)
    add(writer, [0.3])
    writer.close()
    assert writer.path.stat().st_size == writer.bytes_written
    assert read_recording(writer.path).rows == 3
    with refuses(BadFile, "is closed; start a new recording"):
        add(writer, [0.4])


def test_the_check_sum_is_that_of_the_table_and_the_file_grows_as_it_says(writer):
    """CRC-32 as zlib has it (RFC 1952), of all between the header and the last line."""
    add(writer, [0.0, 0.5])
    writer.close()
    lines = writer.path.read_bytes().splitlines(True)
    table = b"".join(line for line in lines if not line.startswith(b"#"))
    assert lines[-1] == b"# end rows=2 crc32=%08X\n" % zlib.crc32(table)


def test_a_write_taken_in_parts_is_gone_on_with(writer, monkeypatch):
    """POSIX.1-2017, write(): fewer bytes may be taken than were given."""
    real = os.write
    monkeypatch.setattr(os, "write", lambda file, data: real(file, data[:7]))
    add(writer, [0.0, 0.5, 1.0])
    writer.close()
    found = read_recording(writer.path)
    assert found.complete
    assert found.channels[0].readings.tolist() == [0, 1, 2]


@pytest.mark.parametrize(("number", "said"), [
    (errno.ENOSPC, "the disk is full"), (errno.EFBIG, "the disk is full"),
    (errno.EIO, r"cannot write \(Input/output error\)")])
def test_what_cannot_be_written_is_told_with_the_rows_that_are_kept(writer, monkeypatch, number,
                                                                  said):
    add(writer, [0.0, 0.5])
    size = writer.bytes_written
    real = os.write

    def torn(file, data):
        if len(data) < 12:
            refused(number)()
        return real(file, data[:-5])

    monkeypatch.setattr(os, "write", torn)
    with refuses(BadFile, f"{said}: .*ends after 2 rows, all of them kept; free some space"):
        add(writer, [1.0, 1.5, 2.0])
    monkeypatch.undo()
    assert writer.closed
    assert writer.path.stat().st_size == size
    assert read_recording(writer.path).rows == 2


def test_a_disk_that_refuses_at_the_end_is_told(writer, monkeypatch):
    add(writer, [0.0])
    monkeypatch.setattr(os, "fsync", refused(errno.EIO))
    with refuses(BadFile, "ends after 1 rows"):
        writer.close()
    assert writer.closed


@pytest.mark.parametrize(("number", "told"), [
    (errno.EIO, True), (errno.EINVAL, False), (errno.ENOSYS, False)])
def test_what_the_disk_did_not_keep_is_told_at_the_next_rows(writer, number, told):
    """A pipe or an odd file system has no fsync: EINVAL, ENOSYS (POSIX.1-2017)."""
    writer._syncer._error = OSError(number, os.strerror(number))
    if told:
        with refuses(BadFile, "the disk did not keep all of .*r.csv: Input/output error; copy"):
            add(writer, [0.0])
    add(writer, [0.0])
    assert writer.rows == 1


@POSIX
def test_a_file_is_gone_when_its_name_leads_elsewhere_and_only_then(writer, monkeypatch):
    add(writer, [0.0])
    assert not writer.gone
    monkeypatch.setattr(os, "stat", refused(errno.EHOSTDOWN))
    assert not writer.gone  # a network drive that is away for a moment
    monkeypatch.undo()
    writer.path.unlink()
    assert writer.gone
    writer.close()
    assert not writer.gone


@POSIX
def test_a_new_file_that_cannot_be_written_leaves_the_old_one_and_nothing_else(writer, monkeypatch):
    add(writer, [0.0])
    monkeypatch.setattr(recording_writer, "write_all", refused(errno.ENOSPC))
    with refuses(BadFile, "cannot write .*No space left"):
        writer.again()
    monkeypatch.undo()
    assert [p.name for p in writer.path.parent.iterdir()] == ["r.csv"]
    add(writer, [0.5])
    monkeypatch.setattr(os, "read", lambda *_: b"")
    with refuses(BadFile, "the deleted file became shorter"):
        writer.again()
    monkeypatch.undo()
    second = writer.again()
    add(writer, [1.0])
    writer.close()
    assert second.name == "r-2.csv"
    assert read_recording(second).rows == 3


def test_a_header_of_a_megabyte_is_written_and_one_byte_more_is_not(tmp_path):
    def titled(count):
        return RecordingHeader(CHANNELS, "x" * count)

    spare = LONGEST_HEADER + 1 - len(recording_writer.header_text(titled(1)).encode())
    RecordingWriter(tmp_path / "a.csv", titled(spare)).close()
    with refuses(BadFile, f"would be {LONGEST_HEADER + 1} bytes; at most {LONGEST_HEADER}"):
        RecordingWriter(tmp_path / "b.csv", titled(spare + 1))
    assert not (tmp_path / "b.csv").exists()


def test_a_recording_longer_than_a_piece_is_written_whole_with_its_marks(tmp_path):
    rows = (1 << 16) + 3
    marks = (Mark(0, "first"), Mark((1 << 16) - 1, "before"), Mark(1 << 16, "behind"),
             Mark(rows - 1, "last"))
    made = Recording(np.arange(rows) / 1000.0, (Channel(
        "a", "track", np.arange(rows) % 1024.0, full_scale=1024.0, reference_volts=5.0),), marks)
    found = read_recording(write_recording(tmp_path / "r.csv", made))
    assert found.marks == marks
    assert found.complete
    np.testing.assert_array_equal(found.channels[0].readings, made.channels[0].readings)


@pytest.mark.parametrize(("marks", "rows", "found"), [
    ([(1, "a"), (1, "gap 2"), (1, "b"), (3, "c")], 6, {1: "gap 2", 2: "a", 3: "b", 4: "c"}),
    ([(2, "a"), (2, "b"), (2, "c")], 3, {2: "a", 1: "b", 0: "c"}),
    ([(0, "a"), (1, "b"), (1, "c"), (1, "d")], 3, {0: "a", 1: "b", 2: "c"} | {0: "d"})])
def test_marks_on_one_row_move_to_the_nearest_free_one_and_gaps_stay(tmp_path, marks, rows, found):
    """Forward while there are rows, then back; more marks than rows put over the first."""
    track = Channel("a", "track", np.arange(float(rows)), full_scale=1024.0, reference_volts=5.0)
    made = Recording(np.arange(rows) / 10.0, (track,), tuple(Mark(*m) for m in marks))
    read = read_recording(write_recording(tmp_path / "r.csv", made))
    assert {m.row: m.text for m in read.marks} == found


def test_names_that_are_taken_free_or_none(tmp_path):
    (tmp_path / "r.csv").write_text("mine")
    assert is_taken(tmp_path / "r.csv")
    assert not is_taken(tmp_path / "q.csv")
    assert not is_taken(tmp_path / "r.csv" / "q.csv")
    assert free_path(tmp_path / "r.csv").name == "r-2.csv"
    with refuses(BadFile, "cannot write .*x: File name too long; choose another name"):
        is_taken(tmp_path / ("x" * 5000))
    with refuses(BadFile, "none.r.csv: No such file or directory; choose another place"):
        RecordingWriter(tmp_path / "none" / "r.csv", RecordingHeader(CHANNELS))
    if os.name == "posix":
        (tmp_path / "loop").symlink_to(tmp_path / "loop")
        assert not is_taken(tmp_path / "loop")
