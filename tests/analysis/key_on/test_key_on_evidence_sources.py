"""Where the key-on analysis takes its facts from: marks, supply, signal, settings, brake line."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from said import as_texts, refuses

from analysis.key_on import analyse_key_on
from analysis.model.errors import NoKeyOn
from analysis.model.recording import Channel, Mark, Recording
from analysis.pedal.findings import Findings, analyse
from analysis.pedal.settings import Setting
from analysis.simulation import Motion, pedal_named, simulate_sweep
from analysis.simulation.car import Car, CarTrack, drive
from bench.wording.key_on_reasons import DIRECTION
from bench.wording.key_on_sentences import log_sentences

SHIFTED = Car(rate_hz=100.0, off_s=6.0, on_s=12.0, ground_volts=0.04, seed=5)
BARE = replace(SHIFTED, with_key=False, with_supply=False)


def with_column(recording: Recording, column: str, readings: np.ndarray) -> Recording:
    """Return the log with other readings in one column."""
    return replace(recording, channels=tuple(
        replace(c, readings=readings) if c.column == column else c for c in recording.channels))


@cache
def swept(name: str) -> Findings:
    """Return the findings of a short sweep of that pedal."""
    return analyse(simulate_sweep(pedal_named(name), 100.0, motion=Motion(cycles=5, quick=1),
                                  seed=1).recording)


def given(**values: float) -> list[Setting]:
    """Return settings named as `a_full_travel=4.2`."""
    return [Setting(name[2:], name[0], value, "V", "") for name, value in values.items()]


# --- key-on ----------------------------------------------------------------------------------

def test_a_key_marked_on_at_the_first_row_was_on_from_there() -> None:
    """On at row 0, off, on again, marked by hand: two key-ons, only the second with a shift."""
    recording, truth = drive(replace(BARE, cycles=2))
    first = int(np.searchsorted(recording.time_s, truth.key_on_s[0])) + 50
    late = replace(
        recording, time_s=recording.time_s[first:],
        channels=tuple(replace(c, readings=c.readings[first:]) for c in recording.channels),
        marks=(Mark(0, "key on"),
               Mark(int(np.searchsorted(recording.time_s, truth.key_off_s[0])) - first, "key off"),
               Mark(int(np.searchsorted(recording.time_s, truth.key_on_s[1])) - first, "Key On ")))
    found = analyse_key_on(late)
    assert [c.found_by for c in found.cycles] == ["mark", "mark"]
    assert [c.on_s for c in found.cycles] == pytest.approx(
        [late.time_s[0], truth.key_on_s[1]], abs=0.02)
    assert np.isnan(found.cycles[0].tracks["a"].shift.value)
    shift = found.cycles[1].tracks["a"].shift
    assert shift.low < 0.04 < shift.high
    assert any("No rest before key-on in cycle 1" in n for n in as_texts(found.notes))


def test_a_mark_at_the_first_row_alone_is_believed() -> None:
    """Nothing else shows a key-on: the user's mark says the key was on all along."""
    recording, _ = drive(replace(BARE, ground_volts=0.0))
    found = analyse_key_on(replace(recording, marks=(Mark(0, "key on"),)))
    (cycle,) = found.cycles
    assert (cycle.found_by, cycle.on_row, cycle.off_row) == ("mark", 0, recording.rows)
    assert np.isnan(cycle.tracks["a"].shift.value)
    assert any(s.startswith("Track a at key-on: shift unknown") for s in log_sentences(found))


def test_a_key_on_marked_twice_is_one() -> None:
    """Two marks at one row, as two taps during a gap leave them, are one key-on."""
    recording, truth = drive(replace(BARE, cycles=3, marked=True))
    twice = tuple(m for mark in recording.marks for m in (mark, mark))
    found = analyse_key_on(replace(recording, marks=twice))
    assert len(found.cycles) == 3
    assert found.tracks["a"].shift.value == pytest.approx(truth.mean_shift["a"], abs=0.0005)


def test_a_key_on_after_the_last_row_is_none() -> None:
    """A mark set after the board had stopped sending has no reading after it."""
    recording, _ = drive(replace(BARE, cycles=1, ground_volts=0.0))
    with pytest.raises(NoKeyOn):
        analyse_key_on(replace(recording, marks=(Mark(recording.rows, "key on"),)))


def test_a_supply_never_clearly_on_or_off_does_not_tell_the_key() -> None:
    """A supply that reads half of nominal all along (a divider not stated) leaves it to the signal.
    """
    recording, truth = drive(replace(SHIFTED, with_key=False))
    half = recording.channel("supply").readings * 0.5
    found = analyse_key_on(with_column(recording, "supply", half))
    assert {c.found_by for c in found.cycles} == {"signal"}
    assert [c.on_s for c in found.cycles] == pytest.approx(truth.key_on_s.tolist(), abs=0.3)


