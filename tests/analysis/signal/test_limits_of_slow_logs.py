"""A slow log says what it cannot show: the noise in short rests, and short losses of contact."""

import dataclasses

import numpy as np
import pytest
from said import as_text, as_texts

from analysis.model.recording import Recording
from analysis.pedal.dead_band import dead_band
from analysis.pedal.findings import Findings, analyse
from analysis.simulation import pedal_named, simulate_sweep


def recorded(rate_hz: float) -> Recording:
    return simulate_sweep(pedal_named("healthy"), rate_hz=rate_hz, cycles=12, seed=4).recording


def said(found: Findings) -> str:
    return " ".join((*as_texts(found.verdict), *as_texts(found.notes)))


@pytest.mark.parametrize("rate_hz", [4.0, 5.0, 10.0])
def test_rests_too_short_for_the_rate_are_not_told_as_no_rest(rate_hz: float) -> None:
    """The rests are there; 20 readings in their middle half are not: 40 take 40 / rate s."""
    found = analyse(recorded(rate_hz))
    rests = [s.end_s - s.start_s for s in found.segments if s.kind == "rest"]
    assert sum(rests) > 20
    weak = as_text(found.dead_bands["a"].weak)
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
    weak = as_text(dead_band(short, found.parameters).weak)
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
    weak = as_text(found.dead_bands["b"].weak)
    assert weak is not None
    assert "5 readings a second are too few" in weak


def lost_between_rows(rate_hz: float, seconds: float) -> tuple[Findings, int]:
    """Return findings of a log of which b goes to 0 V once a press, starting after a reading.

    Together with how many readings fell into the losses: made here, row by row.
    """
    recording = recorded(rate_hz)
    times, a = recording.time_s, recording.channel("a").volts()
    pressed = a > 0.5 * (a.min() + a.max())
    starts = times[1:][np.diff(pressed.astype(int)) == 1] + 0.1 / rate_hz
    gone = np.zeros(recording.rows, dtype=bool)
    for start in starts:
        gone |= (times >= start) & (times < start + seconds)
    channels = tuple(
        dataclasses.replace(c, readings=np.where(gone, 0.0, c.readings))
        if c.column == "b" else c for c in recording.channels)
    return analyse(dataclasses.replace(recording, channels=channels)), int(gone.sum())


def test_losses_that_fall_between_the_rows_are_not_passed_over_in_silence() -> None:
    """30 ms at 20 Hz: no reading falls into them, nothing is found, and a caution says so."""
    found, seen = lost_between_rows(20.0, 0.03)
    assert seen == 0
    assert found.faults == ()
    caution = next(w for w in as_texts(found.warnings) if "between two" in w)
    assert "At 20 readings a second" in caution
    assert "shorter than 50 ms" in caution


@pytest.mark.parametrize("rate_hz", [20.0, 30.0])
def test_a_loss_as_long_as_the_time_named_is_found(rate_hz: float) -> None:
    """From one step on a reading falls into each, and most are told on the right track."""
    found, seen = lost_between_rows(rate_hz, 1.0 / rate_hz)
    assert seen >= 10
    told = [f for f in found.faults if f.kind in ("dropout", "open or short")]
    assert {f.channel for f in told} == {"b"}
    assert len(told) >= 0.7 * seen


@pytest.mark.parametrize(("rate_hz", "cautioned"), [(10.0, True), (49.0, True), (50.0, True),
                                                    (60.0, False), (100.0, False)])
def test_the_caution_comes_with_slow_logs_alone(rate_hz: float, cautioned: bool) -> None:
    """At 50 readings a second and fewer (common practice, no source: bounces last 1 to 20 ms)."""
    warned = as_texts(analyse(recorded(rate_hz)).warnings)
    assert any("between two" in w for w in warned) == cautioned


def test_the_caution_says_that_none_is_found_only_where_none_is() -> None:
    """A page that lists dropouts says that there may be more, not that no such fault is found."""
    for seconds in (0.03, 0.05):
        found, seen = lost_between_rows(20.0, seconds)
        caution = next(w for w in as_texts(found.warnings) if "between two" in w)
        assert bool(found.faults) == bool(seen)
        assert ("no such fault is found" in caution) == (not found.faults)
        assert ("may be more of them" in caution) == bool(found.faults)
