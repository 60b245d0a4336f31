"""Which end of travel is rest: never wrong in silence."""

import dataclasses
import math

import numpy as np
import pytest
from said import as_text, as_texts

from analysis.model.recording import Recording
from analysis.pedal.findings import analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep


def _sweep(name: str, quick: int, seed: int = 4) -> Recording:
    return simulate_sweep(pedal_named(name), 200.0, 12, seed=seed,
                          motion=Motion(cycles=5, quick=quick, marks=False)).recording


def _from_the_middle_of_a_press(recording: Recording) -> Recording:
    """Return the recording cut so that it starts with the foot down."""
    track = recording.channels[0].readings
    pressed = np.abs(track - track[0]) > 0.95 * np.ptp(track)
    first = int(np.argmax(pressed)) + 20
    return dataclasses.replace(
        recording, time_s=recording.time_s[first:],
        channels=tuple(dataclasses.replace(c, readings=c.readings[first:])
                       for c in recording.channels))


@pytest.mark.parametrize("name", ["healthy", "opposed", "half-slope"])
def test_quick_lift_offs_settle_it(name: str) -> None:
    """Starting with the foot down, the fall of quick lift-offs still tells rest from full."""
    whole, cut = _sweep(name, 4), _from_the_middle_of_a_press(_sweep(name, 4))
    a, b = analyse(whole), analyse(cut)
    assert b.doubt is None
    assert {n: t.direction for n, t in a.tracks.items()} == {
        n: t.direction for n, t in b.tracks.items()}
    assert b.tracks["a"].rest.value == pytest.approx(a.tracks["a"].rest.value, abs=0.003)


@pytest.mark.parametrize("name", ["healthy", "opposed"])
def test_doubt_withholds_every_setting(name: str) -> None:
    """Without lift-offs or prompts, a sweep that starts pressed gives a doubt and no settings."""
    found = analyse(_from_the_middle_of_a_press(_sweep(name, 0)))
    assert found.doubt is not None
    assert as_texts(found.verdict)[0].startswith("Do not drive")
    assert {s.channel for s in found.settings} == {"a", "b", None}  # None: of the pair
    assert set(found.dead_bands) == {"a", "b"}
    assert all(math.isnan(s.value) for s in found.settings)
    assert all(band.weak == found.doubt for band in found.dead_bands.values())


def test_an_ordinary_sweep_raises_no_doubt() -> None:
    """Starting and ending at rest is enough, with neither prompts nor lift-offs."""
    assert analyse(_sweep("healthy", 0)).doubt is None


@pytest.mark.parametrize("factor", [0.5, 0.66, 1.2, 1.5])
def test_a_supply_that_cannot_be_withholds_every_setting(factor: float) -> None:
    """A forgotten divider or another nominal voltage gives a doubt, not levels that are wrong."""
    recording = _sweep("healthy", 4)
    wrong = dataclasses.replace(recording, channels=tuple(
        dataclasses.replace(c, scale=c.scale * factor) if c.role == "supply" else c
        for c in recording.channels))
    found = analyse(wrong)
    assert found.doubt is not None
    assert "The supply reads" in as_text(found.doubt)
    assert as_texts(found.verdict)[0].startswith("Do not drive")
    assert all(math.isnan(s.value) for s in found.settings)
