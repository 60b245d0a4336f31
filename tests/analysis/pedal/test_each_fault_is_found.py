"""Each fault is found, on the right track, at its time and place; a sound pedal shows none."""

import dataclasses

import numpy as np
import pytest

from analysis.model.recording import Mark, Recording
from analysis.parameters import Parameters
from analysis.pedal.faults import Fault
from analysis.pedal.faults.returns import return_limit
from analysis.pedal.findings import Findings, analyse
from analysis.simulation import pedal_named, simulate_sweep


def _found(name: str, seed: int = 5, **more: float) -> tuple[Findings, tuple[Fault, ...]]:
    findings = analyse(simulate_sweep(pedal_named(name), seed=seed, **more).recording)  # type: ignore[arg-type]
    return findings, findings.faults


@pytest.mark.parametrize("name", ["healthy", "off-at-rest", "opposed", "half-slope", "offset",
                                  "one-track"])
@pytest.mark.parametrize("seed", range(5))
def test_sound_pedals_show_no_fault(name: str, seed: int) -> None:
    """A pedal without a fault is not accused of one."""
    assert _found(name, seed)[1] == ()


@pytest.mark.parametrize(("name", "kind", "channel"), [
    ("worn-spot", "noise", "a"), ("flat-spot", "flat spot", "b"), ("slip", "step", "b"),
    ("stuck-return", "no return", None), ("slow-return", "slow return", None),
    ("sagging-supply", "supply sag", "supply"), ("clipped", "clipping", "b"),
    ("lost-samples", "gap", None),
])
@pytest.mark.parametrize("seed", range(3))
def test_each_fault_is_named_and_nothing_else(name: str, kind: str, channel: str | None,
                                              seed: int) -> None:
    """The injected fault is the only one reported, on the track that has it."""
    faults = _found(name, seed)[1]
    assert {(f.kind, f.channel) for f in faults} == {(kind, channel)}


def test_dropouts_are_counted_and_placed() -> None:
    """Every loss of contact is told once, on its track, at its time."""
    sweep = simulate_sweep(pedal_named("dropouts"), seed=5)
    faults = [f for f in analyse(sweep.recording).faults if f.kind == "dropout"]
    assert len(faults) == len(sweep.truth.dropouts) > 5
    for fault, true in zip(sorted(faults, key=lambda f: f.time_s), sweep.truth.dropouts,
                           strict=True):
        assert fault.channel == true.column
        assert fault.time_s == pytest.approx(true.start_s, abs=0.01)
        assert fault.travel_percent == pytest.approx(true.travel_percent, abs=5)


def test_return_limits_are_those_of_the_rule() -> None:
    """1 s, 2 s heavier than 4536 kg, 3 s in the cold: 49 CFR 571.124 S5.3 (from memory)."""
    assert return_limit(Parameters()) == 1.0
    assert return_limit(Parameters(heavy_vehicle=True)) == 2.0
    assert return_limit(Parameters(cold=True, heavy_vehicle=True)) == 3.0


def _with_readings(recording: Recording, column: str, readings: np.ndarray) -> Recording:
    channels = tuple(dataclasses.replace(c, readings=readings) if c.column == column else c
                     for c in recording.channels)
    return dataclasses.replace(recording, channels=channels)


def test_a_track_that_never_moves_is_open_or_shorted() -> None:
    """One track at a rail all along: the other is measured alone, and the dead one is named."""
    recording = simulate_sweep(pedal_named("healthy"), seed=5).recording
    found = analyse(_with_readings(recording, "b", np.zeros(recording.rows)))
    assert found.pair is None
    assert list(found.tracks) == ["a"]
    assert [(f.kind, f.channel) for f in found.faults] == [("open or short", "b")]


def test_an_open_lead_for_seconds_is_no_dropout() -> None:
    """Three seconds at 0 V are an open lead; the levels are still those of the sound parts."""
    recording = simulate_sweep(pedal_named("healthy"), seed=5).recording
    readings = recording.channel("b").readings.copy()
    gone = (recording.time_s > 20) & (recording.time_s < 23)
    readings[gone] = 0
    whole, found = analyse(recording), analyse(_with_readings(recording, "b", readings))
    assert ("open or short", "b") in {(f.kind, f.channel) for f in found.faults}
    assert found.tracks["b"].rest.value == pytest.approx(whole.tracks["b"].rest.value, abs=0.003)
    assert sum(s.kind == "press" for s in found.segments) == sum(
        s.kind == "press" for s in whole.segments)


def test_missing_supply_is_told() -> None:
    """A supply that reads a tenth of what is meant is named as missing."""
    recording = simulate_sweep(pedal_named("healthy"), seed=5).recording
    weak = _with_readings(recording, "supply", recording.channel("supply").readings * 0.3)
    kinds = {(f.kind, f.channel) for f in analyse(weak).faults}
    assert ("open or short", "supply") in kinds


def test_gap_marks_are_summed() -> None:
    """The samples that gap marks name are counted, other marks are not."""
    recording = simulate_sweep(pedal_named("healthy"), seed=5).recording
    marked = dataclasses.replace(recording, marks=(
        Mark(100, "gap 7"), Mark(200, "gap of mine"), Mark(300, "gap 5")))
    assert marked.lost_samples == 12
