"""What all inputs do at once and no pedal does leaves open that contact holds.

Outside source: noise of one step rms repeats a 12-bit code in fewer than one row of two, so a run
of 0.5 s at 200 readings a second has a chance below 2^-100. That no pedal moves by a quarter of its
travel within 5 ms is common practice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest
from said import as_texts

from analysis.evidence.sweep import CONTACT
from analysis.model.recording import Recording
from analysis.pedal.findings import Findings, analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep


@pytest.fixture(scope="module")
def healthy() -> Recording:
    """Return a sound sweep at 200 readings a second."""
    return simulate_sweep(pedal_named("healthy"), 200.0, 12, seed=4,
                          motion=Motion(cycles=4, quick=3)).recording


def _state(found: Findings) -> str:
    return next(c.state for c in found.claims if c.claim == CONTACT)


def _why(found: Findings) -> set[str]:
    return {f.why.code for f in found.faults}


def _first_hold(found: Findings) -> tuple[int, int]:
    segment = next(s for s in found.segments if s.kind == "hold" and s.stop - s.start > 140)
    return segment.start + 20, segment.start + 120


def test_a_logger_that_repeats_one_row_read_nothing(healthy: Recording) -> None:
    """Half a second of one reading on every input is told; the same of one input alone is not."""
    sound = analyse(healthy)
    start, stop = _first_hold(sound)
    assert _state(sound) == "sound"

    def held(names: set[str]) -> Findings:
        rows = np.arange(healthy.rows)
        still = (rows >= start) & (rows < stop)
        return analyse(replace(healthy, channels=tuple(
            replace(c, readings=np.where(still, c.readings[start], c.readings))
            if c.column in names else c for c in healthy.channels)))

    whole = held({c.column for c in healthy.channels})
    assert "all inputs repeat" in _why(whole)
    assert _state(whole) == "open"
    assert any("repeats one reading for 0.5 s" in text for text in as_texts(whole.verdict))
    assert "all inputs repeat" not in _why(held({"supply"}))


def test_a_board_without_noise_is_not_called_frozen(healthy: Recording) -> None:
    """Where the noise is below a step readings repeat by nature: nothing is told of it."""
    coarse = replace(healthy, channels=tuple(
        replace(c, readings=np.floor(c.readings / 16), full_scale=c.full_scale / 16)
        for c in healthy.channels))
    assert "all inputs repeat" not in _why(analyse(coarse))


def test_both_tracks_that_jump_within_a_row_are_no_pedal(healthy: Recording) -> None:
    """Rows lost without a hole in the times: a slow press is gone but for its ends."""
    sound = analyse(healthy)
    press = next(s for s in sound.segments if s.kind == "press")
    kept = np.r_[0: press.start, press.stop: healthy.rows]
    lost = replace(healthy, marks=(), time_s=healthy.time_s[: kept.size], channels=tuple(
        replace(c, readings=c.readings[kept]) for c in healthy.channels))
    found = analyse(lost)
    assert "all tracks jump" in _why(found)
    assert _state(found) == "open"
    assert "all tracks jump" not in _why(sound)
