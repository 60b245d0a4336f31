"""Key-on found from the key line, marks, the supply or the signal; the foot left out."""

from dataclasses import replace

import numpy as np
import pytest
from said import as_texts, refuses

from analysis.key_on import analyse_key_on
from analysis.model.errors import NoKeyOn, NoTrack, SweepTooShort
from analysis.model.recording import Channel, Mark, Recording
from analysis.simulation import Motion, pedal_named, simulate_sweep
from analysis.simulation.car import Car, CarNoise, CarTrack, drive
from bench.wording.key_on_verdict import verdict_text

SHIFTED = Car(rate_hz=200.0, ground_volts=0.04, seed=5)


def test_bouncing_key_line_gives_the_first_touch() -> None:
    """A key line that bounces for 4 ms is one key-on, at its first touch."""
    recording, truth = drive(replace(SHIFTED, rate_hz=1000.0))
    found = analyse_key_on(recording)
    assert [c.found_by for c in found.cycles] == ["key channel"] * 3
    assert [c.on_s for c in found.cycles] == pytest.approx(truth.key_on_s.tolist(), abs=0.0015)


def test_marks_stand_in_for_the_key_line() -> None:
    """Without a key line the marks `key on` and `key off` tell the times."""
    recording, truth = drive(replace(SHIFTED, with_key=False, marked=True))
    found = analyse_key_on(recording)
    assert {c.found_by for c in found.cycles} == {"mark"}
    assert [c.on_s for c in found.cycles] == pytest.approx(truth.key_on_s.tolist(), abs=0.01)
    assert found.tracks["a"].shift.low < 0.04 < found.tracks["a"].shift.high
    assert any("wire the key line" in n for n in as_texts(found.notes))


def test_supply_that_appears_is_a_key_on_without_a_rest_before() -> None:
    """A pedal fed only while the key is on has key-ons, but no shift, and that is said."""
    recording, truth = drive(replace(SHIFTED, with_key=False, off_s=6.0))
    on = np.zeros(recording.rows, dtype=bool)
    for start, stop in zip(truth.key_on_s, truth.key_off_s, strict=True):
        on |= (recording.time_s >= start) & (recording.time_s <= stop)
    dead = tuple(replace(c, readings=np.where(on, c.readings, 0.0)) for c in recording.channels)
    found = analyse_key_on(replace(recording, channels=dead))
    assert [c.found_by for c in found.cycles] == ["supply"] * 3
    assert np.isnan(found.tracks["a"].shift.value)
    assert not found.car
    assert any("No rest before key-on" in n for n in as_texts(found.notes))


def test_signal_alone_shows_key_on() -> None:
    """With neither key, mark nor supply the change of the tracks shows key-on and key-off."""
    car = replace(SHIFTED, with_key=False, with_supply=False)
    recording, truth = drive(car)
    found = analyse_key_on(recording)
    assert {c.found_by for c in found.cycles} == {"signal"}
    assert [c.on_s for c in found.cycles] == pytest.approx(truth.key_on_s.tolist(), abs=0.2)
    assert [c.off_s for c in found.cycles][:2] == pytest.approx(
        truth.key_off_s.tolist()[:2], abs=0.2)


def test_noise_alone_shows_key_on() -> None:
    """A car that only gets noisier is found too."""
    car = replace(SHIFTED, ground_volts=0.0, with_key=False, with_supply=False,
                  noise=CarNoise(0.001, 0.008))
    recording, truth = drive(car)
    found = analyse_key_on(recording)
    assert [c.on_s for c in found.cycles] == pytest.approx(truth.key_on_s.tolist(), abs=0.2)


def test_a_log_without_key_on_says_so() -> None:
    """A quiet pedal alone is refused with one line that says what to do."""
    car = replace(SHIFTED, ground_volts=0.0, with_key=False, with_supply=False)
    with refuses(NoKeyOn, "mark the key-on with a key press"):
        analyse_key_on(drive(car)[0])


