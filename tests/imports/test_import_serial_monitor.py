"""What a serial monitor showed and somebody saved: named readings, stamps in front of lines.

The lines are written here from counts known beforehand; no result comes from the importer.
"""

import time

import numpy as np
import pytest

from bench.errors import BadFile
from bench.files.imports import ImportOptions, import_log, preview

ROWS = 300
# Down and up again, all different within a half: whatever is swapped, lost or moved shows.
A = 163 + 2 * np.minimum(np.arange(ROWS), ROWS - 1 - np.arange(ROWS))
B = 859 - np.minimum(np.arange(ROWS), ROWS - 1 - np.arange(ROWS))
COUNTS = {"full_scale": 1024.0, "reference_volts": 5.0}
PINS = {"columns": {"a": "A0", "b": "A1"}}


def stamp(row: int, sign: str = ".") -> str:
    """Return the time of day of a row: 100 rows a second from 12:34:56.780."""
    total = 56_780 + 10 * row
    return f"12:{34 + total // 60_000}:{total // 1000 % 60:02d}{sign}{total % 1000:03d}"


def log(tmp_path, line, *head: str, foot: str = ""):
    path = tmp_path / "monitor.log"
    body = [line(k, a, b) for k, (a, b) in enumerate(zip(A, B, strict=True))]
    path.write_text("\n".join([*head, *body]) + "\n" + foot)
    return path


NAMED = {
    "equals, blank": (lambda k, a, b: f"A0={a} A1={b}", PINS),
    "equals, tab": (lambda k, a, b: f"A0={a}\tA1={b}", PINS),
    "equals, blanks all around": (lambda k, a, b: f"A0 = {a}  A1 = {b}", PINS),
    "colon, blank": (lambda k, a, b: f"a:{a} b:{b}", {}),
    "colon and blank, tab": (lambda k, a, b: f"a: {a}\tb: {b}", {}),
    "names of two words": (lambda k, a, b: f"Pot 1 = {a}  Pot 2 = {b}", {}),
    "a name that begins like a unit": (
        lambda k, a, b: f"main={a} spare={b}", {"columns": {"a": "main", "b": "spare"}}),
}


@pytest.mark.parametrize("name", list(NAMED))
def test_named_readings_parted_by_blanks_come_in(name, tmp_path):
    line, options = NAMED[name]
    recording = import_log(log(tmp_path, line), ImportOptions(rate_hz=100.0, **COUNTS, **options))
    assert recording.channel("a").readings.tolist() == A.tolist()
    assert recording.channel("b").readings.tolist() == B.tolist()


STAMPED = {
    "arrow, plain": (lambda k, a, b: f"{stamp(k)} -> {a},{b}", {}),
    "arrow, tab": (lambda k, a, b: f"{stamp(k)} -> {a}\t{b}", {}),
    "arrow, blank": (lambda k, a, b: f"{stamp(k)} -> {a} {b}", {}),
    "arrow, named": (lambda k, a, b: f"{stamp(k)} -> A0={a} A1={b}", PINS),
    "arrow, comma and date": (lambda k, a, b: f"2026-05-02 {stamp(k, ',')} -> a:{a} b:{b}", {}),
    "arrow, half days": (lambda k, a, b: f"{stamp(k)} PM -> a:{a} b:{b}", {}),
    "arrow without a shaft": (lambda k, a, b: f"{stamp(k)} > {a};{b}", {}),
    "brackets, plain": (lambda k, a, b: f"[{stamp(k)}] {a},{b}", {}),
    "brackets, named": (lambda k, a, b: f"[{stamp(k)}] a:{a} b:{b}", {}),
    "colon, named": (lambda k, a, b: f"{stamp(k)}: a={a} b={b}", {}),
    "a blank, named": (lambda k, a, b: f"{stamp(k)} a={a} b={b}", {}),
}


@pytest.mark.parametrize("name", list(STAMPED))
def test_a_monitors_stamp_becomes_the_time(name, tmp_path):
    line, options = STAMPED[name]
    recording = import_log(log(tmp_path, line), ImportOptions(**COUNTS, **options))
    assert recording.channel("a").readings.tolist() == A.tolist()
    assert recording.channel("b").readings.tolist() == B.tolist()
    assert np.allclose(recording.time_s, np.arange(ROWS) * 0.01, atol=1e-9)
    # When a line arrived says little about when its readings were taken: that must be said.
    assert any("when each line arrived" in note for note in recording.extra["imported"]["notes"])


