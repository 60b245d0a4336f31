"""A folder of recordings becomes one table; a bad file costs its own line only."""

import io
import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
from places import ROOT

from bench.command_line import main
from bench.errors import BadFile
from bench.files.exports.trend_csv import COLUMNS, header_text, row_text
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording
from bench.services.trend import (
    recordings_in,
    summarise,
    table_brief,
    table_json,
    table_text,
)

SAMPLES = ROOT / "sample_sweeps"
GOOD = ("healthy_pair", "one_track", "opposed_pair", "off_at_rest")


@pytest.fixture
def folder(tmp_path):
    """Return a folder of four recordings, one of them deeper, and two files that are none."""
    place = tmp_path / "log"
    (place / "deeper").mkdir(parents=True)
    for name in GOOD:
        target = place / "deeper" if name == "one_track" else place
        shutil.copy(SAMPLES / f"synthetic_{name}.csv", target / f"{name}.csv")
    (place / "notes.csv").write_text("just,a,table\n1,2,3\n")
    damaged = bytearray((SAMPLES / "synthetic_healthy_pair.csv").read_bytes())
    damaged[5000] ^= 1
    (place / "damaged.csv").write_bytes(damaged)
    return place


def test_the_table_holds_every_recording_and_why_others_are_not_used(folder, tmp_path, capsys):
    import pandas

    out = tmp_path / "trend.csv"
    assert main(["trend", str(folder), "--out", str(out), "--processes", "2"]) == 0
    said = capsys.readouterr()
    assert said.out == ""
    assert "4 recordings summarised, 2 not used" in said.err
    assert "not used: damaged.csv: " in said.err
    # Quiet where nobody watches.
    assert "done" not in said.err
    table = pandas.read_csv(out)
    assert list(table) == list(COLUMNS)
    assert sorted(table["file"]) == sorted(
        ["damaged.csv", "deeper/one_track.csv", "healthy_pair.csv", "notes.csv",
         "off_at_rest.csv", "opposed_pair.csv"])
    by_file = table.set_index("file")
    # README of the samples: track b rests at 0.909 V; the opposed pair's gain is -1.
    assert by_file.loc["off_at_rest.csv", "track2_rest_volts"] == pytest.approx(0.909, abs=0.003)
    assert by_file.loc["opposed_pair.csv", "gain"] == pytest.approx(-1.0, abs=0.002)
    assert by_file.loc["opposed_pair.csv", "track2_direction"] == "falling"
    assert pandas.isna(by_file.loc["deeper/one_track.csv", "track2_rest_volts"])
    assert by_file["error"].notna().sum() == 2
    # Ready for Parquet: numbers are numbers, one type per column.
    for name in ("rows", "track1_rest_volts", "gain", "faults", "worst_return_s"):
        assert table[name].dtype.kind in "fi"


def test_a_rheostat_stands_in_columns_of_ohms_and_in_none_of_volts(tmp_path):
    """The scale it is analysed on is nobody's business: 180 ohm at rest, Ohm's law by hand."""
    made = read_recording(SAMPLES / "synthetic_one_track.csv")
    track = made.with_role("track")[0]
    share = (made.stated_volts(track) - 0.75) / 3.5
    ohms = np.maximum(180.0 + 4520.0 * share, 0.0)
    volts = replace(track, unit="V", full_scale=None, reference_volts=None, reading_step=0.001,
                    readings=np.round(5.0 * ohms / (ohms + 4700.0), 3))
    write_recording(tmp_path / "rheostat.csv", replace(
        made, channels=(volts,), extra={"pedal_kind": "rheostat"}))
    (line,) = summarise([tmp_path / "rheostat.csv"], tmp_path)
    (row,) = json.loads(table_json([line]))["recordings"]
    assert row["track1_rest_ohms"] == pytest.approx(180.0, abs=10.0)
    assert row["track1_start_of_travel_ohms"] > row["track1_rest_ohms"]
    assert not [name for name, cell in row.items()
                if "volts" in name and name != "nominal_volts" and cell is not None]
    brief = table_brief([line], tmp_path)
    assert f"{row['track1_rest_ohms']:.0f} ohm" in brief


def test_one_process_and_many_give_the_same_table(folder):
    paths = recordings_in(folder)
    seen = []
    one = summarise(paths, folder, processes=1, progress=lambda done, all_: seen.append(done))
    many = summarise(paths, folder, processes=2)
    assert table_text(one) == table_text(many)
    assert all(len(line.text) < 1500 for line in one)
    assert seen[-1] == len(paths)


def test_a_folder_without_recordings_is_one_line(tmp_path, capsys):
    with pytest.raises(BadFile, match="is no folder"):
        recordings_in(tmp_path / "none")
    assert main(["trend", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert main(["trend", str(SAMPLES), "--processes", "0"]) == 2
    assert "--processes is 0" in capsys.readouterr().err


def test_a_file_that_is_not_used_is_named_once(tmp_path, capsys):
    """The reason follows the file's name; it does not repeat it (common practice, no source)."""
    (tmp_path / "empty.csv").write_bytes(b"")
    assert main(["trend", str(tmp_path), "--processes", "1"]) == 0
    said = capsys.readouterr()
    assert "not used: empty.csv: the file is empty" in said.err
    assert (said.out + said.err).count("empty.csv") == 2
    assert str(tmp_path) not in said.out + said.err


def test_the_table_is_never_written_over_a_recording(folder, capsys):
    target = folder / "healthy_pair.csv"
    before = target.read_bytes()
    assert main(["trend", str(folder), "--out", str(target)]) == 2
    assert "is a recording" in capsys.readouterr().err
    assert target.read_bytes() == before


def test_a_title_cannot_become_a_formula():
    import pandas

    text = header_text() + row_text({"file": "=1+1.csv", "title": '@SUM("x")', "error": "-2"})
    row = pandas.read_csv(io.StringIO(text), dtype=str).iloc[0]
    assert row["file"] == "'=1+1.csv"
    assert row["title"] == "'@SUM(\"x\")"
    assert row["error"] == "'-2"


def test_every_column_of_the_table_is_described():
    text = (ROOT / "docs" / "carry_away.md").read_text("utf-8")
    for name in COLUMNS:
        assert f"`{name.removeprefix('track1_').removeprefix('track2_')}`" in text, name
