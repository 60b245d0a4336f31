"""A bare patch of film is told of its track, however few readings each pass leaves on it."""

import numpy as np
import pytest

from analysis.evidence.sweep import CONTACT
from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import Findings, analyse

LOW, HIGH = 44.0, 50.0


def _bared(travel: np.ndarray, low: float, high: float, ways: str) -> np.ndarray:
    """Return what a track reads whose film is bare there: the input holds what it had before."""
    inside, down = (travel > low) & (travel < high), np.gradient(travel) > 0
    own = travel.copy()
    if "press" in ways:
        own[inside & down] = low
    if "release" in ways:
        own[inside & ~down] = high
    return own


def _swept(rate: float, ways: str, hurt: str = "b", presses: int = 7, press_s: float = 0.7,
           low: float = LOW, high: float = HIGH) -> Findings:
    """Return the findings of presses and releases of slightly different pace."""
    rng = np.random.default_rng(8)
    parts = [np.zeros(int(2 * rate))]
    for _ in range(presses):
        for seconds, up in ((press_s * rng.uniform(0.8, 1.3), 1), (0.3 * rng.uniform(0.8, 1.3), 0)):
            way = 50 - 50 * np.cos(np.pi * np.linspace(0, 1, int(seconds * rate)))
            parts += [way if up else way[::-1], np.full(int(1.5 * rate), 100.0 * up)]
    travel = np.concatenate(parts)
    columns = []
    for name, rest in (("a", 0.8), ("b", 0.9)):
        own = _bared(travel, low, high, ways) if name == hurt else travel
        volts = rest + 0.032 * own + rng.normal(0, 0.001, travel.size)
        columns.append(Channel(name, "track", np.round(volts * 1024 / 6), "counts", 1024.0, 6.0))
    return analyse(Recording(np.arange(travel.size) / rate, tuple(columns), rate_hz=rate))


def _told(found: Findings) -> list[tuple[str, str | None]]:
    return [(f.kind, f.channel) for f in found.faults]


@pytest.mark.parametrize("rate", [100.0, 200.0, 500.0])
@pytest.mark.parametrize("ways", ["press", "release", "press and release"])
@pytest.mark.parametrize("hurt", ["a", "b"])
def test_a_bare_patch_is_told_of_its_track(rate: float, ways: str, hurt: str) -> None:
    """Whichever way it is crossed; contact is contradicted, and the sound track goes free."""
    found = _swept(rate, ways, hurt)
    flat = [f for f in found.faults if f.kind == "flat spot"]
    assert [f.channel for f in flat] == [hurt]
    assert LOW - 2 < flat[0].travel_percent < HIGH + 2
    assert flat[0].gravity == 2
    assert {f.channel for f in found.faults} == {hurt}
    assert {c.claim: c.state for c in found.claims}[CONTACT] == "bad"


@pytest.mark.parametrize("rate", [50.0, 100.0, 500.0])
@pytest.mark.parametrize("press_s", [0.25, 0.7, 2.0])
def test_a_sound_pair_has_no_flat_place(rate: float, press_s: float) -> None:
    """However quick the foot and slow the clock."""
    assert _told(_swept(rate, "", press_s=press_s)) == []


def test_two_passes_are_no_place_of_travel() -> None:
    """What was seen twice only may have been the moment and not the place."""
    found = _swept(200.0, "press", presses=2)
    assert ("flat spot", "b") not in _told(found)


def test_a_place_narrower_than_it_can_be_known_is_not_told() -> None:
    """Less than 2 % of travel at 100 readings a second: two readings a pass or fewer."""
    assert ("flat spot", "b") not in _told(_swept(100.0, "press", low=44.0, high=45.0))
