"""Logs of other origin that need more than a plain reader: nothing is misread, nothing guessed."""

import contextlib
import io
import re
import time
import zipfile

import numpy as np
import pytest

from bench.command_line import main
from bench.errors import BadCall, BadFile, BenchError
from bench.files.imports import ImportOptions, import_log, preview
from bench.files.imports.signs import sign_of_columns
from bench.files.imports.units import heading_unit

N = 400
T = np.arange(N) * 0.005
A = np.round(0.74 + np.linspace(0, 2, N), 3)
B = np.round(0.40 + 0.5 * (A - 0.74), 3)
PAIRS = list(zip(T.tolist(), A.tolist(), strict=True))


def written(tmp_path, text, name="log.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def volts(recording, column):
    return recording.channel(column).readings


def grouped(value, mark="."):
    return f"{value:,.0f}".replace(",", mark)


@pytest.mark.parametrize("rest", [0, 2500])
def test_a_thousands_point_is_never_a_decimal_one(tmp_path, rest):
    """740 followed by 1.023 in mV is 1.023 V, also after a rest longer than any sample."""
    level = np.concatenate([np.full(rest, 0.74), A])
    log = written(tmp_path, "Time (ms);a (mV)\n" + "".join(
        f"{grouped(5 * k)};{grouped(1000 * v)}\n" for k, v in enumerate(level)))
    got = import_log(log)
    assert volts(got, "a") == pytest.approx(level, abs=1e-9)
    assert got.time_s[-1] == pytest.approx(0.005 * (level.size - 1))


@pytest.mark.parametrize("time", ["0,{0:03d}", "{0}"])
def test_decimal_commas_between_commas_are_refused(tmp_path, time):
    """0,740 between commas is two cells, 0 and 740: with a unit it was imported as whole volts."""
    log = written(tmp_path, "t,a,b\n" + "".join(
        f"{time.format(k)}," + f"{a:.3f},{b:.3f}".replace(".", ",") + "\n"
        for k, (a, b) in enumerate(zip(A, B, strict=True))))
    options = ImportOptions(rate_hz=200.0, units={"a": "V", "b": "V"})
    with pytest.raises(BadFile, match="decimal commas between commas"):
        import_log(log, options)


def test_a_column_above_a_thousand_throughout_is_asked_for(tmp_path):
    """1.240 mV in every row can be 1.24 or 1240 mV: one line asks."""
    log = written(tmp_path, "Time (ms);a (mV)\n" + "".join(
        f"{5 * k};{grouped(1000 * v + 500)}\n" for k, v in enumerate(A)))
    with pytest.raises(BadCall, match="decimal or a thousands point"):
        import_log(log)
    assert volts(import_log(log, ImportOptions(decimal=",")), "a") == pytest.approx(A + 0.5)


@pytest.mark.parametrize(("columns", "units", "sign"), [
    ([[grouped(v) for v in range(740, 1300, 20)]], ["mV"], ","),
    ([[grouped(v, ",") for v in range(740, 1300, 20)]], ["mV"], "."),
    ([[f"{600 + k * 0.125:.3f}".removesuffix(".000") for k in range(40)
       if k % 2 or k % 8 == 0]], [None], "."),
    ([["1.023", "1.027"]], ["V"], "."), ([["1.023", "1.027"]], ["counts"], ","),
    ([["1.023", "1.027"]], ["mV"], None), ([["740", "1.023"], ["0.5", "0.6"]], [None, None], None),
    ([["1,5", "2,5"], ["995", "1.000"]], ["V", None], ",")])
def test_the_sign_follows_from_how_a_column_runs_on(columns, units, sign):
    """Grouped cells alone prove nothing; the neighbours, the unit or other columns do."""
    assert sign_of_columns(columns, units) == sign


@pytest.mark.parametrize(("name", "unit"), [
    ("a_%", "%"), ("pedal %", "%"), ("a (%)", "%"), ("a (mV)", "mv"), ("CH1_V", "v"),
    ("current (A)", "a"), ("track a", ""), ("track A", ""), ("temp [°C]", "°c"), ("a", "")])
def test_a_unit_in_a_heading_is_read(name, unit):
    """A unit may stand in brackets or behind; a lone letter behind a name is a name."""
    assert heading_unit(name) == unit


@pytest.mark.parametrize("options", [ImportOptions(), ImportOptions(unit="V")])
def test_a_unit_in_a_heading_wins(tmp_path, options):
    """Per cent are never taken for volts, whatever an option says; mV stay mV."""
    log = written(tmp_path, "time_s,a_%\n" + "".join(f"{t:.3f},{v}\n" for t, v in PAIRS))
    with pytest.raises(BadCall, match="'a_%' is in % by its heading"):
        import_log(log, options)
    other = written(tmp_path, "time_s,a_mV\n" + "".join(
        f"{t:.3f},{1000 * v:.0f}\n" for t, v in zip(T, A, strict=False)), "other.csv")
    assert volts(import_log(other, options), "a") == pytest.approx(A, abs=1e-9)


@pytest.mark.parametrize("by_time", [True, False])
def test_a_row_for_each_channel_is_turned(tmp_path, by_time):
    """A long log gives the tracks that its wide one gives, and says so."""
    rows = [(t, n, v) for n, c in (("a", A), ("b", B)) for t, v in zip(T, c, strict=False)]
    if by_time:
        rows.sort(key=lambda r: r[0])
    log = written(tmp_path, "time_s,channel,value,unit\n" + "".join(
        f"{t:.3f},{n},{v},V\n" for t, n, v in rows))
    got = import_log(log)
    assert volts(got, "a") == pytest.approx(A)
    assert volts(got, "b") == pytest.approx(B)
    assert any("a row for each reading" in n for n in got.extra["imported"]["notes"])


def test_two_readings_of_one_channel_at_one_time_are_refused(tmp_path):
    """Which of the two counts would be a guess."""
    log = written(tmp_path, "time_s,channel,value\n" + "".join(
        f"{t:.2f},{n},1.5\n" for t in T for n in "ab"))
    with pytest.raises(BadFile, match="second reading of 'a'"):
        import_log(log)


def test_two_columns_are_proposed_as_the_tracks_once(tmp_path):
    """The question holds the whole answer."""
    log = written(tmp_path, "time_s,left,right\n" + "".join(
        f"{t:.3f},{a},{b}\n" for t, a, b in zip(T, A, B, strict=False)))
    question = preview(log).question
    assert "--a 'left' --b 'right'" in question
    got = import_log(log, ImportOptions(columns={"a": "left", "b": "right"}))
    assert volts(got, "b") == pytest.approx(B)


def test_a_finer_time_column_is_proposed(tmp_path):
    """Where the clock only tells seconds, the column of milliseconds is named."""
    log = written(tmp_path, "Time,time_ms,a\n" + "".join(
        f"12:00:{int(t):02d},{1000 * t:.0f},{v}\n" for t, v in zip(T, A, strict=False)))
    assert "--time 'time_ms'" in preview(log).question


def workbook(rows):
    """Return a workbook's bytes as ECMA-376 part 1 describes it: inline and shared strings."""
    cells = "".join("<row>" + "".join(
        f'<c t="s"><v>{v[1]}</v></c>' if isinstance(v, tuple) else f"<c><v>{v!r}</v></c>"
        for v in row) + "</row>" for row in rows)
    main_ns = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        book.writestr("xl/workbook.xml", f'<workbook xmlns="{main_ns}"><sheets>'
                      '<sheet name="Run 1" sheetId="1"/></sheets></workbook>')
        book.writestr("xl/sharedStrings.xml", f'<sst xmlns="{main_ns}"><si><t>time_s</t></si>'
                      "<si><r><t>a </t></r><r><t>(V)</t></r></si></sst>")
        book.writestr("xl/worksheets/sheet1.xml",
                      f'<worksheet xmlns="{main_ns}"><sheetData>{cells}</sheetData></worksheet>')
    return out.getvalue()


def test_the_first_sheet_of_a_workbook_is_read(tmp_path):
    """Numbers of a workbook come in as they are stored, and the sheet is named."""
    log = tmp_path / "log.xlsx"
    log.write_bytes(workbook([(("s", 0), ("s", 1)), *PAIRS]))
    got = import_log(log)
    assert volts(got, "a") == pytest.approx(A)
    assert got.time_s == pytest.approx(T)
    assert any("'Run 1'" in n for n in got.extra["imported"]["notes"])


def test_numbers_typed_as_text_with_a_comma_are_no_thousands(tmp_path):
    """A text cell 0,612 in a workbook was read as 612 V; now the cell is named.

    ECMA-376 part 1, 18.3.1.4: such a cell holds text, so no locale of the sheet applies to it.
    """
    log = tmp_path / "log.xlsx"
    rows = [(("s", 0), ("s", 1)), *PAIRS]
    book = io.BytesIO(workbook(rows))
    texts = re.sub(r"<c><v>([0-9]+)\.([0-9]+)</v></c></row>",
                   r'<c t="str"><v>\1,\2</v></c></row>',
                   zipfile.ZipFile(book).read("xl/worksheets/sheet1.xml").decode())
    assert 't="str"' in texts
    with zipfile.ZipFile(book) as old, zipfile.ZipFile(log, "w") as new:
        for name in old.namelist():
            new.writestr(name, texts if "sheet1" in name else old.read(name))
    with pytest.raises(BadFile, match="numbers as text, such as '0,") as caught:
        import_log(log)
    assert "\n" not in str(caught.value)


def test_a_row_that_was_cut_off_is_left_out_and_told(tmp_path):
    """The file ends within a cell: 1.0 of 1.02 is no reading (common practice, no source)."""
    text = "time_s,a,b\n" + "".join(
        f"{t:.3f},{a},{b}\n" for t, a, b in zip(T, A, B, strict=False))
    torn = written(tmp_path, text.rsplit(",", 1)[0][:-1])
    got = import_log(torn)
    assert got.rows == T.size - 1
    assert any(f"line {T.size + 1}" in note for note in got.extra["imported"]["notes"])
    whole = written(tmp_path, text.rstrip("\n"))
    assert import_log(whole).rows == T.size


@pytest.mark.parametrize(("heading", "cell"), [
    ("", str), ("No.", lambda k: str(k + 1)), ("Elapsed (ms)", lambda k: str(5 * k)),
    ("Temp (C)", lambda k: "21.5"), ("Supply (V)", lambda k: "5.02")])
def test_row_numbers_further_times_and_other_units_are_no_tracks(tmp_path, heading, cell):
    """Beside one of these the two columns of volts are still proposed as the tracks."""
    log = written(tmp_path, f"{heading},Time (s),CH1 (V),CH2 (V)\n" + "".join(
        f"{cell(k)},{t:.3f},{a},{b}\n" for k, (t, a, b) in enumerate(zip(T, A, B, strict=False))))
    said = preview(log, ImportOptions(time="Time (s)")).question
    assert "--a 'CH1 (V)' --b 'CH2 (V)'" in said


@pytest.mark.parametrize("cut", [10, 200, 2000])
def test_a_damaged_workbook_is_one_line(tmp_path, cut):
    """A workbook cut short is refused with what to do."""
    log = tmp_path / "log.xlsx"
    log.write_bytes(workbook([(("s", 0), ("s", 1)), *PAIRS])[:cut])
    with pytest.raises(BadFile, match="save the sheet as CSV") as caught:
        import_log(log)
    assert "\n" not in str(caught.value)


def test_a_measurement_file_is_read_by_its_own_library(tmp_path):
    """Channels that asammdf writes come back, also with times of their own."""
    library = pytest.importorskip("asammdf")
    log = tmp_path / "log.mf4"
    with library.MDF(version="4.10") as made:
        made.append([library.Signal(A, T, name="a", unit="V")])
        made.append([library.Signal(B[::2], T[::2], name="b", unit="V")])
        made.save(log)
    got = import_log(log)
    assert volts(got, "a") == pytest.approx(A)
    assert volts(got, "b")[::2] == pytest.approx(B[::2])
    assert np.isnan(volts(got, "b")[1::2]).all()
    log.write_bytes(log.read_bytes()[:300])
    with pytest.raises(BadFile, match="cannot be read as MDF"):
        import_log(log)


def test_several_files_of_one_log_are_joined_by_their_times(tmp_path, capsys):
    """The order in which they are named does not matter; other columns are refused."""
    parts = [written(tmp_path, "time_s,a\n" + "".join(
        f"{t:.3f},{v}\n" for t, v in zip(T[s], A[s], strict=False)), f"part{k}.csv")
        for k, s in enumerate((slice(0, 200), slice(200, N)))]
    out = tmp_path / "joined.csv"
    assert main(["import", str(parts[1]), str(parts[0]), "--out", str(out)]) == 0
    got = import_log(parts[1], ImportOptions(more=(parts[0],)))
    assert volts(got, "a") == pytest.approx(A)
    assert got.time_s == pytest.approx(T)
    other = written(tmp_path, "time_s,b\n" + "".join(f"{t},1.5\n" for t in T), "other.csv")
    with pytest.raises(BadFile, match="import them one by one"):
        import_log(parts[0], ImportOptions(more=(other,)))


def test_every_import_ends_with_what_it_understood_and_what_not(tmp_path, capsys):
    """The last two lines name the columns used with their units, and those that were not."""
    log = written(tmp_path, "Rig 7\n\ntime_s,a_mV,spare\n" + "".join(
        f"{t:.3f},{1000 * v:.0f},x\n" for t, v in zip(T, A, strict=False)))
    assert main(["import", str(log)]) == 0
    understood, not_understood = capsys.readouterr().out.splitlines()[-2:]
    assert understood == ("understood: 400 rows; time = 'time_s' in s; a = 'a_mV' in mV")
    assert "'spare'" in not_understood
    assert "line" in not_understood


@pytest.mark.parametrize("filler", ["(", "[", "(V)", "_", " ", "a_", "{", ")"])
def test_a_long_heading_costs_time_in_proportion(tmp_path, filler):
    """A heading of 40 000 signs is read or refused within a second (10 s were seen)."""
    log = written(tmp_path, f"time_s,a{filler * (40_000 // len(filler))}\n" + "".join(
        f"{t:.3f},{v}\n" for t, v in zip(T[:50], A, strict=False)))
    begin = time.perf_counter()
    with contextlib.suppress(BenchError):
        import_log(log)
    assert time.perf_counter() - begin < 1.0


def test_the_unit_behind_a_very_long_name_is_still_read(tmp_path):
    """A name is cut in its middle, never at the end where the unit stands."""
    log = written(tmp_path, f"time_s,{'a' * 5000} (mV)\n" + "".join(
        f"{t:.3f},{1000 * v:.0f}\n" for t, v in PAIRS))
    got = import_log(log, ImportOptions(columns={"a": "2"}))
    assert volts(got, "a") == pytest.approx(A, abs=1e-9)
