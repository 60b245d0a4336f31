"""The recording file keeps every reading, opens when cut short, and refuses damage by name."""

import csv
import io
import os
import signal
import subprocess
import sys
import textwrap
import time
import tomllib
import zlib
from pathlib import Path

import numpy as np
import pandas
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.recording import Channel, Mark, Recording
from bench.errors import BadCall, BadFile
from bench.recording_file import (
    RecordingHeader,
    RecordingWriter,
    free_path,
    read_recording,
    write_recording,
)

# The example of the format's description (FORMATS.md), with two rows more.
EXAMPLE = """\
# stillpedal_recording = 1
# title = "box as found"
# started = "2026-05-02T09:14:03+02:00"
# purpose = "sweep"
# rate_hz = 500.0
# [board]
# name = "10-bit board"
# [[channel]]
# column = "a"
# role = "track"
# unit = "counts"
# full_scale = 1024
# reference_volts = 5.0
# scale = 1.0
# offset_volts = 0.0
# [[channel]]
# column = "supply"
# role = "supply"
# unit = "counts"
# full_scale = 1024
# reference_volts = 5.0
# nominal_volts = 5.0
time_s,a,supply,mark
0.000,98,1023,
0.002,,1022,rest
0.004,99,1023,"gap 3"
"""


def sealed(text: str) -> bytes:
    data = text.encode()
    table = data[data.index(b"time_s,"):]
    return data + f"# end rows={table.count(chr(10).encode()) - 1} crc32={zlib.crc32(table):08X}\n"\
        .encode()


def channel(column: str, readings: object = (), **more: object) -> Channel:
    values = {"role": "track", "full_scale": 1024.0, "reference_volts": 5.0} | more
    return Channel(column, readings=np.asarray(readings, float), **values)  # type: ignore[arg-type]


def header(columns: str = "ab") -> RecordingHeader:
    return RecordingHeader(tuple(channel(c) for c in columns), title="t", rate_hz=500.0,
                           started="2026-11-25T10:00:00+01:00", board_name="a board")


def put(path: Path, data: bytes | str) -> Path:
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def test_the_example_of_the_format_is_read_as_described(tmp_path):
    recording = read_recording(put(tmp_path / "e.csv", sealed(EXAMPLE)))
    assert recording.complete
    assert recording.title == "box as found"
    assert recording.started == "2026-05-02T09:14:03+02:00"
    assert (recording.rate_hz, recording.board_name) == (500.0, "10-bit board")
    assert recording.time_s.tolist() == [0.0, 0.002, 0.004]
    a = recording.channel("a").readings
    assert a[0] == 98
    assert np.isnan(a[1])
    assert a[2] == 99
    assert recording.channel("supply").nominal_volts == 5.0
    assert recording.marks == (Mark(1, "rest"), Mark(2, "gap 3"))
    assert recording.lost_samples == 3


def test_the_check_sum_is_the_standard_one(tmp_path):
    # CRC-32/ISO-HDLC check value (CHECK_VALUES.md, Bytes; RevEng catalogue).
    assert zlib.crc32(b"123456789") == 0xCBF43926
    path = tmp_path / "r.csv"
    with RecordingWriter(path, header()) as writer:
        writer.add(np.array([0.0, 0.5]), np.array([[1, 2], [3, 4]]))
    body, _, trailer = path.read_bytes().rpartition(b"# end ")
    table = body[body.index(b"time_s,"):]
    assert trailer == f"rows=2 crc32={zlib.crc32(table):08X}\n".encode()


def test_what_is_written_is_toml_and_csv_for_other_readers(tmp_path):
    path = tmp_path / "r.csv"
    with RecordingWriter(path, header()) as writer:
        writer.mark("press")
        writer.add(np.array([0.0, 0.002, 0.004]), np.array([[98, 57], [99, 58], [97, 56]]),
                   np.array([0, 0, 4]))
    text = path.read_text(encoding="utf-8")
    # tomllib and pandas are the outside readers of TOML and RFC 4180 CSV.
    head = tomllib.loads("".join(line.removeprefix("# ") for line in text.splitlines(True)
                                 if line.startswith("# ") and not line.startswith("# end")))
    assert head["stillpedal_recording"] == 1
    assert head["board"] == {"name": "a board"}
    assert [c["column"] for c in head["channel"]] == ["a", "b"]
    table = pandas.read_csv(path, comment="#")
    assert list(table.columns) == ["time_s", "a", "b", "mark"]
    assert table["a"].tolist() == [98, 99, 97]
    assert table["mark"].tolist()[0] == "press"
    assert table["mark"].tolist()[2] == "gap 4"