def test_a_sweep_is_no_key_on_log() -> None:
    """Presses of a bench sweep, foot on more often than off, are not taken for key-ons."""
    sweep = simulate_sweep(pedal_named("healthy"), 100.0, motion=Motion(cycles=6, quick=3), seed=1)
    with pytest.raises(NoKeyOn):
        analyse_key_on(sweep.recording)


def test_key_on_all_along_is_one_cycle_without_rest() -> None:
    """A log that starts with the key on has a cycle but no shift."""
    recording, truth = drive(replace(SHIFTED, cycles=1, on_s=30.0))
    start = int(np.searchsorted(recording.time_s, truth.key_on_s[0] + 1.0))
    late = replace(
        recording, time_s=recording.time_s[start:],
        channels=tuple(replace(c, readings=c.readings[start:]) for c in recording.channels),
        marks=(Mark(0, "key on"),))
    with pytest.raises(NoKeyOn):
        analyse_key_on(replace(late, marks=(), channels=tuple(
            c for c in late.channels if c.role == "track")))
    # The key line stands high all the time: switched on before the log began.
    found = analyse_key_on(late)
    assert len(found.cycles) == 1
    assert np.isnan(found.cycles[0].tracks["a"].shift.value)


def test_log_without_track_or_rows_is_refused() -> None:
    """No pedal, or hardly a row, is an error of one line, not a traceback."""
    recording, _ = drive(replace(SHIFTED, cycles=1))
    with pytest.raises(NoTrack):
        analyse_key_on(replace(recording, channels=recording.channels[2:]))
    few = Recording(np.arange(10) / 100.0, (Channel("a", "track", np.ones(10), "V"),))
    with pytest.raises(SweepTooShort):
        analyse_key_on(few)


def test_foot_is_left_out_and_told() -> None:
    """Presses of the pedal are excluded with their times, and the shift is right all the same."""
    car = replace(SHIFTED, presses=((0, 6.0, 1.5, 80.0), (2, 9.0, 2.0, 30.0)))
    recording, truth = drive(car)
    found = analyse_key_on(recording)
    assert len(found.presses) == 2
    for press, (start, end) in zip(found.presses, truth.press_s, strict=True):
        assert press.start_s <= start + 0.1
        assert press.end_s >= end
        assert press.end_s - press.start_s < end - start + 1.5
    assert found.tracks["a"].shift.low < truth.mean_shift["a"] < found.tracks["a"].shift.high
    assert "Left out: 2 movements" in verdict_text(found)


def test_one_track_that_jumps_is_not_a_foot() -> None:
    """A single track lifted by half a volt stays in: that is the fault that is looked for."""
    car = replace(SHIFTED, ground_volts=0.0, tracks=(
        CarTrack("a", 0.7, 4.2), CarTrack("b", 0.8, 4.1, 0.5)))
    found = analyse_key_on(drive(car)[0])
    assert found.presses == ()
    assert found.tracks["b"].excursion_volts > 0.45


def test_both_tracks_lifted_with_the_key_are_the_car() -> None:
    """Both tracks lifted by half a volt from key-on to key-off are not taken for a foot."""
    recording, truth = drive(replace(SHIFTED, ground_volts=0.5))
    found = analyse_key_on(recording)
    assert found.presses == ()
    assert found.tracks["a"].shift.value == pytest.approx(truth.mean_shift["a"], abs=0.01)


def test_missing_samples_are_told() -> None:
    """A gap in the log is noted and does not disturb the shift."""
    recording, truth = drive(SHIFTED)
    keep = np.ones(recording.rows, dtype=bool)
    keep[2500:2900] = False
    cut = replace(recording, time_s=recording.time_s[keep], channels=tuple(
        replace(c, readings=c.readings[keep]) for c in recording.channels))
    found = analyse_key_on(cut)
    assert any("missing at 1 place;" in n for n in as_texts(found.notes))
    assert found.tracks["a"].shift.value == pytest.approx(truth.mean_shift["a"], abs=0.0003)
