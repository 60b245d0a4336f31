"""What stands under the crosshair where a sweep lacks something: nothing is told that was not read.

No outside source: the promise is the project's own.
"""

from dataclasses import replace

import numpy as np
import pytest
from plot_findings_by_hand import CYCLE_S, findings

from bench.plots.readout import Readout


@pytest.fixture(scope="module")
def swept():
    return findings()


def with_track(swept, column, **changes):
    """Return the findings with one track changed."""
    tracks = {**swept.tracks, column: replace(swept.tracks[column], **changes)}
    return replace(swept, tracks=tracks)


def without_readings(swept, column):
    """Return the findings of a sweep in which a track has no reading at all."""
    recording = swept.recording
    channels = tuple(replace(c, readings=np.full(recording.rows, np.nan)) if c.column == column
                     else c for c in recording.channels)
    return replace(swept, recording=replace(recording, channels=channels))


def test_beside_a_plot_nothing_was_read(swept):
    """A place that is no number has no reading, whatever the figure."""
    read = Readout(swept)
    for name in ("traces", "pair", "mismatch"):
        assert read.at(name, float("nan")) is None


def test_one_track_has_no_reading_against_another():
    """Track against track and what the pair shows along travel: there is no pair."""
    read = Readout(findings(one_track=True))
    assert read.at("pair", 1.0, 1.0) is None
    told = read.at("mismatch", 50.0)
    assert told.values == {}
    assert set(told.volts) == {"a"}


def test_a_pair_is_found_by_one_track_alone(swept):
    """With the arrow keys only the place along the first track is known."""
    told = Readout(swept).at("pair", 2.4)
    assert told.volts["a"] == pytest.approx(2.4, abs=0.01)
    # Track b is half of track a, and up to 1 mV for each % of travel more (`recording` by hand).
    assert told.volts["b"] == pytest.approx(1.2, abs=0.05)


def test_a_track_that_was_never_read_has_no_place_in_the_pair(swept):
    assert Readout(without_readings(swept, "b")).at("pair", 2.4, 1.2) is None


def test_without_any_travel_nothing_stands_along_it(swept):
    """No track was found: no place along travel is known."""
    assert Readout(replace(swept, tracks={}, pair=None)).at("noise", 50.0) is None


def test_a_return_is_told_of_the_tracks_that_rested_then(swept):
    """A track without returns, or one that rested at another time, says nothing of this one."""
    first = swept.tracks["a"]
    told = Readout(swept).at("rest", 2.2, column="a")
    assert (told.number, set(told.volts)) == (2, {"a", "b"})
    assert told.volts["a"] == first.rest_levels[1]
    assert told.time_s == first.rest_times_s[1]
    none = with_track(swept, "b", rest_levels=np.empty(0), rest_times_s=np.empty(0))
    assert set(Readout(none).at("rest", 2.2, column="a").volts) == {"a"}
    assert Readout(none).at("rest", 2.2, column="b") is None
    late = with_track(swept, "b", rest_times_s=first.rest_times_s + 0.5 * CYCLE_S)
    assert set(Readout(late).at("rest", 2.2, column="a").volts) == {"a"}


def test_where_no_noise_was_measured_none_is_told(swept):
    """NaN, which is shown as a dash: not the noise of another place."""
    quiet = with_track(swept, "a", noise_map_volts=np.full_like(
        swept.tracks["a"].noise_map_volts, np.nan))
    told = Readout(quiet).at("noise", 50.0)
    assert np.isnan(told.values["noise a"])
    assert told.values["noise b"] == pytest.approx(1.2)
