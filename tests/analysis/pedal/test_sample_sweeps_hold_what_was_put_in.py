"""Every sample sweep tells its story: the findings are held against what was put in."""

import re
import sys

import numpy as np
import pytest
from studies.make_sample_sweeps import PLACE, STORIES, Story, expected_rows, presses_inside, readme

from analysis.model.recording import Recording
from analysis.pedal.findings import Findings, analyse
from analysis.simulation import SimulatedSweep
from bench.files.recording_file import read_recording

# What each story must show as faults, and where: kind, channel, travel in % (None: any).
EXPECTED: dict[str, list[tuple[str, str | None, float | None]]] = {
    "worn_spot_near_rest": [("noise", "a", 8.0)],
    "wiper_dropouts": [("dropout", "b", None)],
    "stuck_return": [("no return", None, 15.0)],
    "slow_return": [("slow return", None, None)],
    "sagging_supply": [("supply sag", "supply", None)],
    "clipped_input": [("clipping", "b", None)],
    "flat_spot": [("flat spot", "b", 60.0)],
    "slipped_track": [("step", "b", None)],
    "lost_samples": [("gap", None, None)],
}
# Levels of these tracks have no single true value: the track slipped, or was cut off.
UNKNOWN = {("slipped_track", "b"), ("clipped_input", "b")}

MADE = PLACE

Told = tuple[Story, Recording, Findings, SimulatedSweep]


@pytest.fixture(scope="module", params=STORIES, ids=lambda s: s.name)
def told(request) -> Told:
    story: Story = request.param
    recording = read_recording(story.path)
    return story, recording, analyse(recording), story.make()


def test_the_file_holds_exactly_what_the_simulator_makes(told: Told):
    story, recording, _, made = told
    rows = expected_rows(story, made.recording.rows)
    assert recording.rows == rows
    assert recording.complete is not story.cut_short
    np.testing.assert_allclose(recording.time_s, made.recording.time_s[:rows], atol=1e-6)
    for read, true in zip(recording.channels, made.recording.channels, strict=True):
        assert (read.column, read.role, read.scale) == (true.column, true.role, true.scale)
        # Another machine's arithmetic may tip a rounding now and then.
        assert np.mean(read.readings != true.readings[:rows]) < 1e-3
    assert recording.marks == tuple(m for m in made.recording.marks if m.row < rows)
    assert recording.lost_samples == made.truth.lost_samples
    assert "synthetic" in story.path.name
    assert "synthetic" in recording.title


def test_every_track_has_its_true_levels_and_direction(told: Told):
    story, _, found, made = told
    assert list(found.tracks) == list(made.truth.tracks)
    for column, true in made.truth.tracks.items():
        track = found.tracks[column]
        assert track.direction == true.direction
        if (story.name, column) in UNKNOWN:
            continue
        # The bar: rest within half a step or 0.1 % of span, whichever is more.
        allowed = max(0.5 * track.step_volts, 0.001 * true.span_volts)
        if not story.cut_short:
            assert track.rest.value == pytest.approx(true.rest_volts, abs=allowed)
        assert track.full.value == pytest.approx(true.full_volts, abs=2 * allowed)
        assert abs(track.span.value) == pytest.approx(true.span_volts, abs=3 * allowed)
        assert not track.clipped


def test_the_pair_has_its_true_relation_gain_and_mismatch(told: Told):
    story, _, found, made = told
    if len(made.pedal.tracks) == 1:
        assert found.pair is None
        return
    assert found.pair is not None
    truth = made.truth
    assert found.pair.relation == truth.relation
    if story.name in ("slipped_track", "clipped_input"):
        return
    # Bends of some 0.1 % of travel tilt a fitted line by up to that much against the line
    # through the ends.
    assert found.pair.gain.value == pytest.approx(truth.gain, rel=0.006)
    assert found.pair.offset_volts.value == pytest.approx(truth.offset_volts, abs=0.012)
    # The bar: within 0.3 % of travel.
    assert found.pair.mismatch_max_percent.value == pytest.approx(
        truth.mismatch_max_percent, abs=0.3)
    assert found.pair.play_percent.value == pytest.approx(truth.play_percent, abs=0.3)
    if truth.mismatch_max_percent > 1:
        assert found.pair.mismatch_at_travel_percent == pytest.approx(
            truth.mismatch_at_travel_percent, abs=3)


def test_every_press_is_counted_and_every_lift_off_is_known_as_one(told: Told):
    story, _, found, made = told
    slow, quick = presses_inside(story, made)
    assert sum(s.kind == "press" for s in found.segments) == slow + quick
    lifted = [s for s in found.segments if s.kind == "release" and s.quick]
    if story.name != "slow_return":
        assert len(lifted) == quick


def test_the_faults_put_in_are_found_and_no_others(told: Told):
    story, recording, found, made = told
    expected = EXPECTED.get(story.name, [])
    kinds = {(f.kind, f.channel) for f in found.faults}
    assert {(kind, channel) for kind, channel, _ in expected} == kinds
    end = float(recording.time_s[-1])
    for true in made.truth.faults:
        if true.time_s > end:
            continue
        same = [f for f in found.faults if f.kind == true.kind
                and f.time_s <= true.end_s + 0.1 and f.end_s >= true.time_s - 0.1]
        assert same, f"{true} not found"
    for kind, _, travel in expected:
        if travel is not None:
            for fault in found.faults:
                if fault.kind == kind:
                    assert fault.travel_percent == pytest.approx(travel, abs=2.0)


def test_a_track_that_runs_into_the_end_of_its_input_is_called_clipped():
    recording = read_recording(PLACE / "synthetic_clipped_input.csv")
    found = analyse(recording)
    assert {c: t.clipped for c, t in found.tracks.items()} == {"a": False, "b": True}


def test_the_readme_table_is_the_truth_that_was_put_in():
    text = (PLACE / "README.md").read_text(encoding="utf-8")
    assert text == readme()
    assert set(re.findall(r"`(synthetic_\w+\.csv)`", text)) == {s.path.name for s in STORIES}
    assert len(STORIES) >= 12


def test_every_recording_lies_beside_a_page_that_tells_its_story():
    pages = "".join(p.read_text(encoding="utf-8") for p in PLACE.glob("*.md"))
    for path in PLACE.glob("*.csv"):
        assert f"`{path.name}`" in pages, path.name


def test_no_sweep_is_larger_than_a_megabyte():
    assert max(story.path.stat().st_size for story in STORIES) < 1_000_000


def test_making_the_samples_again_writes_the_same_bytes(tmp_path, monkeypatch):
    from studies import make_sample_sweeps

    monkeypatch.setattr(make_sample_sweeps, "PLACE", tmp_path)
    make_sample_sweeps.main()
    for story in STORIES:
        kept = (MADE / story.path.name).read_bytes().splitlines()
        again = (tmp_path / story.path.name).read_bytes().splitlines()
        if sys.platform == "linux":
            assert again == kept
        assert len(again) == len(kept)
