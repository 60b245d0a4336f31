"""Logs in the dialects of scopes, loggers and scripts come in as what was measured.

Every dialect is our own invention, written from one known truth: two tracks for four seconds.
"""

import hashlib
import json

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bench.command_line import main
from bench.errors import BadCall, BadFile, BenchError
from bench.imports import ImportOptions, import_log, preview
from bench.imports.cells import decimal_sign, number
from bench.recording_file import read_recording, write_recording

ROWS = 800
T = np.arange(ROWS) * 0.005
A = np.round(0.6 + 3.6 * np.clip(np.sin(T * 1.5), 0, 1), 3)
B = np.round(0.3 + 0.5 * (A - 0.6), 3)


def comma(text: str) -> str:
    return text.replace(".", ",")


def clock(second: float, sign: str = ".", start: float = 33_243.0) -> str:
    whole = round((start + second) * 1000)
    hours, rest = divmod(whole, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours % 24:02d}:{minutes:02d}:{rest // 1000:02d}{sign}{rest % 1000:03d}"


def lines(*head: str, row, foot: tuple[str, ...] = (), end: str = "\n") -> str:
    body = [row(t, a, b) for t, a, b in zip(T, A, B, strict=True)]
    return end.join([*head, *body, *foot]) + end


def thousands(value: float, mark: str, decimal: str) -> str:
    return f"{value:,.1f}".replace(",", "_").replace(".", decimal).replace("_", mark)


AB = {"a": "CH1", "b": "CH2"}
# name -> (text, encoding, options). Each must give T, A and B back.
DIALECTS = {
    "plain, seconds": (
        lines("Time (s),CH1,CH2", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}"),
        "utf-8", {"columns": AB}),
    "scope: row of units, exponents, trigger in the middle": (
        lines("Source,CH1,CH2", "second,Volt,Volt",
              row=lambda t, a, b: f"{t - 2:+.4E},{a:+.4E},{b:+.4E}"),
        "utf-8", {"columns": AB, "time": "Source"}),
    "scope: settings beside the first rows, no header": (
        "\n".join(
            f"{['Record Length,800', 'Sample Interval,0.005', 'Vertical Units,V', ','][min(i, 3)]}"
            f",,{t:.3f},{a:.3f},{b:.3f}" for i, (t, a, b) in enumerate(zip(T, A, B, strict=True))),
        "utf-8", {"columns": {"a": "5", "b": "6"}, "time": "4", "time_unit": "s", "unit": "V"}),
    "scope: long preamble of settings": (
        lines("Format,1.2", "Probe,10", "Coupling,DC,", "", "Time [ms],CH1 [mV],CH2 [mV]",
              row=lambda t, a, b: f"{t * 1e3:.1f},{a * 1e3:.0f},{b * 1e3:.0f}"),
        "utf-8", {"columns": AB}),
    "logger: semicolon, decimal comma, Latin-1": (
        lines("Gerät;Prüfplatz 2", "Zeit (s);CH1 (V);CH2 (V)",
              row=lambda t, a, b: comma(f"{t:.3f};{a:.3f};{b:.3f}")),
        "latin-1", {"columns": AB}),
    "logger: tab, decimal comma, UTF-16 with mark": (
        lines("Time (s)\tCH1\tCH2", row=lambda t, a, b: comma(f"{t:.3f}\t{a:.3f}\t{b:.3f}"),
              end="\r\n"), "utf-16", {"columns": AB}),
    "UTF-16 without mark": (
        lines("Time (s)\tCH1\tCH2", row=lambda t, a, b: f"{t:.3f}\t{a:.3f}\t{b:.3f}"),
        "utf-16-le", {"columns": AB}),
    "UTF-8 with mark, trailing delimiters": (
        lines("Time (s),CH1,CH2,", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f},"),
        "utf-8-sig", {"columns": AB}),
    "everything quoted": (
        lines('"Time (s)","CH1","CH2"', row=lambda t, a, b: f'"{t:.3f}","{a:.3f}","{b:.3f}"'),
        "utf-8", {"columns": AB}),
    "decimal comma inside quotes": (
        lines('"Time (s)","CH1","CH2"',
              row=lambda t, a, b: ",".join(f'"{comma(f"{v:.3f}")}"' for v in (t, a, b))),
        "utf-8", {"columns": AB}),
    "a spreadsheet's sep line": (
        lines("sep=;", "Time (s);CH1;CH2", row=lambda t, a, b: f"{t:.3f};{a:.3f};{b:.3f}"),
        "utf-8", {"columns": AB}),
    "script: spaces, no header": (
        lines(row=lambda t, a, b: f"{t:8.3f} {a:8.3f} {b:8.3f}"), "utf-8", {}),
    "script: comments before and between": (
        lines("# my logger", "# t a b", row=lambda t, a, b: (
            f"{t:.3f} {a:.3f} {b:.3f}" + ("\n# still running" if abs(t - 1) < 1e-6 else ""))),
        "utf-8", {"columns": {"a": "a", "b": "b"}, "time": "t"}),
    "script: microseconds in the name": (
        lines("time_us,a,b", row=lambda t, a, b: f"{t * 1e6 + 4e9:.0f},{a:.3f},{b:.3f}"),
        "utf-8", {}),
    "script: 32-bit microseconds start again": (
        lines("micros,a,b", row=lambda t, a, b: (
            f"{(round(t * 1e6) + 2 ** 32 - 1_500_000) % 2 ** 32},{a:.3f},{b:.3f}")), "utf-8", {}),
    "script: milliseconds without a unit": (
        lines("t,a,b", row=lambda t, a, b: f"{t * 1e3 + 12_345:.0f},{a:.3f},{b:.3f}"),
        "utf-8", {"time": "t"}),
    "seconds since 1970": (
        lines("timestamp,a,b", row=lambda t, a, b: f"{1.7e9 + t:.3f},{a:.3f},{b:.3f}"),
        "utf-8", {}),
    "milliseconds since 1970": (
        lines("timestamp;a;b", row=lambda t, a, b: comma(
            f"{1.7e12 + t * 1e3:.0f};{a:.3f};{b:.3f}")), "utf-8", {}),
    "time of day": (
        lines("Time,CH1,CH2", row=lambda t, a, b: f"{clock(t)},{a:.3f},{b:.3f}"),
        "utf-8", {"columns": AB}),
    "time of day past midnight, comma": (
        lines("Time;CH1;CH2", row=lambda t, a, b: comma(
            f"{clock(t, ',', 86_398.0)};{a:.3f};{b:.3f}")), "utf-8", {"columns": AB}),
    "time of day, AM and PM, date beside it": (
        lines("Date,Time,CH1,CH2", row=lambda t, a, b: (
            f"5/2/2026,{clock(t, '.', 33_243.0)} AM,{a:.3f},{b:.3f}")),
        "utf-8", {"columns": AB}),
    "ISO 8601 with zone": (
        lines("when,CH1,CH2", row=lambda t, a, b: (
            f"2026-05-02T{clock(t)}+02:00,{a:.3f},{b:.3f}")), "utf-8", {"columns": AB}),
    "day first, decimal comma": (
        lines("Datum Zeit;CH1;CH2", row=lambda t, a, b: comma(
            f"02#05#2026 {clock(t, ',')};{a:.3f};{b:.3f}").replace("#", ".")),
        "utf-8", {"columns": AB}),
    "days of a spreadsheet": (
        lines("Date,CH1,CH2", row=lambda t, a, b: f"{46144 + t / 86400:.10f},{a:.3f},{b:.3f}"),
        "utf-8", {"columns": AB}),
    "millivolts with thousands points": (
        lines("Time (s);CH1 (mV);CH2 (mV)", row=lambda t, a, b: (
            f"{comma(f'{t:.3f}')};{thousands(a * 1e3, '.', ',')};"
            f"{thousands(b * 1e3, '.', ',')}")), "utf-8", {"columns": AB}),
    "millivolts with apostrophes, unit behind": (
        lines("Time (s);CH1;CH2", row=lambda t, a, b: (
            f"{t:.3f} s;{thousands(a * 1e3, chr(39), '.')} mV;"
            f"{thousands(b * 1e3, chr(39), '.')} mV")), "utf-8", {"columns": AB}),
    "millivolts with narrow spaces": (
        lines("Time (s)\tCH1 (mV)\tCH2 (mV)", row=lambda t, a, b: (
            f"{t:.3f}\t{thousands(a * 1e3, chr(0x202f), ',')}\t"
            f"{thousands(b * 1e3, chr(0x202f), ',')}").replace(".", ",")),
        "utf-8", {"columns": AB}),
    "header repeated by the logger": (
        lines("Time (s),CH1,CH2", row=lambda t, a, b: (
            ("Time (s),CH1,CH2\n" if t in (1.0, 2.0) else "") + f"{t:.3f},{a:.3f},{b:.3f}")),
        "utf-8", {"columns": AB}),
    "footer with averages": (
        lines("Time (s),CH1,CH2", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}",
              foot=("", "Average,1.9,0.9", "End of log")), "utf-8", {"columns": AB}),
    "old line ends and blank lines": (
        lines("Time (s),CH1,CH2", "", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}", end="\r"),
        "utf-8", {"columns": AB}),
    "true minus sign and padding": (
        lines("Time (s) | CH1 | CH2", row=lambda t, a, b: (
            f" {f'{t - 1:.3f}'.replace('-', chr(0x2212))} | {a:.3f} | {b:.3f} ")),
        "utf-8", {"columns": AB}),
    "script: every reading named": (
        lines(row=lambda t, a, b: f"t={t:.3f} s, a={a:.3f} V, b={b:.3f} V"), "utf-8", {}),
    "script: for a plotter, a greeting first": (
        lines("hello, pedal logger", row=lambda t, a, b: (
            f"millis:{t * 1e3 + 40:.0f},a:{a * 1e3:.0f},b:{b * 1e3:.0f}")),
        "utf-8", {"unit": "mV"}),
    "scope: only the row of units tells the time": (
        lines("x-axis,1,2", "second,Volt,Volt", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}"),
        "utf-8", {"columns": {"a": "1", "b": "2"}}),
    "no times, only a rate": (
        lines("CH1,CH2", row=lambda t, a, b: f"{a:.3f},{b:.3f}"),
        "utf-8", {"columns": AB, "rate_hz": 200.0}),
    "zeros at the end after a power cut": (
        lines("Time (s),CH1,CH2", row=lambda t, a, b: f"{t:.3f},{a:.3f},{b:.3f}") + "\0" * 400,
        "utf-8", {"columns": AB}),
}


