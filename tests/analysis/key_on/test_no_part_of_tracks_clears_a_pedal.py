"""No pedal is called safe by a part of its tracks.

No outside source for the words. Truth of the logs: sample_sweeps/KEY_ON.md (track b lifts by
120 mV, track a by nothing) and what is put in here.
"""

from dataclasses import replace

import numpy as np
import pytest
from places import ROOT

from analysis.key_on import analyse_key_on
from analysis.pedal.settings import Setting
from bench.command_line import main
from bench.files.exports.key_on_json import key_on_object
from bench.files.exports.key_on_text import key_on_text
from bench.files.recording_file import read_recording
from bench.services.key_on import fails
from bench.wording.key_on_verdict import verdict_text

SAMPLES = ROOT / "sample_sweeps"
LIFTS = SAMPLES / "synthetic_key_on_one_track_lifts.csv"


def starts(**volts: float) -> tuple[Setting, ...]:
    """Return a start of travel for each of these tracks."""
    return tuple(Setting("start_of_travel", n, v, "V", "") for n, v in volts.items())


def test_a_track_without_a_start_of_travel_leaves_the_verdict_open(capsys) -> None:
    words = [
        "watch",
        "--more",
        "--from",
        str(LIFTS),
        "--set",
        "a.start_of_travel=0.8",
        "--contactor",
        "closed",
    ]
    assert main([*words, "--strict"]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "Power would not have been applied" not in told
    first = told.split("What it means")[1].split("* ")[1]
    assert first.startswith("Track a alone was judged; no verdict for track b: give its start of "
                            "travel. Closest: track a at ")
    assert "track b: no start of travel to judge by" in told
    assert main(words) == 0


def test_a_sweep_of_one_track_does_not_judge_the_other(capsys) -> None:
    assert main(["watch", "--more", "--from", str(LIFTS), "--sweep",
                 str(SAMPLES / "synthetic_one_track.csv"), "--strict"]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "Power would not have been applied" not in told
    assert "no verdict for track b: give its start of travel" in told


@pytest.mark.parametrize(("given", "applied"), [
    ({"a": 0.8}, None), ({"b": 1.5}, None), ({"a": 0.8, "b": 1.5}, False),
    ({"b": 0.85}, True), ({"a": 0.8, "b": 0.85}, True), ({}, None)])
def test_power_takes_one_track_and_no_power_takes_all(given, applied) -> None:
    """Track a rests at 0.70 V, track b at 0.80 V and lifts to 0.92 V."""
    found = analyse_key_on(read_recording(LIFTS), settings=starts(**given))
    assert found.verdict.applied is applied
    assert key_on_object(found)["verdict"]["applied"] is applied
    assert fails(found) == (applied is not False)
    if applied and "a" not in given:
        assert "No verdict for track a: give its start of travel." in verdict_text(found)


def test_a_track_that_gave_no_reading_leaves_the_verdict_open() -> None:
    log = read_recording(LIFTS)
    empty = replace(log, channels=tuple(
        replace(c, readings=np.full(log.rows, np.nan)) if c.column == "b" else c
        for c in log.channels))
    found = analyse_key_on(empty, settings=starts(a=0.8, b=1.5))
    assert found.verdict.applied is None
    assert verdict_text(found).startswith("Track a alone was judged; no verdict for the whole")
    assert "Track b gave no reading" in verdict_text(found)
    assert "nan" not in key_on_text(found)
    beyond = analyse_key_on(empty, settings=starts(a=0.70, b=1.5))
    assert beyond.verdict.applied is True
    assert "The other track stayed short" not in verdict_text(beyond)


@pytest.mark.parametrize(("passed_s", "words"), [(0.25, "0.250 s in all"), (4.0, "4.0 s in all")])
def test_the_time_of_power_has_the_digits_that_matter(passed_s, words) -> None:
    log = read_recording(SAMPLES / "synthetic_key_on_quiet_car.csv")
    a = log.channel("a").readings.copy()
    at = int(np.searchsorted(log.time_s, 10.0))
    a[at:at + round(100 * passed_s)] *= 1.5
    lifted = replace(log, channels=tuple(
        replace(c, readings=a) if c.column == "a" else c for c in log.channels))
    assert words in verdict_text(
        analyse_key_on(lifted, settings=starts(a=0.9, b=1.5)))
