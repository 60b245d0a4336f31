"""Tracks read one after the other: a quick lift-off is no mismatch, and nothing else changes."""

from dataclasses import replace

import numpy as np
import pytest
from scripted_board import Scripted
from text_lines import encode_text

from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import analyse
from analysis.signal.one_after_other import delays_s, in_step
from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.files.recording_file import read_recording

LATE_S = 16 * 110e-6  # 16 conversions of 13 cycles at 125 kHz and their interrupt (data sheet)
LEVELS = ((0.75, 4.2), (0.95, 3.6))


def moved(time_s: np.ndarray, let_go_s: float) -> np.ndarray:
    """Return travel, 0 to 1: four slow presses led back, six that are let go."""
    travel, at = np.zeros_like(time_s), 2.0
    for fall, held, press in 4 * [(2.0, 1.0, 2.0)] + 6 * [(let_go_s, 0.8, 0.8)]:
        up = np.clip((time_s - at) / press, 0, 1)
        down = np.clip((time_s - at - press - held) / fall, 0, 1)
        travel += up - down
        at += press + held + fall + 1.5
    return travel


def swept(says: dict[str, object], late_s: float = LATE_S, rate: float = 400.0,
          let_go_s: float = 0.02, lost: bool = False) -> Recording:
    """Return a sweep whose second track is read so much later than the first."""
    chance, time_s = np.random.default_rng(4), np.arange(0.0, 48.0, 1.0 / rate)
    channels = []
    for k, (rest, full) in enumerate(LEVELS):
        volts = rest + (full - rest) * moved(time_s + k * late_s, let_go_s)
        volts += 0.001 * chance.standard_normal(time_s.size)
        if lost and k:
            volts[(time_s > 3.2) & (time_s < 3.24)] = 0.0
        channels.append(Channel("ab"[k], "track", np.round(volts / 5.0 * 4096), full_scale=4096,
                                reference_volts=5.0))
    return Recording(time_s, tuple(channels), rate_hz=rate, extra={"board": says})


SAID = {"channel_us": 1e6 * LATE_S}


def test_a_quick_lift_off_read_late_is_no_lost_contact_once_the_board_says_how_late():
    """The generator moves both tracks together: what parts them is the time between readings."""
    unsaid, said = analyse(swept({})), analyse(swept(SAID))
    together = analyse(swept({}, late_s=0.0))
    assert [f.kind for f in unsaid.faults].count("dropout") >= 6
    assert [f.kind for f in said.faults] == [f.kind for f in together.faults] == []
    assert unsaid.pair.mismatch_max_percent.value > 0.15
    assert said.pair.mismatch_max_percent.value < 0.06
    for name in "ab":
        # At rest nothing moves, so neither level nor noise may change.
        assert said.tracks[name].rest.value == pytest.approx(together.tracks[name].rest.value,
                                                             abs=2e-4)


def test_a_contact_that_is_lost_is_still_found():
    found = analyse(swept(SAID, lost=True, let_go_s=0.05)).faults
    assert [(f.kind, f.channel) for f in found] == [("dropout", "b")]
    assert found[0].time_s == pytest.approx(3.2, abs=0.005)
    assert found[0].end_s == pytest.approx(3.24, abs=0.005)


def test_a_straight_move_is_put_back_exactly_and_a_missing_reading_stays_missing():
    """A straight line is its own linear interpolation, so the answer is known by hand."""
    recording = swept(SAID, rate=400.0)
    time_s = recording.time_s
    ramp = {"a": 0.5 * time_s, "b": 0.5 * (time_s + LATE_S)}
    ramp["b"][100] = np.nan
    put_back = in_step(recording, ramp, time_s, ramp)
    inside = slice(50, -50)
    assert np.isnan(put_back["b"][100])
    left = (put_back["b"] - ramp["a"])[inside]
    assert np.nanmax(np.abs(left)) < 1e-12
    assert put_back["a"] is ramp["a"]


@pytest.mark.parametrize("says", [
    {}, {"channel_us": 0}, {"channel_us": -5}, {"channel_us": "soon"}, {"channel_us": True},
    {"channel_us": float("nan")}, {"channel_us": 5e6}, {"channel_us": 4000}])
def test_what_no_board_can_mean_changes_nothing(says):
    """4 ms do not fit between rows that are 2.5 ms apart."""
    assert delays_s(swept(says)) == {}


def test_what_the_board_says_of_it_is_kept_in_the_file(tmp_path):
    file = FileListener(tmp_path / "s.csv", "sweep")
    said = b"# full_scale=4096 reference_volts=5 rate_hz=100 time=us columns=a,b channel_us=1760\n"
    rows = encode_text(None, np.arange(50) * 10_000, np.full((50, 2), 300))
    recorder = Recorder(Scripted(said + rows), (file,))
    recorder.start()
    recorder.join()
    assert delays_s(read_recording(file.path)) == {"b": pytest.approx(1.76e-3)}


def test_the_delay_counts_from_the_first_track_in_columns():
    assert delays_s(swept({"channel_us": 110.0})) == {"b": pytest.approx(110e-6)}


def test_a_clock_that_stands_still_has_no_slope_and_takes_no_reading_away():
    """Tracks that do not move are the same at whatever moment they were read."""
    recording = swept(SAID)
    rows = slice(0, 2000)
    time_s = recording.time_s[rows].copy()
    time_s[300:1200] = time_s[300]
    still = Recording(time_s, tuple(replace(c, readings=c.readings[rows])
                                    for c in recording.channels), rate_hz=400.0,
                      extra={"board": SAID})
    level = {"a": np.full(2000, 0.75), "b": np.full(2000, 0.95)}
    put_back = in_step(still, level, time_s, level)
    assert np.allclose(put_back["b"], 0.95, rtol=0, atol=1e-12)
