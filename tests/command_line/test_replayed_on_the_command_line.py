"""Verbs that record, led by a replayed board: added to a sweep, proved with typed notes."""

import io
import shutil
import sys
from dataclasses import replace

import pytest
from in_process import stillpedal
from places import ROOT

from bench.errors import BadFile
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording
from bench.services.job_files import add_file
from bench.services.more import join

SAMPLES = ROOT / "sample_sweeps"
HEALTHY = SAMPLES / "synthetic_healthy_pair.csv"
LOG = SAMPLES / "synthetic_key_on_quiet_car.csv"


def test_a_sweep_added_to_another_leads_to_both_together(tmp_path):
    """A third file beside the first; neither recording is changed."""
    first, later = tmp_path / "sweep.csv", tmp_path / "later.csv"
    swept = read_recording(HEALTHY)
    write_recording(first, replace(swept, marks=(), channels=tuple(
        replace(c, readings=c.readings + 1.0) for c in swept.channels)))
    before = first.read_bytes()
    done = stillpedal("sweep", "--board", f"replay:{HEALTHY}", "--fast", "--add-to", str(first),
                      "--out", str(later))
    assert done.returncode == 0, done.stderr
    both = tmp_path / "sweep-more.csv"
    assert f"both together: {both}" in done.stderr
    assert done.stderr.splitlines()[-1] == f"next: stillpedal findings {both}"
    rows = read_recording(first).rows
    assert read_recording(both).rows == rows + read_recording(later).rows
    assert first.read_bytes() == before


def test_a_sweep_is_not_added_to_itself(tmp_path):
    """Its returns would count twice: the bound on later ones would promise more than was seen."""
    first, again = tmp_path / "sweep.csv", tmp_path / "again.csv"
    for path in (first, again):
        shutil.copy(HEALTHY, path)
    with pytest.raises(BadFile, match=r"again\.csv holds the very readings of .*which count once"):
        join(first, again)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["again.csv", "sweep.csv"]


def test_notes_typed_while_a_proof_runs_stand_in_its_recording(tmp_path, monkeypatch):
    """Under the name that was asked for, in the job's folder; another folder is refused."""
    add_file(tmp_path, shutil.copy(HEALTHY, tmp_path / "sweep.csv"))
    call = ["prove", str(tmp_path), "--do", "loads", "--loads", "fan", "--board", f"replay:{LOG}",
            "--fast", "--out"]
    away = stillpedal(*call, str(tmp_path.parent / "away.csv"))
    assert away.returncode == 2
    assert "does not lie in the job's folder" in away.stderr
    monkeypatch.setattr(sys, "stdin", io.StringIO("rain\n"))
    mine = tmp_path / "mine.csv"
    done = stillpedal(*call, str(mine))
    assert done.returncode == 0, done.stderr
    marks = [m.text for m in read_recording(mine).marks]
    assert marks[0] == "load fan off"
    assert "note: rain" in marks
    assert "open, simulated" in done.stdout
