"""The log in the car says first what forbids driving, and marks values that it saw passed.

That values are issued with what speaks against them is the project's own promise: no source.
"""

import re

import pytest
from places import ROOT

from analysis.key_on import analyse_key_on
from analysis.simulation.car import Car, CarTrack, drive
from bench.command_line import main
from bench.files.exports.key_on_json import key_on_object
from bench.files.exports.key_on_text import key_on_text
from bench.services.findings import open_findings
from bench.services.key_on import fails
from bench.wording.key_on_found import log_sentence
from bench.wording.key_on_sentences import log_sentences
from bench.wording.reasons import in_words

SAMPLES = ROOT / "sample_sweeps"
QUIET = SAMPLES / "synthetic_key_on_quiet_car.csv"


def test_a_pedal_that_must_not_be_driven_is_told_first(capsys):
    """sample_sweeps/README.md: a stuck return; nothing in a quiet log takes that back."""
    stuck = str(SAMPLES / "synthetic_stuck_return.csv")
    assert main(["watch", "--more", "--from", str(QUIET), "--sweep", stuck, "--strict"]) == 1
    told = capsys.readouterr()
    means = told.out.split("What it means")[1]
    first = re.search(r"^\* (.*)$", means, re.M)
    assert first is not None
    assert first[1].startswith("Do not drive: ")
    assert "Power would not have been applied" not in told.out
    assert "no leave to drive" in " ".join(told.out.split())
    assert "Settings, issued anew: repair the pedal first" in told.out
    assert told.err.startswith("warning: Do not drive: ")
    # The settings verb says the same of the same sweep, in the same words.
    main(["settings", stuck])
    same = capsys.readouterr().err.splitlines()[0]
    assert told.err.splitlines()[0] == same


@pytest.fixture(scope="module")
def one_key_on():
    """One key-on, the pedal bolted in 60 mV pressed, the car adding nothing."""
    sweep = open_findings(SAMPLES / "synthetic_healthy_pair.csv")
    tracks = tuple(CarTrack(n, t.rest.value + 0.06, t.full.value) for n, t in sweep.tracks.items())
    return analyse_key_on(drive(Car(cycles=1, rate_hz=200.0, tracks=tracks))[0], sweep=sweep)


def test_no_sentence_leans_on_an_allowance_that_was_not_measured(one_key_on):
    found = one_key_on
    assert not found.car
    told = [*log_sentences(found), *map(in_words, found.notes)]
    assert any(s.startswith("No allowance is taken from this log") for s in told)
    assert not any("measured allowance" in s or "allowance above" in s for s in told)
    moved = [f for f in found.found if f.code == "rest is not the sweep's"]
    assert [f.channel for f in moved] == ["a", "b"]
    # 60 mV were put in; a return of that sweep scatters by 0.8 mV (sample_sweeps/README.md).
    assert all(f.values["rest_moved_volts"] == pytest.approx(0.06, abs=0.004) for f in moved)
    assert log_sentences(found)[0] == log_sentence(moved[0])


def test_values_passed_in_the_log_are_marked(one_key_on):
    """60 mV is more than the whole dead band of that sweep, so both tracks are passed."""
    found = one_key_on
    assert found.verdict.applied
    assert set(found.passed) == {"a", "b"}
    assert any(s.startswith("Do not enter the start of travel judged here") for s in
               log_sentences(found))
    text = key_on_text(found)
    assert "Settings judged: do not enter these" in text
    for name in "ab":
        line = next(x for x in text.splitlines() if x.startswith(f"start of travel, {name}"))
        assert line.endswith("passed in this log: do not enter")
    assert key_on_object(found)["settings_passed"] == list(found.passed)
    assert fails(found)


def test_values_issued_anew_that_hold_are_not_marked():
    """A pedal that rests as swept and gets 80 mV at key-on: the values issued anew hold that."""
    sweep = open_findings(SAMPLES / "synthetic_healthy_pair.csv")
    tracks = tuple(CarTrack(n, t.rest.value, t.full.value) for n, t in sweep.tracks.items())
    car = Car(cycles=4, rate_hz=200.0, tracks=tracks, ground_volts=0.08)
    found = analyse_key_on(drive(car)[0], sweep=sweep)
    assert found.verdict.applied
    assert found.issued
    assert found.passed == ()
    assert any("until then enter those issued anew from this log (" in s
               for s in log_sentences(found))
    assert "do not enter these" not in key_on_text(found)


def test_a_pedal_that_rests_elsewhere_is_swept_again_before_anything_is_entered():
    """The pedal rests 40 mV higher than swept, and 45 mV more come at key-on."""
    sweep = open_findings(SAMPLES / "synthetic_healthy_pair.csv")
    tracks = tuple(CarTrack(n, t.rest.value + 0.04, t.full.value) for n, t in sweep.tracks.items())
    found = analyse_key_on(drive(Car(cycles=4, rate_hz=200.0, tracks=tracks,
                                     ground_volts=0.045))[0], sweep=sweep)
    (said,) = [s for s in log_sentences(found) if s.startswith("Do not enter")]
    assert "sweep it again as installed" in said
    assert "enter those" not in said
