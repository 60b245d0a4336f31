"""A lost contact is told of the track that let go; where it cannot be told which, of the pair."""

import dataclasses

import numpy as np
import pytest
from said import fault_text

from analysis.evidence.sweep import CONTACT
from analysis.model.recording import Channel, Recording
from analysis.pedal.faults import dropouts
from analysis.pedal.findings import Findings, analyse

RATE = 50.0
# Travel of a quick lift-off at 50 readings a second, %, and the rest and hold around it.
LIFT = np.r_[np.full(20, 100.0), 99.0, 95.0, 82.0, 62.0, 41.0, 21.0, 7.0, 1.0, np.zeros(20)]


def _found(first: np.ndarray, second: np.ndarray, step_s: float = 1 / RATE) -> list[str | None]:
    """Return of which tracks a loss is told."""
    limit = np.full(first.size, 3.0)
    limit[1:] += 0.25 * np.abs(np.diff((first + second) / 2))
    limit[:-1] += 0.25 * np.abs(np.diff((first + second) / 2))
    told = dropouts.find_dropouts({"a": first, "b": second}, first - second, limit, step_s)
    return [d.column for d in told]


@pytest.mark.parametrize("at", range(22, 26))
@pytest.mark.parametrize("samples", range(2, 6))
def test_an_input_that_holds_its_last_value_in_a_lift_off_is_named(at: int, samples: int) -> None:
    """The pedal falls by 20 % a reading: the track that stands still and then jumps let go."""
    held = LIFT.copy()
    held[at:at + samples] = held[at - 1]
    assert _found(held, LIFT) == ["a"]
    assert _found(LIFT, held) == ["b"]


@pytest.mark.parametrize("at", range(20, 28))
def test_an_input_that_jumps_aside_in_a_lift_off_is_named(at: int) -> None:
    """A loss to another level within the range of travel, both ways."""
    for by in (-25.0, 25.0):
        aside = LIFT.copy()
        aside[at:at + 3] += by
        assert _found(aside, LIFT) == ["a"]
        assert _found(LIFT, aside) == ["b"]


def test_what_leaves_the_stops_let_go() -> None:
    """No foot takes a pedal beyond its stops, however quickly it moves."""
    out = LIFT.copy()
    out[22:25] = -40.0
    assert _found(LIFT, out) == ["b"]


def test_two_tracks_that_part_alike_are_told_once_as_of_the_pair() -> None:
    """Each goes as far from the middle as the other: nobody knows which of them let go."""
    apart = np.zeros(LIFT.size)
    apart[24] = 13.0
    assert _found(LIFT + apart, LIFT - apart) == [None]


def test_two_tracks_that_both_jump_as_no_foot_can_are_both_named() -> None:
    """At 1000 readings a second a corner of 20 % of travel is of no foot."""
    still = np.full(60, 50.0)
    apart = np.zeros(60)
    apart[30:33] = 20.0
    assert sorted(map(str, _found(still + apart, still - apart, 0.001))) == ["a", "b"]


def _swept(first: np.ndarray, second: np.ndarray) -> Findings:
    """Return the findings of eight slow presses and lift-offs, with something added to each track.

    first, second: % of travel, added around the middle of the fifth lift-off.
    """
    press = np.r_[np.zeros(100), 50 - 50 * np.cos(np.linspace(0, np.pi, 60)), np.full(50, 100.0)]
    travel = np.r_[np.tile(np.r_[press, LIFT[20:28]], 8), np.zeros(100)]
    at = 5 * press.size + 4 * 8 + 3
    rng = np.random.default_rng(4)
    columns = []
    for name, added, rest in (("a", first, 0.8), ("b", second, 0.9)):
        own = travel.copy()
        own[at:at + added.size] += added
        volts = rest + 0.032 * own + rng.normal(0, 0.0005, travel.size)
        columns.append(Channel(name, "track", np.round(volts * 4096 / 6), "counts", 4096.0, 6.0))
    return analyse(Recording(np.arange(travel.size) / RATE, tuple(columns), rate_hz=RATE))


def test_a_loss_of_the_pair_opens_the_claim_of_contact_and_names_no_track() -> None:
    """One sentence, gravity 3, without a track; contact is not sound; the levels are not hurt."""
    apart = np.array([13.0])
    sound, found = _swept(np.zeros(1), np.zeros(1)), _swept(apart, -apart)
    assert sound.faults == ()
    assert [(f.kind, f.channel, f.gravity) for f in found.faults] == [("dropout", None, 3)]
    assert "cannot be told" in fault_text(found.faults[0])
    assert {c.claim: c.state for c in found.claims}[CONTACT] == "bad"
    assert [s.subject for s in found.coded if s.code == "dropout"] == ["pair"]
    for name, track in found.tracks.items():
        assert dataclasses.astuple(track.rest) == pytest.approx(
            dataclasses.astuple(sound.tracks[name].rest), abs=0.001)


def _alone(lost: slice | None) -> list[float]:
    """Return when a track without a partner is told to lose contact: it springs back from its stop.

    The lift-offs are over within a twelfth of a second, and bounce by 20 % of travel.
    """
    rate = 500.0
    lift = 100 - 100 * np.linspace(0, 1, round(rate / 12)) ** 2
    press = 50 - 50 * np.cos(np.linspace(0, np.pi, round(0.9 * rate)))
    bounce = 20 * np.sin(np.linspace(0, np.pi, round(0.03 * rate)))
    cycle = np.r_[np.zeros(round(2 * rate)), press, np.full(round(rate), 100.0), lift, bounce]
    travel = np.r_[np.tile(cycle, 6), np.zeros(round(2 * rate))]
    rng = np.random.default_rng(3)
    volts = 0.8 + 0.032 * travel + rng.normal(0, 0.0005, travel.size)
    if lost is not None:
        volts[lost] = 0.3
    channel = Channel("a", "track", np.round(volts * 4096 / 6), "counts", 4096.0, 6.0)
    found = analyse(Recording(np.arange(travel.size) / rate, (channel,), rate_hz=rate))
    return [f.time_s for f in found.faults if f.kind == "dropout"]


def test_a_track_alone_that_bounces_off_its_stop_loses_no_contact() -> None:
    """The running median cuts the corners of a quick move; a true loss is still told."""
    assert _alone(None) == []
    assert _alone(slice(1200, 1205)) == pytest.approx([2.4], abs=0.01)