def test_the_boards_own_time_is_better_than_the_monitors(tmp_path):
    """Lines arrive in bursts of ten; the board took a row every 20 ms all the same."""
    path = log(tmp_path, lambda k, a, b: f"{stamp(k // 10 * 20)} -> ms:{20 * k} a:{a} b:{b}")
    recording = import_log(path, ImportOptions(**COUNTS))
    assert np.allclose(recording.time_s, np.arange(ROWS) * 0.02)
    assert not any("arrived" in note for note in recording.extra["imported"]["notes"])


def test_columns_behind_a_stamp_are_numbered_as_the_options_number_them(tmp_path):
    path = log(tmp_path, lambda k, a, b: f"{stamp(k)} -> 7,{a},{b}")
    seen = preview(path)
    assert seen.names == ("time stamp", "column 2", "column 3", "column 4")
    assert seen.rows[1] == ("12:34:56.790", "7", "165", "858")
    recording = import_log(path, ImportOptions(columns={"a": "3", "b": "4"}, **COUNTS))
    assert recording.channel("a").readings.tolist() == A.tolist()


def test_lines_that_are_no_readings_are_left_out_and_counted(tmp_path):
    """A torn first line, a greeting and a status line among 300 rows cost only themselves."""
    path = log(tmp_path, lambda k, a, b: (
        f"{stamp(k)} -> A0={a} A1={b}" + (f"\n{stamp(k)} -> battery=12.1" if k == 99 else "")),
        f"{stamp(0)} -> 3 A1=859", f"{stamp(0)} -> hello")
    recording = import_log(path, ImportOptions(**COUNTS, **PINS))
    assert recording.channel("a").readings.tolist() == A.tolist()
    assert any("1 lines without data were left out (first: line 103, 'battery=12.1')" in note
               for note in recording.extra["imported"]["notes"])
    assert preview(path).preamble == ("3 A1=859", "hello")


@pytest.mark.parametrize(("line", "message"), [
    (lambda k, a, b: f"a:{a} b:{b}" if k % 2 else f"b:{b} a:{a}",
     r"line 2 names 'a', 'b', but line 1 'b', 'a'; print the same names in the same order"),
    (lambda k, a, b: f"a:{a}" if k % 2 else f"b:{b}", r"line 2 names 'a', but line 1 'b'"),
    (lambda k, a, b: f"pot={a} pot={b}", r"line 1 names 'pot' 2 times; give each reading"),
    (lambda k, a, b: f"a={a} mV" if a < 400 else f"a={a / 1000} V",
     r"line 120 gives 'a' in V, the lines before it in mV; print one unit"),
])
@pytest.mark.parametrize("front", ["", "stamp"])
def test_names_that_leave_open_which_is_which_are_refused_in_one_line(
        line, message, front, tmp_path):
    path = log(tmp_path, lambda k, a, b: (f"{stamp(k)} -> " if front else "") + line(k, a, b))
    with pytest.raises(BadFile, match=message) as caught:
        import_log(path, ImportOptions(rate_hz=100.0, **COUNTS))
    assert "\n" not in str(caught.value)


def test_settings_above_a_table_are_no_named_readings(tmp_path):
    """Many lines of `name: number`, each name once, do not make a log of named readings."""
    head = [f"Setting{k}: {k}" for k in range(250)]
    path = log(tmp_path, lambda k, a, b: f"{k * 0.01:.2f},{a},{b}", *head, "Time (s),a,b")
    recording = import_log(path, ImportOptions(**COUNTS))
    assert recording.channel("b").readings.tolist() == B.tolist()


def test_a_percent_sign_in_a_name_is_no_comment(tmp_path):
    """Only what stands at the start of a line makes a comment of it."""
    path = log(tmp_path, lambda k, a, b: f"{k * 0.01:.2f},{a},{b}", "Time (s),a,load %")
    assert preview(path).names == ("Time (s)", "a", "load %")


def test_long_blank_lines_cost_no_time(tmp_path):
    """Twenty lines of half a million blanks: time that grows with their square would be hours."""
    path = log(tmp_path, lambda k, a, b: f"a:{a} b:{b}", *[" " * 500_000] * 20)
    begun = time.process_time()
    recording = import_log(path, ImportOptions(rate_hz=100.0, **COUNTS))
    assert recording.rows == ROWS
    assert time.process_time() - begun < 10.0
