"""Measurements leave whole: what another program reads is what was recorded."""

import builtins
import csv
import importlib
import io
import re
import shutil
import warnings
from pathlib import Path

import numpy as np
import pytest
from places import ROOT

from analysis.model.recording import Channel, Mark, Recording
from bench.command_line import main
from bench.errors import BadCall, BadFile
from bench.files.exports.files import write_output
from bench.files.exports.measurements_csv import measurements_csv, write_measurements_csv
from bench.files.exports.measurements_mdf import write_measurements_mdf
from bench.files.recording_file import write_recording

SAMPLES = ROOT / "sample_sweeps"
HEALTHY = SAMPLES / "synthetic_healthy_pair.csv"


def made(rows: int = 1000) -> Recording:
    """Return two tracks (one with a divider), a supply with a missing cell, and marks."""
    random = np.random.default_rng(11)
    supply = random.integers(1015, 1024, rows).astype(float)
    supply[3] = np.nan
    return Recording(
        np.arange(rows) / 200.0,
        (Channel("a", "track", random.integers(90, 900, rows).astype(float), "counts", 1024, 5.0),
         Channel("left b", "track", random.random(rows) * 3, "V", scale=2.0, offset_volts=-0.1),
         Channel("supply", "supply", supply, "counts", 1024, 5.0, nominal_volts=5.0)),
        (Mark(0, "rest"), Mark(5, "gap 3"), Mark(7, '=HYPERLINK("x")')),
        title="made-up box", started="2026-05-02T09:14:03+02:00", rate_hz=200.0,
        board_name="10-bit board")


def test_csv_reads_back_as_recorded(tmp_path):
    import pandas

    recording = made()
    path = tmp_path / "out.csv"
    write_measurements_csv(recording, path)
    table = pandas.read_csv(path)
    assert list(table) == ["time (s)", "a (counts)", "a (V)", "a at 5 V supply (V)", "left b (V)",
                           "left b at 5 V supply (V)", "supply (counts)", "supply (V)", "mark"]
    assert np.array_equal(table["a (counts)"], recording.channels[0].readings)
    # Half of the last digit that is written.
    assert np.allclose(table["left b (V)"], recording.channels[1].volts(), atol=0.6e-6, rtol=0)
    assert table["supply (V)"].isna().tolist() == [i == 3 for i in range(recording.rows)]
    assert table["mark"][5] == "gap 3"


def test_csv_marks_cannot_become_formulas_and_lines_follow_rfc_4180():
    text = "".join(measurements_csv(made(20)))
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert rows[8][-1] == "'=HYPERLINK(\"x\")"
    assert text.count("\r\n") == text.count("\n") == 21


def test_csv_of_an_empty_recording_is_its_header():
    empty = Recording(np.empty(0), (Channel("a", "track", np.empty(0), "V"),))
    assert "".join(measurements_csv(empty)) == "time (s),a (V),mark\r\n"


