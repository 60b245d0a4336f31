"""An input that was recorded and not looked at is named; a rheostat is led to its drawing.

The drawing and its 470 ohm are docs/wiring.md's own; no source.
"""

from dataclasses import replace

import numpy as np
from places import ROOT
from said import as_texts

from analysis.model.recording import Recording
from analysis.pedal.findings import analyse
from analysis.simulation import pedal_named, simulate_sweep
from bench.files.exports.findings_text import findings_text
from bench.files.exports.text import settings_text

WIRING = ROOT / "docs/wiring.md"


def _sweep() -> Recording:
    return simulate_sweep(pedal_named("healthy"), seed=3).recording


def _with_other(recording: Recording, readings: np.ndarray) -> Recording:
    third = replace(recording.channel("b"), column="c", role="other", readings=readings)
    return replace(recording, channels=(*recording.channels, third))


def test_a_third_track_without_its_role_is_named_on_paper_and_screen():
    recording = _sweep()
    third = np.round(0.9 * recording.channel("a").readings + 40)
    found = analyse(_with_other(recording, third))
    for text in (findings_text(found), settings_text(found)):
        assert "c moves with the pedal but has the role other" in " ".join(text.split())
    assert any("--role c=track" in w for w in as_texts(found.warnings))


def test_an_idle_switch_and_a_quiet_input_are_not_taken_for_tracks():
    recording = _sweep()
    a = recording.channel("a").readings
    for readings in (np.where(a > 700, 4000.0, 10.0), np.full(a.size, 512.0)):
        found = analyse(_with_other(recording, readings))
        assert not any("role other" in note for note in as_texts(found.notes))


def test_three_tracks_are_named_on_paper_and_screen():
    recording = _sweep()
    third = replace(recording.channel("a"), column="c")
    found = analyse(replace(recording, channels=(*recording.channels[:2], third,
                                                 *recording.channels[2:])))
    said = " ".join(findings_text(found).split())
    assert "The three tracks agree: a and b by at most" in said


def test_a_rheostat_at_0_ohm_is_led_to_its_drawing():
    recording = _sweep()
    a = recording.channel("a")
    low = np.maximum(a.readings - np.quantile(a.readings, 0.3) - 20, 0)
    lone = replace(recording, channels=(replace(a, readings=low), *recording.channels[2:]))
    said = [s for s in as_texts(analyse(lone).verdict) if "reads 0 counts" in s]
    assert len(said) == 1
    assert 'docs/wiring.md, "A two-wire rheostat"' in said[0]
    page = WIRING.read_text(encoding="utf-8")
    assert "## A two-wire rheostat" in page
    assert "470 ohm" in page
    # With a second track it is no rheostat.
    pair = replace(recording, channels=(replace(a, readings=low), *recording.channels[1:]))
    assert not any("rheostat" in s for s in as_texts(analyse(pair).verdict))
