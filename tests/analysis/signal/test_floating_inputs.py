"""An open input is named for what it is, and blames neither the sound track nor the pedal.

What an open input reads is not in any standard: hum, drift and noise of its own, common practice,
no source.
"""

from dataclasses import replace

import numpy as np
import pytest
from said import as_texts
from second_pedal import random_sweep

from analysis.model.recording import Recording
from analysis.pedal.findings import analyse
from analysis.signal.floating_inputs import floating_inputs
from analysis.simulation import pedal_named, simulate_sweep


def _with(recording: Recording, column: str, readings: np.ndarray, **more: float) -> Recording:
    return replace(recording, channels=tuple(
        replace(c, readings=readings, **more) if c.column == column else c
        for c in recording.channels))


def _floating(recording: Recording, kind: str, seed: int, level: float = 0.37) -> np.ndarray:
    """Return counts of an input with no lead: hum, the mains folded down, or slow wandering."""
    rng = np.random.default_rng(seed)
    t = recording.time_s
    swing = {"hum": 0.04 * np.sin(7 * t + seed) + 0.01 * rng.random(t.size),
             "mains": 0.10 * np.sin(2 * np.pi * 50.3 * t),
             "wander": 0.02 * np.convolve(rng.standard_normal(t.size), np.ones(60), "same") / 8,
             }[kind]
    return np.clip(np.round(4096 * (level + swing)), 0, 4095)


@pytest.mark.parametrize("kind", ["hum", "mains", "wander"])
@pytest.mark.parametrize("column", ["a", "b"])
def test_an_open_track_input_blames_itself_only(kind, column):
    recording = simulate_sweep(pedal_named("healthy"), seed=4).recording
    found = analyse(_with(recording, column, _floating(recording, kind, 4)))
    sound = "b" if column == "a" else "a"
    assert {(f.kind, f.channel) for f in found.faults} == {("open or short", column)}
    assert list(found.tracks) == [sound]
    whole = analyse(recording).tracks[sound]
    assert found.tracks[sound].rest.value == pytest.approx(whole.rest.value, abs=0.002)
    assert not found.sound
    assert any("Only one track follows the pedal" in note for note in as_texts(found.warnings))


@pytest.mark.parametrize("name", ["healthy", "opposed", "half-slope", "dropouts", "slip",
                                  "worn-spot", "flat-spot", "clipped", "play", "stuck-return"])
def test_a_track_of_the_pedal_is_no_stranger(name):
    recording = simulate_sweep(pedal_named(name), seed=6).recording
    assert sorted(analyse(recording).tracks) == ["a", "b"]


@pytest.mark.parametrize("seed", range(10))
def test_neither_is_one_of_the_second_generator(seed):
    """Five relations, each without and with lost contacts."""
    recording, _ = random_sweep(seed, lost_contacts=seed >= 5)
    assert len(analyse(recording).tracks) == 2


def test_two_that_stand_still_alike_are_left_to_the_comparison():
    """Where it cannot be told which of two is the pedal, neither is put aside."""
    t = np.arange(0.0, 60.0, 0.01)
    step = np.where(t % 10 < 5, 0.0, 3.0)
    assert floating_inputs({"a": step, "b": np.roll(step, 250)}, t) == frozenset()


def test_a_floating_supply_is_the_only_thing_said():
    recording = simulate_sweep(pedal_named("healthy"), seed=4).recording
    found = analyse(_with(recording, "supply", _floating(recording, "hum", 1, 0.16)))
    grave = [s for s in as_texts(found.verdict)
             if s.startswith(("Do not drive", "Repair before", "Track"))]
    assert len(grave) == 1
    assert "its lead is off (an open input floats)" in grave[0]
    assert {f.channel for f in found.faults} == {"supply"}
    assert all(np.isnan(s.value) for s in found.settings if s.unit == "V")


def test_a_supply_of_another_nominal_is_asked_about():
    """A pedal on 5 V recorded as one on 12 V: nothing is missing, a word is wrong."""
    recording = simulate_sweep(pedal_named("healthy"), seed=4).recording
    told = replace(recording, channels=tuple(
        replace(c, nominal_volts=12.0) for c in recording.channels))
    found = analyse(told)
    grave = [s for s in as_texts(found.verdict)
             if s.startswith(("Do not drive", "Repair before", "Track"))]
    assert len(grave) == 1
    assert "reads 5.00 V where 12 V is meant" in grave[0]
    assert "say --supply-volts 5" in grave[0]
    assert "missing" not in grave[0]


def test_a_supply_a_little_off_still_lets_the_faults_speak():
    """At 15 % off the ratios hold for a wiper that lets go: the doubt first, then the fault."""
    recording = simulate_sweep(pedal_named("dropouts"), seed=5).recording
    weak = recording.channel("supply").readings * 0.85
    found = analyse(_with(recording, "supply", weak))
    assert "the supply reads 4.25 V" in as_texts(found.verdict)[0]
    assert any("loses contact" in s for s in as_texts(found.verdict)[1:])
