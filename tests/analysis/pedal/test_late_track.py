"""A track that follows late is named, and the one that shows the foot goes free."""

import numpy as np
import pytest
from said import fault_text

from analysis.evidence.sweep import AGREE, CONTACT, DEAD_BAND
from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import Findings, analyse

RATE = 100.0


def _travel(presses: int = 8) -> np.ndarray:
    """Return slow presses and quicker releases with rests and holds of uneven length, %."""
    rng = np.random.default_rng(6)
    parts = [np.zeros(int(2.5 * RATE))]
    for _ in range(presses):
        down, up = (0.5 - 0.5 * np.cos(np.pi * np.linspace(0, 1, int(s * RATE)))
                    for s in (rng.uniform(0.7, 1.3), rng.uniform(0.25, 0.4)))
        parts += [100 * down, np.full(int(rng.uniform(0.8, 2.0) * RATE), 100.0),
                  100 * up[::-1], np.zeros(int(rng.uniform(1.6, 3.0) * RATE))]
    return np.concatenate(parts)


def _delayed(own: np.ndarray, seconds: float) -> np.ndarray:
    back = round(seconds * RATE)
    return np.r_[np.full(back, own[0]), own[:-back]]


def _swept(first: np.ndarray, second: np.ndarray) -> Findings:
    rng = np.random.default_rng(7)
    columns = tuple(
        Channel(name, "track", np.round((rest + slope * own + rng.normal(
            0, 0.001, own.size)) * 4096 / 6), "counts", 4096.0, 6.0)
        for name, rest, slope, own in (("a", 0.8, 0.032, first), ("b", 4.2, -0.032, second)))
    return analyse(Recording(np.arange(first.size) / RATE, columns, rate_hz=RATE))


@pytest.mark.parametrize("seconds", [0.3, 1.0, 2.0, 3.5])
@pytest.mark.parametrize("late", ["a", "b"])
@pytest.mark.parametrize("from_share", [0.0, 0.45])
def test_the_later_track_is_named(seconds: float, late: str, from_share: float) -> None:
    """All along or from the middle on: gravity 3, its delay told, nothing said of the other."""
    own = _travel()
    begin = int(from_share * own.size)
    behind = np.where(np.arange(own.size) < begin, own, _delayed(own, seconds))
    found = _swept(*((behind, own) if late == "a" else (own, behind)))
    told = [f for f in found.faults if f.kind == "late track"]
    assert [(f.channel, f.gravity) for f in told] == [(late, 3)]
    assert f"{seconds:.2f} s late" in fault_text(told[0])
    assert {f.channel for f in found.faults} <= {late, None}
    states = {c.claim: c.state for c in found.claims}
    assert {states[c] for c in (CONTACT, AGREE, DEAD_BAND)} == {"bad"}


def test_a_sluggish_track_is_named() -> None:
    """Behind a filter of half a second."""
    own = _travel()
    slow = own.copy()
    for row in range(1, own.size):
        slow[row] = slow[row - 1] + (own[row] - slow[row - 1]) / (0.5 * RATE)
    found = _swept(own, slow)
    assert [(f.kind, f.channel) for f in found.faults if f.gravity == 3] == [("late track", "b")]
    assert "filter of 0.5 s" in fault_text(found.faults[0])


def test_late_for_a_while_only() -> None:
    """The track is used again where it follows."""
    own = _travel(10)
    rows = np.arange(own.size)
    start, stop = int(0.3 * own.size), int(0.6 * own.size)
    found = _swept(own, np.where((rows > start) & (rows < stop), _delayed(own, 1.5), own))
    late = next(f for f in found.faults if f.kind == "late track")
    assert late.channel == "b"
    assert start / RATE - 3 < late.time_s < late.end_s < stop / RATE + 3
    assert set(found.tracks) == {"a", "b"}


def test_two_tracks_together_are_not_late() -> None:
    """Opposed slopes, uneven rests: nothing is told."""
    own = _travel()
    assert _swept(own, own).faults == ()
    assert _swept(own, _delayed(own, 0.01)).faults == ()