def test_the_signal_of_the_track_that_is_there_is_enough() -> None:
    """With one track dead, no key, mark or supply, the other track shows the key-ons."""
    recording, truth = drive(BARE)
    dead = np.full(recording.rows, np.nan)
    found = analyse_key_on(with_column(recording, "b", dead))
    assert [c.on_s for c in found.cycles] == pytest.approx(truth.key_on_s.tolist(), abs=0.3)
    assert found.tracks["a"].shift.value == pytest.approx(0.04, abs=0.001)
    with pytest.raises(NoKeyOn):
        analyse_key_on(with_column(with_column(recording, "b", dead), "a", dead))


def test_three_seconds_of_tracks_alone_show_no_key_on() -> None:
    """Before and after a change must both be seen for a second and more."""
    recording, _ = drive(replace(BARE, off_s=1.5, on_s=1.5, cycles=1))
    with refuses(NoKeyOn, "no key-on found in 300 rows"):
        analyse_key_on(recording)


def test_a_sweep_is_not_taken_for_a_key_on_log_in_silence() -> None:
    """What was recorded as a sweep but has a key line is analysed, with a word about the foot."""
    recording, _ = drive(SHIFTED)
    notes = analyse_key_on(replace(recording, purpose="sweep")).notes
    assert any("recorded as a sweep, not as a key-on log" in n for n in as_texts(notes))
    assert not any("recorded as" in n for n in as_texts(analyse_key_on(recording).notes))


# --- direction and gain ----------------------------------------------------------------------

@pytest.mark.parametrize(("rest", "full", "settings", "why"), [
    # Rest below half the supply and yet falling: only the settings tell.
    (2.2, 0.4, {"a_start_of_travel": 1.6}, "start of travel against the rest"),
    (2.2, 0.4, {"a_full_travel": 0.4}, "full travel as entered"),
    (2.2, 0.4, {"a_start_of_travel": 2.0, "a_release": 2.1}, "release and start of travel"),
    (2.2, 0.4, {"a_start_of_travel": 2.1, "a_rest": 2.2}, "start of travel against the rest"),
    # Start hardly away from the log's own level, which may lie beyond it: the level decides.
    (4.3, 0.8, {"a_start_of_travel": 4.35}, "its rest lies above half the supply"),
])
def test_the_best_known_fact_tells_the_direction(rest, full, settings, why) -> None:
    """A falling track is told as falling from whatever was entered of it, and why is said."""
    car = replace(SHIFTED, ground_volts=0.0, tracks=(CarTrack("a", rest, full),))
    track = analyse_key_on(drive(car)[0], settings=given(**settings)).tracks["a"]
    assert track.direction == "falling"
    assert DIRECTION[track.direction_why].startswith(why)


def test_a_track_that_is_never_there_takes_its_direction_why_the_settings() -> None:
    """No reading at all: full travel above start of travel is rising, below it falling."""
    recording, _ = drive(SHIFTED)
    dead = with_column(recording, "b", np.full(recording.rows, np.nan))
    for full, way in ((4.1, "rising"), (0.3, "falling")):
        found = analyse_key_on(dead, settings=given(b_start_of_travel=0.9, b_full_travel=full))
        assert found.tracks["b"].direction == way
        assert np.isnan(found.tracks["b"].shift.value)
        assert found.tracks["a"].shift.value == pytest.approx(0.04, abs=0.001)


@pytest.mark.parametrize("order", ["ab", "ba"])
def test_a_moved_pedal_is_known_whichever_track_comes_first(order: str) -> None:
    """A half-slope pedal that moves by 2 % shifts b by half of a, also in a log that has b first.
    """
    sweep = swept("half-slope")
    tracks = {n: CarTrack(n, t.rest.value, t.full.value,
                          0.02 * (t.full.value - t.rest.value), 2e-4)
              for n, t in sweep.tracks.items()}
    assert set(tracks) == {"a", "b"}
    car = replace(SHIFTED, ground_volts=0.0, cycles=5, tracks=tuple(tracks[n] for n in order))
    found = analyse_key_on(drive(car)[0], sweep=sweep)
    assert found.common.kind == "pedal moved"


def test_a_sweep_of_other_tracks_leaves_the_gain_to_the_settings() -> None:
    """The log's second track was not in the sweep: the spans entered tell how the pedal moves."""
    sweep = swept("healthy")
    car = replace(SHIFTED, ground_volts=0.0, cycles=5, tracks=(
        CarTrack("x", 0.7, 4.2, 0.06, 2e-4), CarTrack("y", 4.3, 0.8, -0.06, 2e-4)))
    settings = given(x_full_travel=4.2, y_full_travel=0.8)
    found = analyse_key_on(drive(car)[0], settings=settings, sweep=sweep)
    assert found.common.kind == "pedal moved"


def test_a_log_without_a_rest_keeps_the_assumed_allowance() -> None:
    """The key on all along: whether the pedal rests where the sweep had it cannot be told."""
    sweep = swept("healthy")
    tracks = tuple(CarTrack(n, t.rest.value + 0.3, t.full.value) for n, t in sweep.tracks.items())
    recording, truth = drive(replace(SHIFTED, cycles=1, tracks=tracks))
    on = int(np.searchsorted(recording.time_s, truth.key_on_s[0])) + 20
    late = replace(recording, time_s=recording.time_s[on:], channels=tuple(
        replace(c, readings=c.readings[on:]) for c in recording.channels))
    found = analyse_key_on(late, sweep=sweep)
    assert not found.car
    assert not found.issued
    assert not any("than in the sweep" in n for n in as_texts(found.notes))
    assert any(s.startswith("The assumed allowance stays: ") for s in log_sentences(found))


