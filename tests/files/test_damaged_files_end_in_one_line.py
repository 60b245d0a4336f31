"""Recordings whose times make no sense are answered in words, never with a traceback."""

import io
import re
import zipfile
from types import SimpleNamespace

import numpy as np
import pytest
from places import ROOT
from stress import damaged_files
from stress.recording_mutations import call
from stress.stress_common import Report

from bench.errors import BadFile
from bench.files.imports import mdf
from bench.files.imports.load import load
from bench.files.imports.options import ImportOptions

SAMPLES = ROOT / "sample_sweeps"


def retimed(name, change, tmp_path):
    """Write a sample whose rows have other times; without a trailer, as after a power cut."""
    text = re.sub(r"# end .*\n", "", (SAMPLES / f"synthetic_{name}.csv").read_text())
    lines = text.splitlines()
    head = sum(line.startswith("#") for line in lines) + 1
    rows = [line.split(",", 1) for line in lines[head:]]
    path = tmp_path / "odd.csv"
    path.write_text("\n".join(lines[:head] + [
        f"{change(k, float(t)):.6f},{rest}" for k, (t, rest) in enumerate(rows)]) + "\n")
    return str(path)


@pytest.mark.parametrize(("verb", "name"), [
    (["findings"], "healthy_pair"), (["watch", "--from"], "key_on_quiet_car")])
@pytest.mark.parametrize("change", [
    lambda k, t: min(t, 1.5), lambda k, t: t + 1e9 * (k > 1000), lambda k, t: t + 1e9,
    lambda k, t: 1.0, lambda k, t: round(t)])
def test_times_that_stand_still_or_leap_are_one_line_or_an_answer(verb, name, change, tmp_path):
    code, _, err = call([*verb, retimed(name, change, tmp_path)])
    assert code in (0, 2), err
    if code == 2:
        assert err.count("\n") == 1


def test_a_track_that_reads_nothing_in_the_car_is_an_answer(tmp_path):
    text = (SAMPLES / "synthetic_key_on_quiet_car.csv").read_text()
    lines = re.sub(r"# end .*\n", "", text).splitlines()
    head = sum(line.startswith("#") for line in lines) + 1
    column = lines[head - 1].split(",").index("a")
    rows = [line.split(",") for line in lines[head:]]
    for row in rows:
        row[column] = "0"
    path = tmp_path / "dead.csv"
    path.write_text("\n".join(lines[:head] + [",".join(row) for row in rows]) + "\n")
    code, out, err = call(["watch", "--from", str(path)])
    assert (code, err) == (0, "")
    assert out


def test_a_workbook_whose_packing_is_broken_is_one_line(tmp_path):
    """RFC 1951, 3.2.3: block type 11 is an error."""
    data = bytearray(damaged_files.workbook())
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        info = book.getinfo("xl/worksheets/sheet1.xml")
    data[info.header_offset + 30 + len(info.filename)] = 0xFF
    path = tmp_path / "log.xlsx"
    path.write_bytes(data)
    with pytest.raises(BadFile, match="cannot be read as a workbook"):
        load(path, ImportOptions())


@pytest.mark.parametrize("times", [[0.0, np.nan, 0.2], [0.0, 0.2, 0.1], [0.0, np.inf, np.inf]])
def test_measured_times_that_are_no_times_are_one_line(times, monkeypatch, tmp_path):
    one = SimpleNamespace(name="a", unit="V", samples=np.array([1.0, 2.0, 3.0]),
                          timestamps=np.array(times))
    monkeypatch.setattr(mdf, "measured_in", lambda *_: ([one], None, ""))
    pytest.importorskip("asammdf")
    with pytest.raises(BadFile, match="no numbers or run backwards"):
        mdf.mdf_table(tmp_path / "log.mf4")


def test_damaged_files_are_one_line_over_every_verb_that_reads_one():
    report = Report()
    damaged_files.measure(True, report)
    assert not [b for b in report.broken if "memory" not in b]
