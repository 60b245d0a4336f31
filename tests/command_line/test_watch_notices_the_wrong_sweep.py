"""A log judged by the sweep of another state of the pedal says so before anything else.

The sweeps and the log are samples: what each pedal is made like stands in sample_sweeps/README.md.
"""

import re
import shutil

import pytest
from places import ROOT

from bench.command_line import main

SAMPLES = ROOT / "sample_sweeps"


@pytest.fixture
def job(tmp_path, monkeypatch):
    """A folder with a quiet log of the healthy pedal, and sweeps of other states of it."""
    monkeypatch.chdir(tmp_path)
    for name in ("key_on_quiet_car", "off_at_rest", "healthy_pair", "one_track"):
        shutil.copy(SAMPLES / f"synthetic_{name}.csv", tmp_path / f"{name}.csv")
    return tmp_path


def _watch(sweep, capsys, *more):
    main(["watch", "--from", "key_on_quiet_car.csv", "--sweep", f"{sweep}.csv", *more])
    return capsys.readouterr().out


def test_the_misfit_is_the_headline_with_its_size(job, capsys):
    """Track b was swept 150 mV too high and rests 150 mV lower in the log, by how both are made."""
    out = _watch("off_at_rest", capsys)
    head = " ".join(out.split("\n\n")[0].splitlines()[1:])
    assert head.startswith("THE SWEEP DOES NOT FIT THIS LOG: ")
    size = re.search(r"track b rests (\d+) mV further\s+from pressed than in the sweep", head)
    assert size is not None
    assert float(size[1]) == pytest.approx(150, abs=3)
    assert "track a rests" not in head
    assert "does not fit" not in _watch("healthy_pair", capsys).lower()


def test_the_next_step_is_a_sweep_of_the_pedal_as_it_is_now(job, capsys):
    """What that sweep asked for is of another state: a pedal repaired since needs none."""
    out = _watch("off_at_rest", capsys)
    assert "next: stillpedal sweep --board PORT --out off_at_rest-2.csv\n" \
        "      as installed: the pedal rests elsewhere now than in the sweep\n" in out
    assert "after the repair" not in out
    means = _watch("off_at_rest", capsys, "--more").split("What it means\n-------------\n")[1]
    assert means.startswith("* The rest of this log is not the sweep's: ")


def test_a_track_that_the_sweep_lacks_is_named_and_swept(job, capsys):
    """Another log of the same two tracks would be judged no further than this one."""
    out = _watch("one_track", capsys)
    assert "track b has no start of travel to judge by" in " ".join(out.split())
    assert "next: stillpedal sweep --board PORT --out one_track-2.csv\n" in out
    assert "      with track b too: this sweep does not have it\n" in out