TEXTS = st.text(st.characters(codec="utf-8"), max_size=20)
NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1,
                max_size=6).filter(lambda s: s not in ("time_s", "mark") and s[0] != "#")


@st.composite
def recordings(draw):
    rows = draw(st.integers(0, 30))
    times = np.sort(np.array(draw(st.lists(
        st.floats(0, 1e6) | st.integers(0, 10**9).map(lambda k: k / 1e6),
        min_size=rows, max_size=rows))))
    names = draw(st.lists(NAMES, min_size=1, max_size=4, unique=True))
    channels = []
    for name in names:
        unit = draw(st.sampled_from(["counts", "V"]))
        cells = (st.integers(-(2**24), 2**24).map(float) | st.just(float("nan"))
                 if unit == "counts" else
                 st.floats(-1e12, 1e12) | st.just(float("nan"))
                 | st.integers(0, 500).map(lambda k: k / 100))
        readings = draw(st.lists(cells, min_size=rows, max_size=rows))
        channels.append(channel(name, readings, unit=unit, role=draw(
            st.sampled_from(["track", "other"])), scale=draw(st.sampled_from([1.0, 2.5]))))
    marked = draw(st.sets(st.integers(0, rows - 1))) if rows else set()
    marks = tuple(Mark(r, draw(st.sampled_from(["rest", "gap 7", 'a "b", c', "schräg #1"])))
                  for r in sorted(marked))
    extra = {k: v for k, v in draw(st.dictionaries(TEXTS, st.one_of(
        TEXTS, st.integers(-(2**60), 2**60), st.booleans(), st.floats(allow_nan=False),
        st.lists(st.integers(0, 9), max_size=3))), ).items()
        if k not in ("title", "purpose", "started", "rate_hz", "board", "channel",
                     "stillpedal_recording")}
    return Recording(times, tuple(channels), marks, draw(TEXTS), "meter", draw(TEXTS),
                     draw(st.sampled_from([None, 333.25])), draw(st.booleans()), draw(TEXTS),
                     extra)


@settings(max_examples=150, deadline=None)
@given(recordings())
def test_every_recording_comes_back_bit_for_bit(tmp_path_factory, recording):
    path = tmp_path_factory.mktemp("r") / "r.csv"
    write_recording(path, recording)
    back = read_recording(path)
    np.testing.assert_array_equal(back.time_s, recording.time_s)
    assert [c.column for c in back.channels] == [c.column for c in recording.channels]
    for one, other in zip(back.channels, recording.channels, strict=True):
        np.testing.assert_array_equal(one.readings, other.readings)
        assert (one.role, one.unit, one.scale) == (other.role, other.unit, other.scale)
    assert back.marks == recording.marks
    for name in ("title", "purpose", "started", "rate_hz", "complete", "board_name", "extra"):
        assert getattr(back, name) == getattr(recording, name)


CELLS = st.one_of(
    st.integers(0, 99999999).map(str), st.integers(0, 9999).map(str),
    st.tuples(st.integers(0, 9999), st.integers(0, 999999)).map(lambda p: f"{p[0]}.{p[1]:06d}"),
    st.floats(-1e12, 1e12).map(repr), st.just(""),
    st.integers(-99, 10**12).map(str), st.sampled_from(["1.", ".5", "+3", "007", "1e3", "-0"]))


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(CELLS, CELLS, st.sampled_from([
    "", "", "", "", "rest", "gap 3", "press 2 - slow.", "Größe", "!", '"x, ""y"""', '"a\nb"'])),
    min_size=1, max_size=60), st.integers(0, 5))
def test_a_cell_is_what_csv_and_float_make_of_it(tmp_path_factory, rows, repeats):
    # Outside reference: Python's csv module and its correctly rounded float().
    rows = rows * (repeats + 1)
    lines = [f"{k}.{k % 1000000:06d},{a},{b},{m}\n" for k, (a, b, m) in enumerate(rows)]
    head = EXAMPLE[: EXAMPLE.index("time_s,")]
    data = sealed(head + "time_s,a,supply,mark\n" + "".join(lines))
    counted = b" rows=%d " % "".join(lines).count("\n")
    assert counted in data
    recording = read_recording(put(tmp_path_factory.mktemp("c") / "c.csv",
                                   data.replace(counted, b" rows=%d " % len(lines))))
    expected = list(csv.reader(io.StringIO("".join(lines))))
    for k, name in enumerate(("a", "supply")):
        np.testing.assert_array_equal(
            recording.channel(name).readings,
            [float(r[k + 1]) if r[k + 1] else np.nan for r in expected])
    np.testing.assert_array_equal(recording.time_s, [float(r[0]) for r in expected])
    assert recording.marks == tuple(Mark(k, r[3]) for k, r in enumerate(expected) if r[3])


