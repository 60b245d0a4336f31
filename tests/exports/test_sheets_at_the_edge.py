"""Sheets of what is seldom there: too many of a kind, none, or a value that is none."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from places import ROOT

from analysis.model.estimate import Estimate
from analysis.pedal.compare import compare
from analysis.pedal.settings import Setting
from analysis.proof.loads import Load
from analysis.proof.outcome import Outcome
from bench.errors import BadCall
from bench.files.exports.brief_comparison import brief_comparison
from bench.files.exports.brief_trend import brief_trend
from bench.files.exports.findings_json import finite
from bench.files.exports.findings_text import MOST_FAULTS, findings_text
from bench.files.exports.proof_text import outcome_lines
from bench.files.exports.template import fill
from bench.files.job_standing import Proof
from bench.services.findings import open_findings

SAMPLES = ROOT / "sample_sweeps"


@pytest.fixture(scope="module")
def healthy():
    return open_findings(SAMPLES / "synthetic_healthy_pair.csv")


@pytest.fixture(scope="module")
def dropouts():
    return open_findings(SAMPLES / "synthetic_wiper_dropouts.csv")


def row(file, error="", **more):
    return {"file": file, "error": error, "started": "2026-03-01T10:00:00", "state": "sound",
            "faults": "0", "track1_rest_volts": "0.75", "track2_rest_volts": "",
            "track1_rest_ohms": "", "track2_rest_ohms": "", **more}


def test_a_folder_of_which_nothing_can_be_used(tmp_path):
    """No next command is made up for it; the table says why."""
    said = brief_trend([row("x.csv", "is empty")], tmp_path, tmp_path / "trend.csv")
    assert said.startswith("0 sweeps summarised")
    assert "not used: 1 file, such as x.csv" in said
    assert "next:" not in said


def test_a_folder_of_one_sweep_or_two(tmp_path):
    """One is read, two are compared; nothing is said of files left out where there are none."""
    one = brief_trend([row("a.csv")], tmp_path, tmp_path / "trend.csv")
    assert f"next: stillpedal findings {tmp_path}/a.csv" in one
    assert "not used" not in one
    two = brief_trend([row("a.csv"), row("b.csv")], tmp_path, tmp_path / "trend.csv")
    assert f"next: stillpedal compare {tmp_path}/a.csv {tmp_path}/b.csv" in two


def test_more_than_fits_is_counted(healthy, dropouts):
    """A screen shows the first few; the rest is a number, and in full elsewhere."""
    many = replace(dropouts, faults=dropouts.faults[:1] * (MOST_FAULTS + 3))
    assert "... and 3 more; --json lists them all" in findings_text(many)
    assert "more; " not in findings_text(healthy)


def test_a_comparison_shows_what_is_left_first(healthy, dropouts):
    """At most three lines of it, and the next command."""
    slipped = open_findings(SAMPLES / "synthetic_slipped_track.csv")
    later = replace(slipped, faults=(*slipped.faults, *dropouts.faults))
    said = brief_comparison(compare(healthy, later), "before.csv", "after.csv")
    assert said.startswith("before.csv -> after.csv")
    assert len(said.splitlines()) <= 24
    assert "\n3. " in said
    assert "next: stillpedal " in said


def test_numbers_that_json_cannot_hold_are_null():
    """RFC 8259 has no NaN and no infinity; those of numpy are numbers like any other."""
    assert finite({"a": [np.float64("nan"), math.inf, np.int64(3), (1.5,)], "b": "x"}) == {
        "a": [None, None, 3, [1.5]], "b": "x"}


def test_a_placeholder_whose_setting_has_no_value_is_refused():
    """A gap in a controller's list is never filled with a guess."""
    settings = (Setting("rest", "a", math.nan, "V", "no rest was seen"),
                Setting("mismatch_limit", None, 10.0, "%", "a rule"))
    with pytest.raises(BadCall, match="line 1, column 1: rest of 'a' could not be determined"):
        fill("{rest.a}", settings)


def test_a_placeholder_of_a_pair_says_why_there_is_none():
    """One track alone has no mismatch; another setting of the pair makes it a slip of the pen."""
    rest = Setting("rest", "a", 0.6, "V", "median of 24 returns")
    with pytest.raises(BadCall, match="there is no second track in this recording"):
        fill("{mismatch_limit}", (rest,))
    with pytest.raises(BadCall, match=r"unknown placeholder \{mismatch_limit\}"):
        fill("{mismatch_limit}", (rest, Setting("mismatch_time", None, 0.1, "s", "a rule")))


def load(name, state, droop=math.nan, ripple=None):
    return Load(name, state, 2, Estimate(droop, 0.001), ripple=ripple,
                tracks=(SimpleNamespace(left_volts=0.1),))


def test_what_was_measured_of_consumers_stands_before_what_was_said():
    """Droop and ripple only where they were seen."""
    ripple = SimpleNamespace(volts=SimpleNamespace(value=0.004),
                             hertz=SimpleNamespace(value=92.0))
    outcome = Outcome("loads", "proved", loads=(
        load("horn", "by word"), load("fan", "holds", -0.08, ripple), load("lamps", "holds")))
    fan, lamps, horn = outcome_lines(Proof("loads", "proved", outcome=outcome))
    assert "; supply -80.0 ± 2.0 mV; ripple " in fan
    assert "92.0 Hz or an alias of it" in fan
    assert "supply" not in lamps
    assert horn.startswith("horn: by your word alone")


def test_warmth_that_was_not_seen_is_told_so():
    """No slope is made up for it."""
    outcome = Outcome("warm", "open", warmth=(
        SimpleNamespace(column="a", volts_per_kelvin=None),))
    assert outcome_lines(Proof("warm", "open", outcome=outcome)) == [
        "track a: too little warmth was seen, or none recorded"]
    assert outcome_lines(Proof("warm", "to do")) == []


def test_a_drive_tells_how_long_a_limit_was_passed():
    """And when; without a lift-off its end of power was not seen."""
    drive = SimpleNamespace(lift_offs=(), slowest_s=math.nan, key_ons=None, key_ons_at_rest=0,
                            beyond_s=0.25, beyond_at_s=12.5)
    lines = outcome_lines(Proof("drive", "failed", outcome=Outcome("drive", "failed", drive=drive)))
    assert lines[0].endswith("not seen")
    assert lines[-1] == "beyond a limit for 250 ms at 12.50 s"
