"""An odd log is taken in with a note of what was odd, or refused in one line that leads on."""

import zipfile

import numpy as np
import pytest

from bench.errors import BadCall, BadFile, BenchError
from bench.files.imports import ImportOptions, import_log, text, workbook
from bench.files.imports.signs import sign_of_columns

N = 120
A = [round(0.74 + 0.001 * k, 3) for k in range(N)]
TRACK = ImportOptions(columns={"a": "a"}, unit="V")


def written(tmp_path, rows, heading="time (s),a", name="log.csv"):
    path = tmp_path / name
    path.write_text("\n".join([heading, *rows]) + "\n", encoding="utf-8")
    return path


def notes(recording):
    return " ".join(str(n) for n in recording.extra["imported"]["notes"])


def plain(k, cell=None, time=None):
    return f"{0.01 * k:.2f}" * (time is None) + (time or "") + f",{cell or A[k]}"


def test_a_cell_that_is_no_number_counts_as_missing(tmp_path):
    """Named with its line; the rest of the column stays."""
    rows = [plain(k) for k in range(N)]
    rows[40] = plain(40, "1.2.3")
    got = import_log(written(tmp_path, rows), TRACK)
    assert np.isfinite(got.channel("a").readings).sum() == N - 1
    assert "line 42" in notes(got)


def test_a_column_of_words_is_no_track(tmp_path):
    """More than one cell in twenty: somebody named the wrong column."""
    rows = [plain(k) + ",open" for k in range(N)]
    with pytest.raises(BenchError, match="open"):
        import_log(written(tmp_path, rows, "time (s),a,state"),
                   ImportOptions(columns={"a": "state"}, unit="V"))


def test_rows_without_a_time_are_left_out_and_counted(tmp_path):
    """No time can be guessed for them."""
    rows = [plain(k) for k in range(N)]
    rows[40] = plain(40, time="-")
    got = import_log(written(tmp_path, rows), TRACK)
    assert got.rows == N - 1
    assert "1 rows without a time" in notes(got)


def test_one_time_is_no_log(tmp_path):
    """A rate needs two."""
    rows = [plain(0), *(plain(k, "-" if k == 15 else None, "-") for k in range(1, 20))]
    with pytest.raises(BadFile, match="has 1 rows with a time"):
        import_log(written(tmp_path, rows), TRACK)
    rows = [plain(k, time="-") for k in range(20)]
    with pytest.raises(BenchError, match=r"has 0 rows with a time"):
        import_log(written(tmp_path, rows), TRACK)


def test_a_reading_larger_than_any_is_refused(tmp_path):
    """A whole column of it would overflow what is computed of it."""
    rows = [plain(k) for k in range(N)]
    rows[50] = plain(50, "1e300")
    with pytest.raises(BadFile, match=r"1e\+300.*repair it"):
        import_log(written(tmp_path, rows), TRACK)


def test_two_times_and_no_telling_which(tmp_path):
    """Two columns named alike as times of which none rises: the names are listed."""
    rows = [f"1,1,{A[k]}" for k in range(N)]
    with pytest.raises(BadCall, match="--time"):
        import_log(written(tmp_path, rows, "time,t,a"), TRACK)


def test_two_times_that_both_rise_are_asked_about(tmp_path):
    """The first of them is named, which is what most people mean."""
    rows = [f"{k},{2 * k},{A[k]}" for k in range(N)]
    with pytest.raises(BadCall, match="--time"):
        import_log(written(tmp_path, rows, "time,t,a"), TRACK)


def test_parts_of_a_log_with_other_decimal_signs(tmp_path):
    """They cannot be one table: 1,023 would be read as two different numbers."""
    rows = [f"{0.01 * k:.2f};{A[k]}" for k in range(N)]
    first = written(tmp_path, rows, "time (s);a")
    other = written(tmp_path, [r.replace(".", ",") for r in rows], "time (s);a", "more.csv")
    with pytest.raises(BadFile, match=r"writes decimals with ,.*one by one"):
        import_log(first, ImportOptions(columns={"a": "a"}, unit="V", more=(other,)))


def long_rows():
    return [f"{0.01 * (k // 2):.2f},{'ab'[k % 2]},{A[k // 2]},V" for k in range(N)]