def test_a_file_cut_at_any_byte_opens_with_all_whole_rows(tmp_path):
    data = sealed(EXAMPLE)
    rows_start = data.index(b"0.000,")
    whole = read_recording(put(tmp_path / "whole.csv", data))
    for end in range(rows_start, len(data)):
        cut = read_recording(put(tmp_path / "cut.csv", data[:end]))
        assert cut.rows == min(data[rows_start:end].count(b"\n"), 3)
        # Only the newline behind the trailer may be missing without harm.
        assert cut.complete == (end == len(data) - 1)
        assert cut.time_s.tolist() == whole.time_s[: cut.rows].tolist()
    for end in range(rows_start):
        with pytest.raises(BadFile, match="nothing was recorded"):
            read_recording(put(tmp_path / "cut.csv", data[:end]))


def test_a_changed_byte_in_the_table_is_never_silently_used(tmp_path):
    data = sealed(EXAMPLE)
    table = data.index(b"time_s,")
    for place in range(table, len(data) - 1):
        for value in (data[place] ^ 1, data[place] ^ 0x20, 0, ord(","), ord("\n")):
            if value == data[place]:
                continue
            changed = data[:place] + bytes([value]) + data[place + 1:]
            try:
                recording = read_recording(put(tmp_path / "d.csv", changed))
            except BadFile as error:
                assert "\n" not in str(error)  # noqa: PT017 - the point is that it may not raise
            else:
                # Lower-case hex is the same sum; a broken trailer line makes a cut file.
                same_sum = changed[place:].rstrip().isalnum() and changed[table:].lower() \
                    == data[table:].lower()
                assert same_sum or not recording.complete
                assert recording.rows <= 3


def test_nul_bytes_where_the_last_rows_should_be_count_as_cut(tmp_path):
    # What a journaling file system may leave after a power cut: common practice, no source.
    recording = read_recording(put(tmp_path / "n.csv", EXAMPLE.encode() + b"0.006,9" + bytes(5000)))
    assert (recording.rows, recording.complete) == (3, False)


HEAD = EXAMPLE[: EXAMPLE.index("time_s,")]


@pytest.mark.parametrize(("text", "reason"), [
    ("", "empty"),
    ("time_s,a,mark\n0,1,\n", "stillpedal import"),
    (EXAMPLE.replace("recording = 1", "recording = 2"), "version 2 is not known"),
    (EXAMPLE.replace("recording = 1", 'recording = "1"'), "version '1' is not known"),
    (EXAMPLE.replace("stillpedal_recording = 1\n", "x = 1\n"), "not a recording"),
    (EXAMPLE.replace('"box as found"', "box"), "not TOML"),
    (EXAMPLE.replace("rate_hz = 500.0", "rate_hz = -1"), "rate_hz is -1"),
    (EXAMPLE.replace("rate_hz = 500.0", "rate_hz = true"), "rate_hz is True"),
    (EXAMPLE.replace('title = "box as found"', "title = 3"), "title is 3"),
    (EXAMPLE.replace('role = "track"', 'role = "trick"'), "role 'trick'"),
    (EXAMPLE.replace('purpose = "sweep"', 'purpose = "fun"'), "purpose 'fun'"),
    (EXAMPLE.replace("full_scale = 1024", "full_scale = 0"), "full_scale is 0"),
    (EXAMPLE.replace('column = "supply"', 'column = "a"'), "two channels are called 'a'"),
    (EXAMPLE.replace("time_s,a,supply,mark", "time_s,a,b,mark"), "they must agree"),
    (EXAMPLE.replace("time_s,a,supply,mark", "t,a,supply,mark"), "must name the columns"),
    (EXAMPLE.replace("0.002,,1022", "0.002,1e,1022"), "row 2 .*'1e' is not a number"),
    (EXAMPLE.replace("0.002,,1022", "0.002,nan,1022"), "row 2 .*'nan' is not a number"),
    (EXAMPLE.replace("0.002,,1022", "0.002,1e999,1022"), "row 2 .*too large"),
    (EXAMPLE.replace("0.002,,1022", ",,1022"), "row 2 .*no time"),
    (EXAMPLE.replace("0.002,,1022", "0.002,1022"), "row 2 .*3 cells where 4"),
    (EXAMPLE.replace("0.002,,1022", "0.002,\0,1022"), "row 2 .*NUL"),
    (EXAMPLE.replace("0.002", "\n0.002"), "row 2 .*empty"),
    (EXAMPLE.replace("0.002", "# note\n0.002"), "row 2 .*comment inside the table"),
    (EXAMPLE.replace("0.004", "0.001"), "backwards at row 3"),
    (HEAD + "time_s,a,supply,mark", "nothing was recorded"),
    ("# x = 1\n" * 200_000, "longer than"),
    ("# " + "x" * 3_000_000, "longer than"),
], ids=range(27))
def test_a_damaged_file_is_refused_with_one_line_that_says_why(tmp_path, text, reason):
    path = put(tmp_path / "bad.csv", text)
    with pytest.raises(BadFile, match=reason) as caught:
        read_recording(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)
    if "time_s,a,supply,mark\n" in text and "0.004" in text:
        # The same once more with a trailer whose sum is right for the bad content.
        with pytest.raises(BadFile, match=reason):
            read_recording(put(path, sealed(text)))


