"""The recording file keeps every reading, and other readers can read it."""

import csv
import io
import time
import tomllib
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sealed_recording import EXAMPLE, HEAD, channel, header, put, sealed

from analysis.model.recording import Mark, Recording
from bench.errors import BadFile
from bench.files.recording_file import RecordingWriter, read_recording, write_recording
from bench.files.table_text import Table


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
    import pandas

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


@settings(max_examples=60, deadline=None)
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


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(CELLS, CELLS, st.sampled_from([
    "", "", "", "", "rest", "gap 3", "press 2 - slow.", "Größe", "!", '"x, ""y"""', '"a\nb"',
    '"1.5,2,3,\n4.5,5,6,\n7.5,8,9,"'])),
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


def test_many_rows_of_long_or_negative_numbers_are_floats_of_their_text(tmp_path):
    """Among short rows, with a mark and an empty cell here and there, and a bad one is named."""
    rng = np.random.default_rng(3)
    times = np.sort(rng.uniform(0.0, 9.0, 400))
    cells = [[repr(t) if k % 3 else f"{t:.3f}", repr(v), str(n)] for k, (t, v, n) in enumerate(zip(
        times.tolist(), rng.normal(0.0, 2.0, 400).tolist(), rng.integers(0, 999, 400).tolist(),
        strict=True))]
    for odd in (False, True):
        marks = {7: "press", 300: '"a, b"'} if odd else {}
        if odd:
            cells[50][1] = ""
        text = "".join(f"{','.join(row)},{marks.get(k, '')}\n" for k, row in enumerate(cells))
        table = Table(2, 400, 0)
        assert table.add_block(text.encode()) == b""
        assert table.rows == 400
        assert table.line == 400
        assert table.time_s.tolist() == [float(row[0]) for row in cells]
        assert [repr(v) for v in table.values[0].tolist()] == [
            repr(float(row[1] or "nan")) for row in cells]
        assert table.values[1].tolist() == [float(row[2]) for row in cells]
        assert [m.row for m in table.marks] == sorted(marks)
    for wrong, words in (("1-2", "is not a number"), ("9" * 40, "is too large"), ("1,2", "cells")):
        cells[333][1] = wrong
        text = "".join(f"{','.join(row)},\n" for row in cells)
        with pytest.raises(BadFile, match=rf"row 334 \(line 334\).*{words}"):
            Table(2, 400, 0).add_block(text.encode())


def test_sixteen_digits_are_rounded_once(tmp_path):
    """Outside reference: Python's correctly rounded float(); as one whole number they do not fit
    the 53 bits of a double (IEEE 754)."""
    cells = [f"{90071993 + 9000 * k}.{(7654321 * k + 1) % 10**8:08d}" for k in range(1000)]
    table = "".join(f"{k},{cell},1,\n" for k, cell in enumerate(cells))
    recording = read_recording(put(tmp_path / "s.csv", sealed(HEAD + "time_s,a,supply,mark\n"
                                                              + table)))
    assert recording.channel("a").readings.tolist() == [float(cell) for cell in cells]


def test_a_quoted_mark_may_run_over_lines(tmp_path):
    text = EXAMPLE.replace('"gap 3"', '"two\nlines"') + "0.006,1,1,\n"
    data = sealed(text).replace(b"rows=5", b"rows=4")
    recording = read_recording(put(tmp_path / "q.csv", data))
    assert recording.marks[-1] == Mark(2, "two\nlines")
    assert recording.rows == 4


def test_lines_of_a_quoted_mark_that_look_like_rows_are_none(tmp_path):
    """RFC 4180, 2.6: a line break within double quotes ends no record."""
    mark = "as told:\n0.5,1,2,\n0.6,3,4,\na, b and, c"
    data = sealed(EXAMPLE.replace('"gap 3"', f'"{mark}"')).replace(b"rows=6", b"rows=3")
    recording = read_recording(put(tmp_path / "q.csv", data))
    assert recording.marks[-1] == Mark(2, mark)
    assert recording.time_s.tolist() == [0.0, 0.002, 0.004]


def test_unknown_header_keys_are_kept_and_written_back(tmp_path):
    text = EXAMPLE.replace('purpose = "sweep"', 'purpose = "sweep"\n# bench = { no = 4 }') \
        .replace('name = "10-bit board"', 'name = "10-bit board"\n# serial = "0 1"') \
        .replace('unit = "counts"', 'unit = "counts"\n# wire = "green"', 1)
    recording = read_recording(put(tmp_path / "k.csv", text))
    wanted = {"bench": {"no": 4}, "board": {"serial": "0 1"}, "channel": {"a": {"wire": "green"}}}
    assert recording.extra == wanted
    write_recording(tmp_path / "again.csv", recording)
    assert read_recording(tmp_path / "again.csv").extra == wanted


def test_reading_is_no_slower_than_twice_pandas(tmp_path):
    import pandas

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


def test_the_shortest_rows_that_can_be_have_room(tmp_path):
    """RFC 4180: an empty field is a field; a row of one digit and two commas is five bytes."""
    head = EXAMPLE[:EXAMPLE.index("0.000,")]
    found = read_recording(put(tmp_path / "r.csv", sealed(head + "0,,,\n" * 50)))
    assert found.rows == 50
    assert np.isnan(found.channels[0].readings).all()


def test_a_wrong_number_of_rows_is_told_with_both_numbers(tmp_path):
    data = sealed(EXAMPLE).replace(b"rows=3", b"rows=4")
    with pytest.raises(BadFile, match="the trailer promises 4 rows, there are 3;"):
        read_recording(put(tmp_path / "r.csv", data))


def test_a_missing_file_is_told_in_words_alone(tmp_path):
    with pytest.raises(BadFile, match=r"cannot read \S+: No such file or directory\Z"):
        read_recording(tmp_path / "none.csv")