# --- brake -----------------------------------------------------------------------------------

BRAKED = Car(cycles=1, on_s=30.0, rate_hz=100.0, brakes=((0, 5.0, 1.0), (0, 7.0, 1.0)),
             presses=((0, 4.0, 6.0, 60.0),))
TRAVEL = given(a_full_travel=4.2, a_rest=0.7)


def test_the_brake_pumped_during_one_press_is_one_event() -> None:
    """Power stays off until the pedal is below 5 %, whatever the brake does (FSAE EV.4.7)."""
    (event,) = analyse_key_on(drive(BRAKED)[0], settings=TRAVEL).brake_events
    assert event.start_s == pytest.approx(8.0 + 5.0, abs=0.1)
    assert event.end_s == pytest.approx(8.0 + 10.0, abs=0.15)


def test_missing_readings_do_not_end_a_brake_event() -> None:
    """Readings lost while the pedal is down do not show that it came back below 5 %."""
    recording, _ = drive(BRAKED)
    time = recording.time_s
    holes = np.where((time > 14.0) & (time < 15.5), np.nan, recording.channel("a").readings)
    (event,) = analyse_key_on(with_column(recording, "a", holes), settings=TRAVEL).brake_events
    assert event.end_s == pytest.approx(18.0, abs=0.15)
    assert event.peak_percent == pytest.approx(60.0, abs=1.0)


def test_a_pedal_held_to_the_end_keeps_its_event_open() -> None:
    """A log that ends with the pedal down ends the event with the log."""
    recording, _ = drive(replace(BRAKED, presses=((0, 4.0, 40.0, 60.0),)))
    (event,) = analyse_key_on(recording, settings=TRAVEL).brake_events
    assert event.end_s == pytest.approx(recording.time_s[-1], abs=0.1)


@pytest.mark.parametrize("poor", ["brake never pressed", "brake not there", "no full travel",
                                  "track not there"])
def test_brake_and_pedal_that_cannot_be_told_are_not(poor: str) -> None:
    """Without a brake that moves, a track, or full travel there is a note instead of events."""
    recording, _ = drive(BRAKED)
    settings = TRAVEL
    if poor == "brake never pressed":
        recording = with_column(recording, "brake", np.full(recording.rows, 0.1))
    elif poor == "brake not there":
        recording = with_column(recording, "brake", np.full(recording.rows, np.nan))
    elif poor == "track not there":
        recording = with_column(recording, "a", np.full(recording.rows, np.nan))
    else:
        settings = []
    found = analyse_key_on(recording, settings=settings)
    assert found.brake_events == ()
    assert any("brake and pedal together cannot be told" in n for n in as_texts(found.notes))


def test_a_swept_track_that_is_gone_in_the_car_tells_no_brake() -> None:
    """The sweep knows the travel, but the log has no reading of the track."""
    sweep = swept("healthy")
    recording, _ = drive(BRAKED)
    gone = with_column(recording, "a", np.full(recording.rows, np.nan))
    found = analyse_key_on(gone, sweep=sweep)
    assert found.brake_events == ()
    assert any("the track is not there" in n for n in as_texts(found.notes))


# --- temperature -----------------------------------------------------------------------------

def warm_log(rate_hz: float, minutes: float, kelvin: float, foot: bool = False) -> Recording:
    """Return a log of one key-on that warms evenly and creeps by 0.5 mV per kelvin."""
    n = round(60.0 * minutes * rate_hz)
    time = np.arange(n) / rate_hz
    degrees = 20.0 + kelvin * time / time[-1]
    volts = 0.7 + 0.0005 * (degrees - 20.0) + np.random.default_rng(3).normal(0, 5e-4, n)
    if foot:
        volts[(time > 40.0) & (time < 43.0)] += 2.0
    return Recording(time, (
        Channel("a", "track", volts, "V"),
        Channel("key", "key", np.where(time > 12.0, 12.0, 0.0), "V"),
        Channel("warm", "temperature", degrees, "V")), purpose="key-on", rate_hz=rate_hz)


@pytest.mark.parametrize("log", [warm_log(10.0, 40.0, 20.0), warm_log(50.0, 3.0, 15.0, foot=True)],
                         ids=["longer than 256 stretches", "with a foot in it"])
def test_the_creep_per_degree_holds_in_long_and_pressed_logs(log: Recording) -> None:
    """0.5 mV per kelvin was put in; a press of 2 V in between leaves it as it is."""
    slope = analyse_key_on(log).tracks["a"].per_degree
    assert slope is not None
    assert slope.value == pytest.approx(0.0005, rel=0.05)
    assert slope.low < 0.0005 < slope.high


def test_a_temperature_that_stands_still_tells_no_creep() -> None:
    """Below one degree of warming there is no slope rather than a wild one."""
    assert analyse_key_on(warm_log(50.0, 2.0, 0.5)).tracks["a"].per_degree is None
