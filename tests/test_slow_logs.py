"""A slow log says what it cannot show: the noise in short rests, and short losses of contact."""

import dataclasses

import numpy as np
import pytest

from analysis.deadband import dead_band
from analysis.findings import Findings, analyse
from analysis.recording import Recording
from analysis.synthetic import pedal_named, simulate_sweep


def recorded(rate_hz: float) -> Recording:
    return simulate_sweep(pedal_named("healthy"), rate_hz=rate_hz, cycles=12, seed=4).recording


def said(found: Findings) -> str:
    return " ".join((*found.verdict, *found.notes))


@pytest.mark.parametrize("rate_hz", [4.0, 5.0, 10.0])
def test_rests_too_short_for_the_rate_are_not_told_as_no_rest(rate_hz: float) -> None:
    """The rests are there; 20 readings in their middle half are not: 40 take 40 / rate s."""
    found = analyse(recorded(rate_hz))
    rests = [s.end_s - s.start_s for s in found.segments if s.kind == "rest"]
    assert sum(rests) > 20
    weak = found.dead_bands["a"].weak
    assert weak is not None
    assert f"{rate_hz:g} readings a second are too few" in weak
    assert f"rests of {40 / rate_hz:g} s or more" in weak
    assert "log at 20 Hz or more" in weak
    assert "leave the pedal alone for 2 s" not in said(found)
    assert "The pedal was seen at rest for 0.0 s" not in said(found)


def test_a_quick_log_with_too_little_rest_is_still_told_so() -> None:
    """At 100 Hz half a second suffices for a rest; what is missing there is rest."""
    found = analyse(recorded(100.0))
    short = dataclasses.replace(found.tracks["a"], rest_seconds=0.6, noise_volts=float("nan"))
    weak = dead_band(short, found.wishes).weak
    assert weak is not None
    assert weak.startswith("only 0.6 s at rest were seen")


def test_a_track_recorded_less_often_is_judged_by_its_own_rate() -> None:
    """Of a log at 50 Hz one column has a reading every tenth row: 5 a second."""
    recording = recorded(50.0)
    blank = np.arange(recording.rows) % 10 != 0
    channels = tuple(
        dataclasses.replace(c, readings=np.where(blank, np.nan, c.readings))
        if c.column == "b" else c for c in recording.channels)
    found = analyse(dataclasses.replace(recording, channels=channels))
    assert found.tracks["a"].step_s == pytest.approx(0.02)
    assert found.tracks["b"].step_s == pytest.approx(0.2)
    weak = found.dead_bands["b"].weak
    assert weak is not None
    assert "5 readings a second are too few" in weak