def test_mdf_reads_back_with_units_names_raw_readings_and_events(tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own dependencies, not ours
        asammdf = pytest.importorskip("asammdf")
    recording = made()
    path = tmp_path / "out.mf4"
    write_measurements_mdf(recording, path)
    with asammdf.MDF(path) as file:
        # Read back by the reference library: ASAM MDF 4.1.
        assert file.version == "4.10"
        for channel in recording.channels:
            signal = file.get(channel.column)
            assert signal.unit == "V"
            assert np.array_equal(signal.timestamps, recording.time_s)
            assert np.allclose(signal.samples, channel.volts(), atol=1e-12, equal_nan=True)
            raw = file.get(channel.column, raw=True)
            assert np.array_equal(raw.samples.astype(float), channel.readings, equal_nan=True)
        assert [(e.name, round(e.value, 9)) for e in file.events] == [
            (m.text, recording.time_s[m.row]) for m in recording.marks]
        assert file.start_time.isoformat() == "2026-05-02T09:14:03+02:00"
        assert "made-up box" in file.header.comment


def test_mdf_without_its_library_says_what_to_install(tmp_path, monkeypatch):
    def missing(name, *rest):
        if name == "asammdf":
            raise ImportError(name)
        return builtins.__import__(name, *rest)

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(BadCall, match=r"pip install 'stillpedal\[mdf\]'"):
        write_measurements_mdf(made(), tmp_path / "out.mf4")
    assert list(tmp_path.iterdir()) == []


def test_mdf_under_another_ending_is_refused(tmp_path):
    with pytest.raises(BadCall, match=r"use --out out\.mf4"):
        write_measurements_mdf(made(), tmp_path / "out.dat")


def test_no_export_is_written_over_a_recording(tmp_path):
    path = tmp_path / "sweep.csv"
    path.write_text("# stillpedal_recording = 1\ntime_s,a,mark\n")
    before = path.read_bytes()
    with pytest.raises(BadFile, match="is a recording and is not written over"):
        write_output(path, "anything")
    with pytest.raises(BadFile, match="is a recording"):
        write_measurements_csv(made(), path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(("words", "name"), [
    (["export"], "sweep-measurements.csv"),
    (["report"], "sweep-report.pdf"),
    (["report", "--out", "kept.html"], "kept.html"),
    (["settings", "--out", "kept.txt"], "kept.txt"),
    (["compare", str(HEALTHY), "--out", "kept.txt"], "kept.txt"),
])
def test_no_verb_writes_over_a_file_that_is_there(words, name, tmp_path, monkeypatch, capsys):
    """What was kept once stays as it was, as `sweep` leaves it: one line says what to do.

    The rule is the project's own (DEVELOPERS.md, "Habits"): no source.
    """
    monkeypatch.chdir(tmp_path)
    shutil.copy(HEALTHY, "sweep.csv")
    Path(name).write_text("kept by hand")
    assert main([words[0], *words[1:], "sweep.csv"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "is there already and is not written over; choose another name or delete it" in said.err
    assert Path(name).read_text() == "kept by hand"
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(["sweep.csv", name])


def test_no_table_of_a_folder_or_a_meter_is_written_over_one_that_is_there(tmp_path, capsys):
    """`trend` and `meter` refuse before the work; a device is no place for an export either."""
    for name in ("kept.csv", "kept.html"):
        (tmp_path / name).write_text("kept by hand")
    points = tmp_path / "points.csv"
    points.write_text("reading,meter\n1,1\n2,2\n3,3\n")
    for words in (["trend", str(SAMPLES), "--out", str(tmp_path / "kept.csv")],
                  ["meter", "--from", str(points), "--out", str(tmp_path / "kept.html")],
                  ["meter", "--apply", str(HEALTHY), "--channel", "a", "--out",
                   str(tmp_path / "kept.csv")],
                  ["meter", "--from", str(points), "--out", str(tmp_path)]):
        assert main(words) == 2, words
        assert re.search("is there already|end the name in", capsys.readouterr().err)
    assert {(tmp_path / n).read_text() for n in ("kept.csv", "kept.html")} == {"kept by hand"}


def test_an_export_that_cannot_be_written_is_one_line(tmp_path):
    with pytest.raises(BadFile, match=r"cannot write .*choose another place") as caught:
        write_output(tmp_path / "no such folder" / "out.txt", "x")
    assert "\n" not in str(caught.value)


def test_the_command_writes_measurements_beside_the_recording(tmp_path, capsys):
    import pandas

    source = tmp_path / "sweep.csv"
    write_recording(source, made(50))
    before = source.read_bytes()
    assert main(["export", str(source)]) == 0
    assert capsys.readouterr().out.strip().endswith("sweep-measurements.csv")
    assert pandas.read_csv(tmp_path / "sweep-measurements.csv").shape == (50, 9)
    assert main(["export", str(source), "--out", str(source)]) == 2
    assert "is not written over" in capsys.readouterr().err
    assert main(["export", str(source), "--out", str(tmp_path / "x.dat")]) == 2
    assert "--format csv or --format mdf" in capsys.readouterr().err
    assert source.read_bytes() == before
