"""Wear, lost contact and gaps at the places where they are hard to see: ends and few readings."""

from dataclasses import replace

import numpy as np
import pytest
from said import fault_text, refuses

from analysis.model.errors import NoTrack
from analysis.model.recording import Channel, Mark, Recording
from analysis.pedal.faults import Fault
from analysis.pedal.faults.wear import flat_faults, noise_faults
from analysis.pedal.findings import Findings, analyse
from analysis.signal.segments import find_segments
from analysis.simulation import Dropout, FlatSpot, Motion, WornSpot, pedal_named, simulate_sweep

HEALTHY = pedal_named("healthy")
SHORT = Motion(cycles=5, quick=2)


def swept(seed: int = 3, rate_hz: float = 200.0, **changes: object) -> Findings:
    """Return the findings of a healthy pedal with those changes."""
    return analyse(simulate_sweep(replace(HEALTHY, **changes), rate_hz, motion=SHORT,  # type: ignore[arg-type]
                                  seed=seed).recording)


def of_kind(findings: Findings, kind: str) -> list[Fault]:
    return [f for f in findings.faults if f.kind == kind]


@pytest.mark.parametrize("place", [20.0, 50.0, 80.0])
def test_wear_is_timed_where_a_press_first_passes_it(place: float) -> None:
    """The time beside a worn place is that at which the pedal was first there."""
    sweep = simulate_sweep(replace(HEALTHY, worn_spots=(WornSpot(0, place, 4.0, 0.04),)), 200.0,
                           motion=SHORT, seed=3)
    found = analyse(sweep.recording)
    (fault,) = of_kind(found, "noise")
    assert fault.channel == "a"
    assert fault.travel_percent == pytest.approx(place, abs=4.0)
    # The truth of the simulation, not the analysed travel.
    passed = sweep.truth.pedal_travel_percent >= fault.travel_percent
    assert fault.time_s == pytest.approx(sweep.recording.time_s[np.argmax(passed)], abs=0.3)


@pytest.mark.parametrize("release_first", [False, True])
def test_a_place_that_no_press_passes_is_timed_by_the_pedal(release_first: bool) -> None:
    """Wear beyond where presses end, or in a sweep that only lifts off, is not put at its start."""
    rise = np.linspace(0.0, 100.0, 200)
    parts = ([np.full(150, 100.0), rise[::-1], np.zeros(150)] if release_first else
             [np.zeros(150), rise, np.full(150, 100.0)])
    pedal = np.concatenate(parts)
    times = np.arange(pedal.size) * 0.01
    segments = find_segments(pedal, times, 1)
    found = swept()
    noise = np.full(found.tracks["a"].noise_map_percent.size, 0.001)
    noise[-2:] = 0.2
    track = replace(found.tracks["a"], noise_map_volts=noise)
    (fault,) = noise_faults({"a": track}, times, pedal, segments, [])
    assert fault.travel_percent > 95.0
    first = times[np.argmax(pedal >= fault.travel_percent)]
    assert fault.time_s == pytest.approx(first, abs=0.011)
    assert release_first or fault.time_s > 3.0


def test_a_flat_spot_is_on_the_track_that_stands_still() -> None:
    """A stretch of 5 % where b stands still is told on b, not on a, at its place."""
    (fault,) = of_kind(swept(flat_spots=(FlatSpot(1, 30.0, 5.0),)), "flat spot")
    assert fault.channel == "b"
    assert fault.travel_percent == pytest.approx(30.0, abs=2.0)


def test_too_little_travel_shows_no_flat_spot() -> None:
    """Half a press passes too few places on both ways for anything to stand out as still."""
    rise = np.concatenate([np.zeros(50), np.linspace(0.0, 30.0, 200), np.full(50, 30.0)])
    way = np.where(np.gradient(rise) > 0, 1, 0)
    times = np.arange(rise.size) * 0.01
    tracks = swept().tracks
    travel = {"a": rise, "b": np.where((rise > 10) & (rise < 20), 10.0, rise)}
    assert flat_faults(tracks, travel, way, times, rise, find_segments(rise, times, 1)) == []


def test_a_slow_board_does_not_take_movement_for_wear() -> None:
    """Below 30 readings a second wear cannot be told from movement, so none is told."""
    worn = (WornSpot(0, 50.0, 4.0, 0.04),)
    assert of_kind(swept(rate_hz=20.0, worn_spots=worn), "noise") == []
    assert of_kind(swept(worn_spots=worn), "noise")


@pytest.mark.parametrize("at_s", [0.0, 0.02])
def test_lost_contact_at_the_very_first_readings_is_seen(at_s: float) -> None:
    """Contact that is only made after the recording has begun is lost contact at its begin."""
    found = swept(dropouts=(Dropout(0, 0.04, at_s=at_s),))
    (fault,) = of_kind(found, "dropout")
    assert fault.channel == "a"
    assert fault.time_s == pytest.approx(at_s, abs=0.02)


def test_a_bad_line_is_told_in_fifty_gaps_and_one_more() -> None:
    """130 places with lost samples do not bury everything else: the rest is told as one."""
    recording = simulate_sweep(HEALTHY, 200.0, motion=SHORT, seed=3).recording
    rows = np.linspace(100, recording.rows - 100, 130).astype(int)
    marks = tuple(Mark(int(r), "gap 3") for r in rows)
    gaps = of_kind(analyse(replace(recording, marks=marks)), "gap")
    assert len(gaps) == 51
    last = max(gaps, key=lambda f: f.time_s)
    assert fault_text(last) == "80 more gaps follow"
    assert last.time_s == pytest.approx(recording.time_s[rows[50]])
    few = of_kind(analyse(replace(recording, marks=marks[:50])), "gap")
    assert len(few) == 50
    assert all(fault_text(f).startswith("3 samples were lost before") for f in few)


def test_a_recording_without_a_track_is_refused() -> None:
    """Only a supply: the one-line error says which role is missing."""
    recording = simulate_sweep(HEALTHY, 200.0, motion=SHORT, seed=3).recording
    with refuses(NoTrack, 'no channel of role "track"'):
        analyse(replace(recording, channels=recording.with_role("supply")))


@pytest.mark.parametrize("rate", [200.0, 1000.0])
def test_a_flat_spot_that_ends_in_a_jump_never_blames_the_sound_track(rate):
    """What one track does in a jump is in both tracks' noise; made by hand, no outside source."""
    parts = [np.zeros(round(2 * rate))]
    for _ in range(6):
        parts += [np.linspace(0, 1, round(1.8 * rate)), np.ones(round(rate)),
                  np.linspace(1, 0, round(1.8 * rate)), np.zeros(round(2 * rate))]
    travel = np.concatenate(parts)
    stuck = np.where((travel > 0.50) & (travel < 0.57), 0.50, travel)
    rng = np.random.default_rng(4)
    channels = tuple(Channel(
        n, "track", np.round(4096 * (0.15 + 0.7 * t) + 0.8 * rng.normal(size=t.size)),
        full_scale=4096.0, reference_volts=5.0) for n, t in (("a", travel), ("b", stuck)))
    found = analyse(Recording(np.arange(travel.size) / rate, channels, rate_hz=rate))
    grave = [f for f in found.faults if f.gravity >= 2]
    assert grave
    assert {f.channel for f in grave} <= {"b", None}
    assert found.state == "bad"
