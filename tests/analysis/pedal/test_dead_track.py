"""A track that stands still while the pedal moves is named, and the sound one is left in peace.

The sweeps are made by hand here: ramps, holds and rests of a foot, two tracks, a converter that
rounds. No outside source: common practice.
"""

import numpy as np
import pytest
from said import fault_text

from analysis.evidence.sweep import CONTACT
from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import analyse

RATE = 200.0


def foot(presses=6):
    """Return the pedal's travel, 0 to 1: rests of 2 s, presses of 1 s, holds of 1 s, lift-offs."""
    parts = [np.zeros(round(2 * RATE))]
    for k in range(presses):
        back = 1.0 if k % 2 else 0.15
        parts += [np.linspace(0, 1, round(RATE)), np.ones(round(RATE)),
                  np.linspace(1, 0, round(back * RATE)), np.zeros(round(2 * RATE))]
    return np.concatenate(parts)


def sweep(dead=None, start_s=0.0, stop_s=0.0, gain=0.7, noise=0.4, rate=RATE):
    """Return two tracks as 10-bit counts; `dead` stands still from start to stop."""
    travel = foot()
    rng = np.random.default_rng(5)
    times = np.arange(travel.size) / rate
    shares = {"a": 0.15 + 0.70 * travel, "b": 0.16 + gain * travel if gain > 0
              else 0.86 + gain * travel}
    if dead:
        here = (times >= start_s) & (times < stop_s)
        shares[dead] = np.where(here, shares[dead][np.argmax(here)], shares[dead])
    channels = tuple(Channel(
        n, "track", np.round(1024 * s + noise * rng.normal(size=travel.size)), full_scale=1024.0,
        reference_volts=5.0) for n, s in shares.items())
    feed = Channel("supply", "supply", np.full(travel.size, 1023.0), full_scale=1024.0,
                   reference_volts=5.0, nominal_volts=5.0)
    return analyse(Recording(times, (*channels, feed), rate_hz=rate))


def accused(findings):
    return {f.channel for f in findings.faults if f.gravity >= 2 and f.channel}


@pytest.mark.parametrize("gain", [0.7, 0.35, -0.7])
@pytest.mark.parametrize("dead", ["a", "b"])
@pytest.mark.parametrize(("start_s", "stop_s"), [
    (12.0, 99.0),   # at rest, to the end
    (2.5, 99.0),    # half-way up the first press
    (8.5, 13.0),    # at full travel, for one lift-off and a press
    (7.4, 11.0),    # half-way up, for a while
])
def test_a_dead_track_is_grave_and_named_and_the_other_is_not(dead, gain, start_s, stop_s):
    found = sweep(dead, start_s, stop_s, gain)
    dead_faults = [f for f in found.faults if f.kind == "dead track"]
    assert {f.channel for f in dead_faults} == {dead}
    assert all(f.gravity == 3 for f in dead_faults)
    assert accused(found) == {dead}
    assert found.state == "bad"
    assert any(c.claim == CONTACT and c.state == "bad" for c in found.claims)


@pytest.mark.parametrize("gain", [0.7, 0.35, -0.7])
def test_two_tracks_that_follow_are_not_called_dead(gain):
    assert not [f for f in sweep(gain=gain).faults if f.kind == "dead track"]


def test_a_track_without_any_noise_is_found_dead_too():
    found = sweep("b", 12.0, 99.0, noise=0.0)
    assert {f.channel for f in found.faults if f.kind == "dead track"} == {"b"}


def in_turn():
    """Return a sweep in which a stands still for a press, and b from the lift-off after it on."""
    travel = foot()
    times = np.arange(travel.size) / RATE
    rng = np.random.default_rng(6)
    channels = []
    for name, start_s, stop_s in (("a", 11.0, 13.0), ("b", 13.1, 16.4)):
        here = (times >= start_s) & (times < stop_s)
        own = np.where(here, travel[np.argmax(here)], travel)
        channels.append(Channel(
            name, "track", np.round(1024 * (0.15 + 0.7 * own) + 0.4 * rng.normal(size=own.size)),
            full_scale=1024.0, reference_volts=5.0))
    return analyse(Recording(times, tuple(channels), rate_hz=RATE))


def test_where_both_stand_still_in_turn_neither_is_blamed():
    """Each is still while the other moves: nobody knows which of them follows the pedal."""
    found = in_turn()
    dead = [f for f in found.faults if f.kind == "dead track"]
    assert dead
    assert {f.channel for f in dead} == {None}
    assert all(f.gravity == 3 for f in dead)
    assert "which of them follows the pedal cannot be told" in fault_text(dead[0])
    assert accused(found) == set()
    assert all(band.weak is not None for band in found.dead_bands.values())


def test_a_dead_wiper_that_leaks_some_motion_is_found():
    travel = foot()
    held = np.where(np.arange(travel.size) / RATE > 12.0, 0.2 * travel, travel)
    channels = tuple(Channel(n, "track", np.round(4096 * (0.15 + 0.7 * t)), full_scale=4096.0,
                             reference_volts=5.0) for n, t in (("a", travel), ("b", held)))
    found = analyse(Recording(np.arange(travel.size) / RATE, channels, rate_hz=RATE))
    assert {f.channel for f in found.faults if f.kind == "dead track"} == {"b"}


@pytest.mark.parametrize(("gain", "told"), [(0.7, True), (0.35, False), (-0.7, False)])
def test_only_beside_tracks_of_one_slope_stands_that_a_short_is_unseen(gain, told):
    """The Formula SAE rules T.4.2 ask for different transfer functions for this reason."""
    codes = {s.code: s.gravity for s in sweep(gain=gain).graded}
    assert ("shared short unseen" in codes) == told
    assert codes.get("shared short unseen", 0) == 0
