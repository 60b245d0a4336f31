"""Logs that can show nothing prove nothing: dead, stuck, missing or pressed tracks."""

from dataclasses import replace

import numpy as np
import pytest
from places import ROOT

from analysis.proof.limits import Limits, TrackLimits
from analysis.proof.outcome import judge_file
from bench.files.recording_file import read_recording

JOB = ROOT / "sample_sweeps" / "job_with_a_loose_plug"
# The levels of the sample's own sweep, rounded; its logs were made with these.
LIMITS = Limits({"a": TrackLimits(0.751, 4.231, 0.81, 0.38, 4.6),
                 "b": TrackLimits(0.762, 4.22, 0.82, 0.38, 4.6)})


def with_track(task, name, change):
    """Return the sample's log with one track's readings changed; None takes the track away."""
    recording = read_recording(JOB / f"{task}.csv")
    if change is None:
        kept = [c for c in recording.channels if c.column != name]
    else:
        kept = [replace(c, readings=change(c.readings)) if c.column == name else c
                for c in recording.channels]
    return replace(recording, channels=tuple(kept))


CHANGES = {
    "missing": None,
    "dead": lambda v: 0.0 * v,
    "stuck": lambda v: 0.0 * v + np.median(v),
    "at the supply": lambda v: 0.0 * v + 3660.0 + (np.arange(v.size) % 2)}


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("task", ["shake", "warm", "loads", "drive", "wires"])
def test_a_track_that_shows_nothing_proves_nothing(task, change):
    """Whatever else the log holds: not proved, and the track is named where it only lacks."""
    found = judge_file(with_track(task, "a", CHANGES[change]), task, LIMITS)
    assert found.state != "proved"
    if found.state == "open" and task != "wires":
        assert found.because[0] in ("unseen a", "drive not seen")
    if task == "shake":
        # Beside the loose plug of b nothing is told to hold: a would have had to show it.
        assert {x.lead: x.state for x in found.shake.leads if x.state != "not shaken"} == {
            "b": "loose"}


@pytest.mark.parametrize("factor", [0.0, 0.66])
@pytest.mark.parametrize("task", ["warm", "loads", "drive", "wires"])
def test_a_supply_input_that_is_at_no_such_supply_proves_nothing(task, factor):
    """Off, or at 3.3 V for 5 V: all levels are a ratio to it. Each is proved as recorded, below."""
    recording = with_track(task, "supply", lambda v: factor * v)
    assert judge_file(recording, task, LIMITS).state != "proved"


def test_the_same_logs_untouched_are_proved():
    """What is refused above is refused for its track alone (JOB.md; shaken: a loose plug)."""
    states = {t: judge_file(read_recording(JOB / f"{t}.csv"), t, LIMITS).state
              for t in ("warm", "loads", "drive", "wires", "shake")}
    assert states == {"warm": "proved", "loads": "proved", "drive": "proved", "wires": "proved",
                      "shake": "failed"}


def test_a_coarse_converter_leaves_room_for_what_it_cannot_show():
    """120 µV/K (JOB.md) read in steps of 5.5 mV without noise: the interval still holds it."""
    recording = with_track("warm", "a", lambda v: 4.0 * np.round(
        np.convolve(v, np.ones(201) / 201, mode="same")[:v.size] / 4.0))
    coarse = replace(recording, channels=tuple(
        replace(c, readings=c.readings / 4.0, full_scale=c.full_scale / 4.0)
        if c.column == "a" else c for c in recording.channels))
    seen = judge_file(coarse, "warm", LIMITS).warmth[0].volts_per_kelvin
    assert seen is None or (seen.low <= 120e-6 <= seen.high and seen.high - seen.low > 200e-6)


def test_power_that_reads_the_other_way_round_is_power_too():
    """A sensor wired backwards shows the same verdicts, mirrored about its idle level."""
    plain = judge_file(read_recording(JOB / "wires.csv"), "wires", LIMITS)
    turned = judge_file(with_track("wires", "current", lambda v: 4095.0 - v), "wires", LIMITS)
    assert [(s.step.mark, s.verdict) for s in turned.wires.steps] == [
        (s.step.mark, s.verdict) for s in plain.wires.steps]


@pytest.mark.parametrize(("task", "wanted"), [
    # The loose plug shows by its track alone; what a load does to the supply cannot be seen.
    ("shake", ("failed", ("b",))), ("loads", ("open", ("contactor", "fans", "wipers")))])
def test_a_supply_input_that_nobody_connected_is_no_supply(task, wanted):
    """It reads 0 throughout: the log is judged without a warning, and no load is proved by 0 V."""
    found = judge_file(with_track(task, "supply", CHANGES["dead"]), task, LIMITS)
    assert (found.state, found.because) == wanted


@pytest.mark.parametrize("task", ["shake", "warm", "loads", "drive", "wires"])
def test_a_log_of_one_row_shows_no_step(task):
    """Nothing can be told of how fast its rows came, nor of anything that lasts."""
    recording = read_recording(JOB / f"{task}.csv")
    channels = tuple(replace(c, readings=c.readings[:1]) for c in recording.channels)
    short = replace(recording, time_s=recording.time_s[:1], marks=recording.marks[:1],
                    channels=channels)
    assert judge_file(short, task, LIMITS).state == "open"
