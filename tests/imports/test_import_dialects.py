"""Logs in the dialects of scopes, loggers and scripts come in as what was measured.

The dialects and the truth they were written from stand in import_dialects.py.
"""

import hashlib
import json

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from import_dialects import AB, DIALECTS, ROWS, A, B, T, clock, lines, written

from bench.command_line import main
from bench.errors import BadCall, BadFile, BenchError
from bench.files.imports import ImportOptions, import_log, preview
from bench.files.imports.cells import decimal_sign, number
from bench.files.recording_file import read_recording, write_recording


@pytest.mark.parametrize("name", list(DIALECTS))
def test_a_dialect_gives_back_what_was_measured(name, tmp_path):
    text, encoding, options = DIALECTS[name]
    recording = import_log(written(tmp_path, text, encoding), ImportOptions(**options))
    assert [c.column for c in recording.channels] == ["a", "b"]
    assert recording.rows == ROWS
    # Days with ten decimals and single-precision exponents carry the least: 10 us, 0.5 mV.
    assert np.allclose(recording.time_s, T, atol=2e-5, rtol=0)
    assert np.allclose(recording.channel("a").volts(), A, atol=6e-4, rtol=0)
    assert np.allclose(recording.channel("b").volts(), B, atol=6e-4, rtol=0)
    assert recording.rate_hz == pytest.approx(200.0, rel=0.01)
    assert recording.lost_samples == 0


@pytest.mark.parametrize("name", list(DIALECTS))
def test_the_preview_of_a_dialect_needs_no_question(name, tmp_path):
    text, encoding, options = DIALECTS[name]
    seen = preview(written(tmp_path, text, encoding), ImportOptions(**options))
    assert seen.question is None
    assert set(seen.roles) == {"a", "b"}
    assert seen.row_count == ROWS
    assert len(seen.rows) == 20