@pytest.mark.parametrize("data", [
    b"\xff\xfe#\0 \0", b"\x00" * 100, b"\x1f\x8b\x08", b"# \xff\xfe = 1\nx\n", b"#\n", b"# a=1\n",
])
def test_a_file_of_another_kind_is_refused(tmp_path, data):
    with pytest.raises(BadFile):
        read_recording(put(tmp_path / "x.csv", data))


def test_a_missing_file_or_a_folder_is_refused(tmp_path):
    with pytest.raises(BadFile, match="No such file"):
        read_recording(tmp_path / "none.csv")
    with pytest.raises(BadFile, match="cannot read"):
        read_recording(tmp_path)


def test_a_wrong_sum_names_the_first_bad_row(tmp_path):
    data = sealed(EXAMPLE).replace(b"0.002,,1022", b"0.002,x,1022")
    with pytest.raises(BadFile, match=r"damaged: its check sum .*row 2"):
        read_recording(put(tmp_path / "x.csv", data))


def test_converted_line_ends_are_told_as_such(tmp_path):
    path = put(tmp_path / "crlf.csv", sealed(EXAMPLE).replace(b"\n", b"\r\n"))
    with pytest.raises(BadFile, match=r"CRLF .*readings are as recorded"):
        read_recording(path)


def test_a_hand_edited_file_with_crlf_and_no_trailer_opens(tmp_path):
    text = "\ufeff" + EXAMPLE.replace("\n", "\r\n")
    recording = read_recording(put(tmp_path / "crlf.csv", text))
    assert (recording.rows, recording.complete, recording.lost_samples) == (3, False, 3)


def test_a_quoted_mark_may_run_over_lines(tmp_path):
    text = EXAMPLE.replace('"gap 3"', '"two\nlines"') + "0.006,1,1,\n"
    data = sealed(text).replace(b"rows=5", b"rows=4")
    recording = read_recording(put(tmp_path / "q.csv", data))
    assert recording.marks[-1] == Mark(2, "two\nlines")
    assert recording.rows == 4


def test_unknown_header_keys_are_kept_and_written_back(tmp_path):
    text = EXAMPLE.replace('purpose = "sweep"', 'purpose = "sweep"\n# bench = { no = 4 }') \
        .replace('name = "10-bit board"', 'name = "10-bit board"\n# serial = "0 1"') \
        .replace('unit = "counts"', 'unit = "counts"\n# wire = "green"', 1)
    recording = read_recording(put(tmp_path / "k.csv", text))
    wanted = {"bench": {"no": 4}, "board": {"serial": "0 1"}, "channel": {"a": {"wire": "green"}}}
    assert recording.extra == wanted
    write_recording(tmp_path / "again.csv", recording)
    assert read_recording(tmp_path / "again.csv").extra == wanted


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
        from analysis.recording import Channel
        from bench.errors import BadFile
        from bench.recording_file import RecordingHeader, RecordingWriter
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
    return subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE,
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


def test_reading_is_no_slower_than_twice_pandas(tmp_path):
    rows = 300_000
    rng = np.random.default_rng(4)
    path = tmp_path / "big.csv"
    write_recording(path, Recording(
        np.arange(rows) / 1000, tuple(channel(c, rng.integers(0, 4096, rows), full_scale=4096.0)
                                      for c in "abcd")))

    def best(read):
        times = []
        for _ in range(5):
            start = time.process_time()
            read(path)
            times.append(time.process_time() - start)
        return min(times)

    # Reference: the C engine of pandas, told that no type need be guessed.
    reference = best(lambda p: pandas.read_csv(p, comment="#", dtype={"mark": str}))
    assert best(read_recording) < 2 * reference
