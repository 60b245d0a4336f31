"""A recording is read as what its header says it was made for, and no verb takes one for another.

No outside source: what a recording was made for is in its header (docs/recording_file.md).
"""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from places import ROOT

from bench.command_line import main
from bench.files.recording_file import read_recording, write_recording

SAMPLES = ROOT / "sample_sweeps"
# Two presses of a foot are in it, so it could be taken for a sweep (sample_sweeps/KEY_ON.md).
FOOT = str(SAMPLES / "synthetic_key_on_foot_and_brake.csv")
SWEEP = str(SAMPLES / "synthetic_healthy_pair.csv")


def calls(tmp_path: Path) -> list[list[str]]:
    """Return every call that reads a sweep, given a key-on log with presses in it."""
    return [["findings", FOOT], ["settings", FOOT], ["report", FOOT, "--out",
                                                     str(tmp_path / "r.html")],
            ["compare", FOOT, SWEEP], ["compare", SWEEP, FOOT], ["watch", "--from", FOOT,
                                                                 "--sweep", FOOT]]


@pytest.mark.parametrize("number", range(6))
def test_a_key_on_log_with_presses_in_it_is_no_sweep(number, tmp_path, capsys):
    assert main(calls(tmp_path)[number]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    (line,) = said.err.splitlines()
    assert "is a key-on log and no sweep; use stillpedal watch --from " in line
    assert not (tmp_path / "r.html").exists()


def test_a_trend_leaves_key_on_logs_out_and_says_so(tmp_path, capsys):
    for file in (FOOT, SWEEP):
        shutil.copy(file, tmp_path)
    assert main(["trend", str(tmp_path), "--processes", "1"]) == 0
    said = capsys.readouterr()
    assert "1 recording summarised, 1 not used" in said.err
    (line,) = [x for x in said.err.splitlines() if x.startswith("not used: ")]
    assert "is a key-on log and no sweep" in line


def test_a_meter_log_is_no_sweep_either(tmp_path, capsys):
    path = tmp_path / "meter.csv"
    write_recording(path, replace(read_recording(SWEEP), purpose="meter"))
    assert main(["findings", str(path)]) == 2
    assert "is a meter log and no sweep; use stillpedal meter --from" in capsys.readouterr().err


@pytest.mark.parametrize("words", [["watch", "--from", SWEEP], ["settings", SWEEP, "--key-on",
                                                                SWEEP]])
def test_a_sweep_is_no_key_on_log(words, capsys):
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.out == ""
    (line,) = said.err.splitlines()
    assert f"{SWEEP} is a sweep and no key-on log" in line
    assert f"use stillpedal findings {SWEEP}" in line
    assert "no key-on found in" not in line