def test_an_imported_log_is_an_ordinary_recording(tmp_path):
    text = DIALECTS["time of day"][0]
    path = written(tmp_path, text)
    recording = import_log(path, ImportOptions(columns=AB, supply_volts=5.0, title="scope, May"))
    target = tmp_path / "out.csv"
    write_recording(target, recording)
    read = read_recording(target)
    assert read.complete
    assert read.title == "scope, May"
    assert np.allclose(read.time_s, recording.time_s, atol=1e-6)
    assert np.array_equal(read.channel("a").readings, A)
    assert read.extra["imported"]["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert path.read_text() == text


@pytest.mark.parametrize(("name", "started"), [
    ("ISO 8601 with zone", "2026-05-02T09:14:03.000+02:00"),
    ("day first, decimal comma", "2026-05-02T09:14:03.000"),
    # 1 700 000 000 s since 1970: `date -u -d @1700000000`.
    ("seconds since 1970", "2023-11-14T22:13:20+00:00"),
    # Serial day 46144 of a spreadsheet: 1899-12-30 plus so many days.
    ("days of a spreadsheet", "2026-05-02T00:00:00"),
    ("time of day", ""),
])
def test_the_start_of_the_log_is_kept_where_it_tells_it(name, started, tmp_path):
    text, encoding, options = DIALECTS[name]
    recording = import_log(written(tmp_path, text, encoding), ImportOptions(**options))
    assert recording.started == started


def test_a_date_that_can_be_read_two_ways_is_said(tmp_path):
    text = lines("Date,CH1", row=lambda t, a, b: f"11/01/2026 {clock(t)},{a:.3f}")
    recording = import_log(written(tmp_path, text), ImportOptions(columns={"a": "CH1"}))
    assert recording.started.startswith("2026-01-11T09:14:03")
    assert any("day was taken to stand first" in n for n in recording.extra["imported"]["notes"])


def test_missing_cells_stay_missing_and_lost_samples_become_gaps(tmp_path):
    rows = lines("Time (s),CH1,CH2", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}").splitlines()
    rows[11] = "0.050,,0.300"
    rows[12] = "0.055,OL,n/a"
    del rows[101:104]
    recording = import_log(written(tmp_path, "\n".join(rows)), ImportOptions(columns=AB))
    assert np.flatnonzero(np.isnan(recording.channel("a").readings)).tolist() == [10, 11]
    assert np.flatnonzero(np.isnan(recording.channel("b").readings)).tolist() == [11]
    assert [(m.row, m.text) for m in recording.marks] == [(100, "gap 3")]
    assert recording.lost_samples == 3


def test_rows_of_missing_readings_keep_their_time_when_only_the_rate_is_known(tmp_path):
    recording = import_log(
        written(tmp_path, "a;b\n1,5;2,5\n1,6;2,5\n1,7;2,6\n;\nnan;nan\n1,8;2,5\n"),
        ImportOptions(rate_hz=10.0))
    assert recording.rows == 6
    assert np.isnan(recording.channel("a").readings).tolist() == [
        False, False, False, True, True, False]


def test_uneven_sampling_is_kept_and_said(tmp_path):
    random = np.random.default_rng(5)
    times = np.cumsum(random.uniform(0.002, 0.02, ROWS))
    text = "Time (s),CH1\n" + "".join(
        f"{t:.6f},{a:.3f}\n" for t, a in zip(times, A, strict=True))
    recording = import_log(written(tmp_path, text), ImportOptions(columns={"a": "CH1"}))
    assert np.allclose(np.diff(recording.time_s), np.diff(times), atol=1.1e-6)
    assert recording.rate_hz is None
    assert recording.marks == ()
    assert any("unevenly" in note for note in recording.extra["imported"]["notes"])


def test_every_column_may_have_its_own_unit(tmp_path):
    text = "Time (s),a (mV),b (V),5V\n" + "".join(
        f"{i * 0.01:.2f},{1500 + i},0.{700 + i},4.98\n" for i in range(200))
    recording = import_log(written(tmp_path, text), ImportOptions(supply_volts=5.0))
    assert [c.column for c in recording.channels] == ["a", "b", "supply"]
    assert recording.channel("a").volts()[7] == 1.507
    assert recording.channel("b").volts()[7] == 0.707
    assert recording.supply.volts()[0] == 4.98


def test_counts_supply_marks_and_scale_come_in(tmp_path):
    text = "ms,pot one,pot two,5V,note\n" + "".join(
        f"{5 * i},{100 + i},{50 + i},1023,{'bump' if i == 7 else ''}\n" for i in range(300))
    recording = import_log(written(tmp_path, text), ImportOptions(
        columns={"a": "pot one", "b": "pot two", "supply": "5V"}, time="ms", mark="note",
        full_scale=1024, reference_volts=5.0, supply_volts=5.0, scale=2.0))
    a = recording.channel("a")
    assert (a.unit, a.full_scale, a.role) == ("counts", 1024, "track")
    assert a.volts()[0] == pytest.approx(100 * 5 / 1024 * 2)
    assert recording.supply.nominal_volts == 5.0
    assert [(m.row, m.text) for m in recording.marks] == [(7, "bump")]


PLAIN = "Time (s),CH1,CH2\n" + "".join(f"{i * 0.005:.3f},1.{i:03d},2.{i:03d}\n" for i in range(300))


@pytest.mark.parametrize(("text", "options", "message"), [
    (PLAIN, {"columns": {"a": "CH3"}}, r"--a: no column 'CH3'; did you mean 'CH"),
    (PLAIN, {"columns": {"a": "zz"}}, r"there are 'Time \(s\)', 'CH1', 'CH2'"),
    (PLAIN, {"columns": {"a": "CH1", "b": "CH1"}}, "--b and --a both name"),
    (PLAIN.replace("CH1,CH2", "left,right"), {}, "say --a 'left' --b 'right'"),
    (PLAIN.replace("CH2", "CH1"), {"columns": {"a": "CH1"}}, "--a 2 or 3"),
    (PLAIN.replace("Time (s)", "x"), {"columns": AB}, "--time"),
    (PLAIN, {"columns": AB, "rate_hz": -1.0}, "--rate is -1"),
    (PLAIN, {"columns": AB, "decimal": "x"}, "--decimal 'x'"),
    (PLAIN, {"columns": AB, "delimiter": "@"}, "--delimiter '@'"),
    (PLAIN, {"columns": AB, "encoding": "klingon"}, "--encoding 'klingon'"),
    (PLAIN, {"columns": AB, "time_unit": "weeks"}, "--time-unit 'weeks'"),
    (PLAIN, {"columns": AB, "unit": "kV"}, "--readings-in 'kV'"),
    # What cannot be known is asked for.
    ("n,a\n" + "".join(f"{i},1.5\n" for i in range(300)), {"time": "n"}, "--rate"),
    ("t,a\n" + "".join(f"{i * 777},1.5\n" for i in range(9)), {"time": "t"}, "--time-unit"),
    ("Time,a\n" + "".join(f"12:00:{i // 100:02d},1.5\n" for i in range(400)), {}, "--rate"),
    ("Time (s),a\n" + "".join(f"{i * 0.01:.2f},{i % 1000}\n" for i in range(300)), {},
     "--readings-in mV, or for counts --full-scale"),
    ("Time (s),a (counts)\n" + "".join(f"{i * 0.01:.2f},{i}\n" for i in range(300)), {},
     "--full-scale"),
    ("Time (ms);a\n" + "".join(f"{i * 5};1,{i % 900 + 100}\n" for i in range(300)), {},
     "--decimal"),
    # What contradicts itself is refused.
    (PLAIN + PLAIN, {"columns": AB}, "time runs backwards at line 303"),
    ("hello\nworld\n", {}, "no table of numbers"),
    ("", {}, "is empty"),
    ("PK\x03\x04rest", {}, "save the sheet as CSV"),
    ("\x00\x01\x02binary\x00x", {}, "not a text file"),
    ("# stillpedal_recording = 1\n", {}, "is a recording already"),
])
def test_what_cannot_be_known_is_asked_for_in_one_line(text, options, message, tmp_path):
    with pytest.raises(BenchError, match=message) as caught:
        import_log(written(tmp_path, text), ImportOptions(**options))
    assert "\n" not in str(caught.value)


def test_the_preview_shows_the_table_and_the_question(tmp_path):
    seen = preview(written(tmp_path, PLAIN.replace("CH1,CH2", "left,right")))
    assert seen.names == ("Time (s)", "left", "right")
    assert "--a" in seen.question
    assert seen.rows[0] == ("0.000", "1.000", "2.000")


def test_a_log_that_is_not_there_is_one_line(tmp_path):
    with pytest.raises(BadFile, match=r"cannot read .*check the name"):
        import_log(tmp_path / "none.csv")


@pytest.mark.parametrize(("cell", "decimal", "value"), [
    ("1,234.5", ".", 1234.5), ("1.234,5", ",", 1234.5), ("1'234.5", ".", 1234.5),
    ("1 234,5", ",", 1234.5), ("-.5", ".", -0.5), ("5.", ".", 5.0), ("1e-3", ".", 1e-3),
    ("1,5E+02", ",", 150.0), ("12 mV", ".", 12.0), ("\u22123", ".", -3.0),
])
def test_a_cell_is_read_in_either_notation(cell, decimal, value):
    assert number(cell, decimal) == value


@pytest.mark.parametrize(("cells", "sign"), [
    (["1.5"], "."), (["1,5"], ","), (["1,234.5"], "."), (["1.234,5"], ","), (["0,512"], ","),
    (["1,234"], None), (["1,234", "2,5"], ","), (["1.234.567"], ","), (["12"], "."),
])
def test_the_decimal_sign_follows_from_the_cells_or_stays_open(cells, sign):
    assert decimal_sign(cells) == sign


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet=st.sampled_from("0123456789.,;\t|:- \n\"'abTime()smV#\x00é"), max_size=200))
@example("\t:\n0")
def test_any_text_is_a_recording_or_one_line(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("fuzz") / "log.csv"
    path.write_bytes(text.encode())
    said = ""
    try:
        recording = import_log(path)
        assert recording.rows >= 2
    except (BadCall, BadFile) as error:
        said = str(error)
    assert "\n" not in said


def test_the_command_imports_a_log_and_never_writes_over_a_file(tmp_path, capsys):
    log = written(tmp_path, DIALECTS["logger: semicolon, decimal comma, Latin-1"][0], "latin-1")
    call = ["import", str(log), "--time", "Zeit (s)", "--a", "CH1", "--b", "CH2",
            "--supply-volts", "3.3", "--out", str(tmp_path / "x.csv")]
    assert main(call) == 0
    assert "800 rows" in capsys.readouterr().out
    recording = read_recording(tmp_path / "x.csv")
    assert np.array_equal(recording.channel("a").readings, A)
    # Without a supply column the nominal supply still travels with the recording.
    assert recording.nominal_volts == 3.3
    assert recording.supply is None
    before = (tmp_path / "x.csv").read_bytes()
    assert main(call) == 2
    assert "not written over" in capsys.readouterr().err
    assert (tmp_path / "x.csv").read_bytes() == before


def test_the_command_asks_in_one_line_and_previews(tmp_path, capsys):
    log = written(tmp_path, PLAIN.replace("CH1,CH2", "left,right"))
    assert main(["import", str(log)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "--a" in said.err
    assert main(["import", str(log), "--preview"]) == 0
    assert "to be said: " in capsys.readouterr().out
    assert main(["import", str(log), "--preview", "--json", "--a", "left"]) == 0
    assert json.loads(capsys.readouterr().out)["roles"] == {"a": "left"}
    assert [p.name for p in tmp_path.iterdir()] == ["log.csv"]
