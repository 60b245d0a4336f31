"""The key-on samples say what was put into them, and the page about them is up to date."""

import json
import math

import numpy as np
import pytest
from studies.key_on_accuracy import measure
from studies.make_key_on_samples import PLACE, STORIES, KeyOnStory, page

from analysis.key_on import KeyOnFindings, analyse_key_on
from bench.files.exports.key_on_json import key_on_json
from bench.files.exports.key_on_text import key_on_text
from bench.files.recording_file import read_recording
from bench.wording.cautions import CAR

BY_NAME = {s.name: s for s in STORIES}


def opened(story: KeyOnStory) -> KeyOnFindings:
    """Return the findings of a sample, read from its file."""
    return analyse_key_on(read_recording(story.path), settings=story.settings())


@pytest.mark.parametrize("story", STORIES, ids=lambda s: s.name)
def test_sample_shows_its_story(story: KeyOnStory) -> None:
    """Key-ons, shifts, cause and verdict of a sample are those it was made with."""
    found = opened(story)
    _, truth = story.make()
    assert [c.on_s for c in found.cycles] == pytest.approx(truth.key_on_s.tolist(), abs=0.2)
    for name, true in truth.mean_shift.items():
        shift = found.tracks[name].shift
        # 95 % limits; half as wide again, so that no chosen sample hangs on one in twenty.
        half = 0.75 * (shift.high - shift.low)
        assert abs(shift.value - true) <= half + 1e-4
    assert found.common.kind == story.kind
    starts = {s.channel: s.value for s in story.settings() if s.name == "start_of_travel"}
    should = any(np.max(t.sign * (truth.peaks[t.column] - starts[t.column])) >= 0
                 for t in story.car.tracks)
    # What looks like a foot and nobody stated leaves the verdict open, whatever it was.
    unstated = any(not p.stated for p in found.presses)
    assert found.verdict.applied is (None if unstated and not should else should)
    assert len(found.presses) == len(truth.press_s)


def test_switching_sample_names_the_folded_tone() -> None:
    """8037 Hz at 500 rows a second stands at |8037 - 16 * 500| = 37 Hz, 6 mV high."""
    for track in opened(BY_NAME["switching_noise"]).tracks.values():
        assert track.tones[0].hertz == pytest.approx(37.0, abs=0.3)
        assert track.tones[0].amplitude_volts == pytest.approx(0.006, rel=0.1)


def test_supply_samples_tell_feeding_apart() -> None:
    """One sag is followed, the other is not."""
    assert {t.follows for t in opened(BY_NAME["sagging_supply"]).tracks.values()} == {"ratiometric"}
    assert {t.follows for t in opened(BY_NAME["fed_from_elsewhere"]).tracks.values()} == {
        "does not follow"}


def test_brake_sample_lists_brake_and_pedal() -> None:
    """The press with the brake on is listed, the one without is not."""
    (event,) = opened(BY_NAME["foot_and_brake"]).brake_events
    assert event.peak_percent == pytest.approx(40.0, abs=2.5)
    assert event.start_s == pytest.approx(58.0 + 6.2, abs=0.3)


def test_page_about_the_samples_is_what_was_made() -> None:
    """KEY_ON.md is the page the maker writes today."""
    assert (PLACE / "KEY_ON.md").read_text(encoding="utf-8") == page()


@pytest.mark.parametrize("story", STORIES[:2], ids=lambda s: s.name)
def test_sample_file_is_what_the_maker_makes(story: KeyOnStory) -> None:
    """The stored readings are the maker's, row for row."""
    stored, made = read_recording(story.path), story.make()[0]
    assert stored.rows == made.rows
    assert stored.purpose == "key-on"
    for channel in made.channels:
        assert np.array_equal(stored.channel(channel.column).readings, channel.readings)


def test_text_leads_with_the_verdict_and_fits_the_page() -> None:
    """The page of text has the verdict before the tables, within 100 columns."""
    text = key_on_text(opened(BY_NAME["one_track_lifts"]))
    assert text.index("POWER WOULD HAVE BEEN APPLIED") < text.index("Each key-on")
    assert "Only track b shifts" in " ".join(text.split())
    assert max(len(line) for line in text.splitlines()) <= 100
    assert "nan" not in text


def test_json_is_strict_json_with_the_main_figures() -> None:
    """The JSON holds no NaN and says verdict, shifts, proofs and needed key-ons."""
    found = opened(BY_NAME["ground_offset"])

    def refuse(word: str) -> float:
        raise AssertionError(f"{word} in JSON")

    plain = json.loads(key_on_json(found), parse_constant=refuse)
    assert plain["schema"] == 1
    assert plain["verdict"]["applied"] is False
    assert plain["tracks"]["a"]["shift"]["value"] == found.tracks["a"].shift.value
    assert plain["common"]["kind"] == "ground offset"
    assert [m["needed"] for m in plain["more_cycles"]][:3] == [29, 59, 299]
    assert plain["proofs"]["a"]["hours"] > 0
    assert math.isclose(plain["car_allowance_volts"],
                        max(t.lift_bound_volts for t in found.tracks.values()))


def test_cautions_come_before_the_car() -> None:
    """Wheels, disconnect, reading only and isolation are all named."""
    text = " ".join(CAR).lower()
    for word in ("wheels", "chocked", "disconnect", "only reads", "isolated", "local codes",
                 "60 v dc"):
        assert word in text


@pytest.mark.parametrize(("cars", "wrong_verdicts"), [
    (8, 0), pytest.param(40, 1, marks=pytest.mark.long)])
def test_random_cars_quick(cars: int, wrong_verdicts: int) -> None:
    """On random cars shifts lie within their intervals and verdicts are right."""
    total, wrong = measure(cars, first=5000)
    # Binomial: 95 % of 80 has a standard deviation of 2.4 %, of 16 5.4 %: 2.87 of them below. The
    # full bars are measured by tests/studies/key_on_accuracy.py.
    least = 0.95 - 2.87 * (0.95 * 0.05 / total.pooled) ** 0.5
    assert total.pooled_inside / total.pooled >= least
    assert total.cycles_inside / total.cycles >= 0.88
    assert total.verdicts - total.verdicts_right <= wrong_verdicts, wrong