def test_a_log_of_a_row_for_each_reading(tmp_path):
    """A row that names no channel says nothing of any."""
    rows = long_rows()
    rows.insert(20, "0.10,,1.5,V")
    got = import_log(written(tmp_path, rows, "time (s),channel,value,unit"))
    assert got.channel("a").readings == pytest.approx(A[:N // 2])
    assert got.channel("b").readings == pytest.approx(A[:N // 2])


def test_a_reading_without_a_time_keeps_the_order_of_the_log(tmp_path):
    """What has no number cannot be put in order; it is left out as any row without a time."""
    rows = long_rows()
    rows.insert(20, "nan,a,1.5,V")
    got = import_log(written(tmp_path, rows, "time (s),channel,value,unit"))
    assert got.channel("a").readings == pytest.approx(A[:N // 2])
    assert "1 rows without a time" in notes(got)


def test_a_channel_that_changes_its_unit_is_refused(tmp_path):
    """Half of its readings would be a thousand times too large."""
    rows = long_rows()
    rows[60] = rows[60].replace(",V", ",mV")
    with pytest.raises(BadFile, match=r"line 62 gives 'a' in mV.*export the log with one unit"):
        import_log(written(tmp_path, rows, "time (s),channel,value,unit"))


def test_a_measurement_file_without_numbers(tmp_path):
    """MDF 4 (ASAM MCD-1) may hold texts alone; channels of one group share their times."""
    library = pytest.importorskip("asammdf")
    times = np.arange(20) * 0.01

    def kept(name, signals):
        with library.MDF(version="4.10") as made:
            made.append(signals)
            made.save(tmp_path / name)
        return tmp_path / name

    words = library.Signal(np.array([b"on"] * 20), times, name="state", encoding="utf-8")
    with pytest.raises(BadFile, match="holds no channel of numbers"):
        import_log(kept("words.mf4", [words]))
    both = [library.Signal(np.linspace(low, low + 1, 20), times, unit="V", name=name)
            for name, low in (("a", 0.7), ("b", 0.4))]
    assert import_log(kept("both.mf4", both)).channel("b").readings[0] == pytest.approx(0.4)


@pytest.mark.parametrize(("columns", "units", "sign"), [
    # Two columns that would each be read the other way: nobody knows.
    ([["1.023", "1.024"], ["1,023,000", "1,023,001"], ["1.023.000", "1.024.000"]],
     [None] * 3, None),
    # A sign that comes twice in a number parts thousands (common practice, no source).
    ([["1.023.000", "1.024.000"]], [None], ","),
    # Too few to tell by their steps.
    ([["1.023", "nan", "7"]], [None], None),
    ([["1.023", "-"]], [None], "."),
    # A number beyond all others tells nothing of the steps.
    ([["1.023", "1e999"]], [None], None),
])
def test_the_decimal_sign_is_told_or_left_open(columns, units, sign):
    """Never guessed where two careful readers would differ."""
    assert sign_of_columns(columns, units) == sign


def test_a_long_log_of_whole_numbers_needs_no_sign(tmp_path):
    """Ten thousand rows of counts have neither point nor comma in them."""
    rows = [f"{10 * k},{700 + k % 90}" for k in range(2500)]
    got = import_log(written(tmp_path, rows, "time (ms),a"), ImportOptions(
        columns={"a": "a"}, unit="counts", full_scale=1024, reference_volts=5.0))
    assert got.channel("a").readings[:3].tolist() == [700, 701, 702]


def test_a_log_too_large_to_read_is_split_first(tmp_path, monkeypatch):
    """With the size it has and the one it may have."""
    log = written(tmp_path, [plain(k) for k in range(N)])
    monkeypatch.setattr(text, "MOST_BYTES", 100)
    with pytest.raises(BadFile, match="split it into parts below"):
        import_log(log)


def test_an_encoding_that_does_not_fit_is_told_with_the_byte(tmp_path):
    """0xB5 (micro in Latin-1) alone is no UTF-8 (RFC 3629); 0x81 is none of Windows-1252."""
    log = tmp_path / "log.csv"
    body = ("\n".join(plain(k) for k in range(N)) + "\n").encode()
    log.write_bytes(b"time (s),a \xb5\n" + body)
    with pytest.raises(BenchError, match=r"is not utf-8 \(byte 11\)"):
        import_log(log, ImportOptions(columns={"a": "2"}, unit="V", encoding="utf-8"))
    with pytest.raises(BenchError, match="klingon"):
        import_log(log, ImportOptions(encoding="klingon"))
    log.write_bytes(b"time (s),a \x81\n" + body)
    got = import_log(log, ImportOptions(columns={"a": "2"}, unit="V"))
    assert got.extra["imported"]["encoding"] == "latin-1"
    assert got.channel("a").readings[0] == A[0]


CLOCK = "10:00:{:02d}.{:02d}"


def clocks(n=N):
    return [plain(k, time=CLOCK.format(k // 100, k % 100)) for k in range(n)]


def test_a_time_of_day_left_out_in_a_row(tmp_path):
    """One row of 120 without its time; the others keep theirs."""
    rows = clocks()
    rows[30] = plain(30, time="-")
    got = import_log(written(tmp_path, rows, "time,a"), TRACK)
    assert got.rows == N - 1
    assert got.time_s[-1] == pytest.approx(1.19)


def test_times_of_day_that_cannot_be_read(tmp_path):
    """The first of them is shown."""
    rows = clocks()
    for k in range(30, 40):
        rows[k] = plain(k, time="0.5")
    with pytest.raises(BenchError, match=r"'0\.5' cannot be read; write times as"):
        import_log(written(tmp_path, rows, "time,a"), TRACK)


def test_a_time_of_day_that_runs_back(tmp_path):
    """By a minute, no midnight explains it."""
    rows = clocks()
    rows[60] = plain(60, time="09:59:00.00")
    with pytest.raises(BadFile, match="runs backwards at line 62"):
        import_log(written(tmp_path, rows, "time,a"), TRACK)


@pytest.mark.parametrize(("last", "day"), [("02/03/2026", "2026-03-01"),
                                           ("01/04/2026", "2026-01-03")])
def test_the_part_of_a_date_that_changes_is_the_day(last, day, tmp_path):
    """A log over midnight turns the day, not the month."""
    first = "01/03/2026"
    rows = [plain(k, time=f"{first} 23:59:{k:02d}") for k in range(60)]
    rows += [plain(60 + k, time=f"{last} 00:00:{k:02d}") for k in range(60)]
    got = import_log(written(tmp_path, rows, "time,a"), TRACK)
    assert got.started.startswith(day)
    assert got.time_s[-1] == pytest.approx(119.0)


MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINKS = "http://schemas.openxmlformats.org/package/2006/relationships"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"


def book(path, extra=""):
    """Return a workbook (ECMA-376) whose sheet is the second of its links, cells with places."""
    cells = "".join(
        f'<row r="{k + 2}"><c r="A{k + 2}"><v>{0.01 * k:.2f}</v></c>'
        f'<c r="AB{k + 2}"><v>{A[k]}</v></c></row>' for k in range(N))
    with zipfile.ZipFile(path, "w") as made:
        made.writestr("xl/workbook.xml", (
            f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>'
            '<sheet name="log" sheetId="1" r:id="rId2"/></sheets></workbook>'))
        made.writestr("xl/_rels/workbook.xml.rels", (
            f'<Relationships xmlns="{LINKS}"><Relationship Id="rId1" Target="styles.xml"/>'
            '<Relationship Id="rId2" Target="worksheets/second.xml"/></Relationships>'))
        made.writestr("xl/worksheets/second.xml", (
            f'<worksheet xmlns="{MAIN}"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>'
            'time (s)</t></is></c><c r="AB1" t="inlineStr"><is><t>a</t></is></c></row>'
            f'{cells}</sheetData>{extra}</worksheet>'))
    return path


def test_a_cell_of_a_workbook_stands_where_its_letters_say(tmp_path, monkeypatch):
    """A1 notation: AB is column 28; blank cells between are not written."""
    path = book(tmp_path / "log.xlsx")
    got = import_log(path, TRACK)
    assert got.channel("a").readings == pytest.approx(A)
    monkeypatch.setattr(workbook, "MOST_BYTES", 300)
    with pytest.raises(BadFile, match="unpacks to more than"):
        import_log(path, TRACK)
