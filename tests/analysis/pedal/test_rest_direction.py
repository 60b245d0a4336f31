"""Which end of travel is rest: never wrong in silence."""

import math
from dataclasses import replace

import numpy as np
import pytest
from said import as_text, as_texts

from analysis.evidence.sweep import DEAD_BAND, RETURNS
from analysis.model.recording import Recording
from analysis.pedal.findings import analyse, decide
from analysis.pedal.rest_direction import rest_end
from analysis.simulation import Motion, pedal_named, simulate_sweep


def _sweep(name: str, quick: int, seed: int = 4) -> Recording:
    return simulate_sweep(pedal_named(name), 200.0, 12, seed=seed,
                          motion=Motion(cycles=5, quick=quick, marks=False)).recording


def _upside_down(recording: Recording) -> Recording:
    """Return the recording with each track's two ends exchanged, as if always pressed."""
    return replace(recording, channels=tuple(
        replace(c, readings=c.readings.max() + c.readings.min() - c.readings)
        if c.role == "track" else c for c in recording.channels))


def _from_the_middle_of_a_press(recording: Recording) -> Recording:
    """Return the recording cut so that it starts with the foot down."""
    track = recording.channels[0].readings
    pressed = np.abs(track - track[0]) > 0.95 * np.ptp(track)
    first = int(np.argmax(pressed)) + 20
    return replace(
        recording, time_s=recording.time_s[first:],
        channels=tuple(replace(c, readings=c.readings[first:])
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
    """Starting and ending at rest gives values, but nothing shows that it was rest: it is told."""
    found = analyse(_sweep("healthy", 0))
    assert found.doubt is None
    assert all(math.isfinite(b.start_of_travel_volts) for b in found.dead_bands.values())
    told = next(f for f in found.warnings if f.code == "rest end assumed")
    assert told.values["levels_volts"] == tuple(t.rest.value for t in found.tracks.values())
    # Without a reading that shows it the claims are open (issue: open is never rounded to good).
    assert {c.claim for c in found.claims if c.state == "open"} >= {RETURNS, DEAD_BAND}


@pytest.mark.parametrize("name", ["healthy", "opposed"])
def test_pressed_first_and_last_is_never_believed(name: str) -> None:
    """The same sweep seen upside down gives the same readings, so the same condition is told."""
    found = analyse(_upside_down(_sweep(name, 0)))
    assert "rest end assumed" in {f.code for f in found.warnings}
    assert not found.sound


@pytest.mark.parametrize(("quick", "marks"), [(4, False), (0, True)])
def test_what_shows_rest_leaves_no_assumption(quick: int, marks: bool) -> None:
    """Quick lift-offs or prompts show which end is rest."""
    seen = simulate_sweep(pedal_named("healthy"), 200.0, 12, seed=4,
                          motion=Motion(cycles=5, quick=quick, marks=marks)).recording
    assert "rest end assumed" not in {f.code for f in analyse(seen).graded}


def test_a_wanted_rest_says_which_end_is_meant() -> None:
    """The user's own rest takes the assumption away, or, at the other end, every value."""
    found = analyse(_sweep("healthy", 0))
    rest, full = found.tracks["a"].rest.value, found.tracks["a"].full.value
    stated = decide(found, replace(found.parameters, target_rest_volts={"a": rest + 0.05}))
    assert "rest end assumed" not in {f.code for f in stated.graded}
    against = decide(stated, replace(found.parameters, target_rest_volts={"a": full - 0.05}))
    assert all(math.isnan(s.value) for s in against.settings)
    assert against.graded[0].code == "rest end not known"
    again = decide(against, found.parameters)
    assert again.doubt is None
    assert "rest end assumed" in {f.code for f in again.graded}


def test_prompts_are_not_outvoted() -> None:
    """Prompts that say the contrary of everything else leave it open, they are not overruled."""
    said = simulate_sweep(pedal_named("healthy"), 200.0, 12, seed=4,
                          motion=Motion(cycles=5, quick=4, marks=True)).recording
    other = {"rest": "hold", "hold": "rest"}
    against = tuple(replace(m, text=other.get(m.text, m.text)) for m in said.marks)
    assert analyse(said).doubt is None
    assert analyse(replace(said, marks=against)).doubt is not None


@pytest.mark.parametrize("factor", [0.5, 0.66, 1.2, 1.5])
def test_a_supply_that_cannot_be_withholds_every_setting(factor: float) -> None:
    """A forgotten divider or another nominal voltage gives a doubt, not levels that are wrong."""
    recording = _sweep("healthy", 4)
    wrong = replace(recording, channels=tuple(
        replace(c, scale=c.scale * factor) if c.role == "supply" else c
        for c in recording.channels))
    found = analyse(wrong)
    assert found.doubt is not None
    assert "The supply reads" in as_text(found.doubt)
    assert as_texts(found.verdict)[0].startswith("Do not drive")
    assert all(math.isnan(s.value) for s in found.settings)


def test_a_foot_that_leads_both_ways_tells_nothing_of_rest() -> None:
    """Presses twice as quick as the returns, neither let go: no vote, and so no doubt."""
    times = np.arange(0.0, 40.0, 0.01)
    part = times % 8.0
    # Rest, a press of 0.7 s, hold, a return of 1.6 s that the foot leads.
    pedal = np.interp(part, [0.0, 2.5, 3.2, 4.7, 6.3, 8.0], [0.0, 0.0, 1.0, 1.0, 0.0, 0.0])
    assert rest_end(pedal, times, (), 1).doubt is None
    assert not rest_end(pedal, times, (), 1).fell_faster
    # Let go within 0.1 s, it tells.
    quick = np.interp(part, [0.0, 2.5, 3.2, 4.7, 4.8, 8.0], [0.0, 0.0, 1.0, 1.0, 0.0, 0.0])
    assert rest_end(quick, times, (), 1).fell_faster