def written(tmp_path, text: str, encoding: str = "utf-8"):
    path = tmp_path / "log.csv"
    path.write_bytes(text.encode(encoding))
    return path


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
    (PLAIN.replace("CH1,CH2", "left,right"), {}, "say it with --a"),
    (PLAIN.replace("CH2", "CH1"), {"columns": {"a": "CH1"}}, "--a 2 or 3"),
    (PLAIN.replace("Time (s)", "x"), {"columns": AB}, "--time"),
    (PLAIN, {"columns": AB, "rate_hz": -1.0}, "--rate is -1"),
    (PLAIN, {"columns": AB, "decimal": "x"}, "--decimal 'x'"),
    (PLAIN, {"columns": AB, "delimiter": "@"}, "--delimiter '@'"),
    (PLAIN, {"columns": AB, "encoding": "klingon"}, "--encoding 'klingon'"),
    (PLAIN, {"columns": AB, "time_unit": "weeks"}, "--time-unit 'weeks'"),
    (PLAIN, {"columns": AB, "unit": "kV"}, "--unit 'kV'"),
    # What cannot be known is asked for.
    ("n,a\n" + "".join(f"{i},1.5\n" for i in range(300)), {"time": "n"}, "--rate"),
    ("t,a\n" + "".join(f"{i * 777},1.5\n" for i in range(9)), {"time": "t"}, "--time-unit"),
    ("Time,a\n" + "".join(f"12:00:{i // 100:02d},1.5\n" for i in range(400)), {}, "--rate"),
    ("Time (s),a\n" + "".join(f"{i * 0.01:.2f},{i % 1000}\n" for i in range(300)), {},
     "--unit mV, or for counts --full-scale"),
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


@settings(max_examples=150, deadline=None)
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
