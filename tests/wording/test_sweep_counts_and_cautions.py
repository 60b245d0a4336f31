"""Small words that mislead: one return is no returns, a whole file is no complete sweep.

The caution is the project's own (bench/wording/cautions.py; README, "Before you start"): no source.
"""

from dataclasses import replace

import pytest
from said import as_text

from analysis.parameters import Parameters
from analysis.pedal.dead_band import dead_band
from analysis.pedal.findings import analyse
from analysis.pedal.notes import missing
from analysis.pedal.settings import recommend
from analysis.simulation import Motion, pedal_named, simulate_sweep
from bench.files.exports import settings_formats
from bench.files.exports.findings_text import findings_text
from bench.report.content import CAUTIONS
from bench.wording.cautions import PROVE


@pytest.fixture(scope="module")
def one_press():
    """Return the findings of a sweep stopped after one press: its file is whole."""
    return analyse(simulate_sweep(pedal_named("healthy"), 500.0, 12, seed=1,
                                  motion=Motion(cycles=1, quick=0)).recording)


def test_a_sweep_stopped_early_is_not_called_complete(one_press):
    head = findings_text(one_press).split("What it means")[0]
    assert "file whole" in head
    assert "complete" not in head


@pytest.mark.parametrize(("count", "words"), [
    (0, "No return to rest was seen"), (1, "Only one return to rest was seen"),
    (2, "Only 2 returns to rest were seen")])
def test_returns_are_counted_in_english(count, words, one_press):
    tracks = {n: replace(t, rest_levels=t.rest_levels[:0].copy() if not count else
                         t.rest_levels.mean().repeat(count))
              for n, t in one_press.tracks.items()}
    assert any(as_text(s).startswith(words) for s in missing(one_press.recording, tracks))


@pytest.mark.parametrize(("count", "words"), [
    (0, "no held full press was seen"), (1, "only one held full press was seen"),
    (2, "only 2 held full presses were seen")])
def test_presses_are_counted_in_english(count, words, one_press):
    track = replace(one_press.tracks["a"], full_levels=one_press.tracks["a"].full.value
                    * (one_press.tracks["b"].full_levels[:1] * 0 + 1).repeat(count))
    parameters = Parameters()
    made = recommend({"a": track}, None, {"a": dead_band(track, parameters)}, parameters)
    assert next(as_text(s.why) for s in made if s.name == "full_travel").startswith(words)


def test_the_closing_caution_asks_for_somebody_at_the_disconnect(one_press):
    assert "somebody at the battery disconnect" in PROVE
    assert any(PROVE in caution for caution in CAUTIONS)
    for form in ("text", "json", "c"):
        flat = " ".join(settings_formats()[form](one_press).replace("*/", " ").split())
        assert PROVE in flat, form
