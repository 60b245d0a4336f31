"""Recordings whose times make no sense are answered in words, never with a traceback."""

import re

import pytest
from places import ROOT
from stress import damaged_files
from stress.recording_mutations import call
from stress.stress_common import Report

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


def test_damaged_files_are_one_line_over_every_verb_that_reads_one():
    report = Report()
    damaged_files.measure(True, report)
    assert not [b for b in report.broken if "memory" not in b]
