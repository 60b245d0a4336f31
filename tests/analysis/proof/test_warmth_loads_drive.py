"""Warmth, switched loads and the first drive, against what was put into the logs."""

import numpy as np
import pytest
from proof_warmth import box

from analysis.model.recording import Channel, Mark, Recording
from analysis.proof.drive import judge_drive
from analysis.proof.limits import Limits, TrackLimits
from analysis.proof.loads import judge_loads
from analysis.proof.outcome import judge_file
from analysis.proof.warmed import judge_warmth
from bench.wording.proof import because_words

LIMITS = Limits({"a": TrackLimits(0.7, 4.2, 0.76, 0.3, 4.6),
                 "b": TrackLimits(0.9, 4.3, 0.96, 0.4, 4.7)})


def test_volts_per_kelvin_of_quiet_boxes():
    """The interval of most boxes holds the truth (95 % asked of all: the study counts them)."""
    held = [seen.volts_per_kelvin.low <= value <= seen.volts_per_kelvin.high
            for seed in range(1, 7) for recording, truth in [box(seed)]
            for seen, value in zip(judge_warmth(recording, LIMITS), truth, strict=True)]
    assert sum(held) >= 10


def test_too_little_warmth_tells_nothing():
    """Without a thermometer, or with less than 5 K, no coefficient is claimed."""
    recording, _ = box(3)
    bare = Recording(recording.time_s, recording.channels[:2], recording.marks)
    assert all(t.volts_per_kelvin is None for t in judge_warmth(bare, LIMITS))
    assert all(np.isnan(t.ppm_per_kelvin) for t in judge_warmth(bare, LIMITS))


def test_a_log_whose_clock_stands_still_tells_no_drift():
    """How fast the box warmed is not known then; no number may be made of it, nor a warning."""
    recording, _ = box(3)
    time_s = recording.time_s.copy()
    time_s[: time_s.size // 2] = 0.0
    still = Recording(time_s, recording.channels, recording.marks, rate_hz=recording.rate_hz)
    assert all(t.volts_per_kelvin is None for t in judge_warmth(still, LIMITS))


def loaded(droop=0.0, ripple=0.0, hertz=83.0, ground=0.0, own=0.0, rate=1000.0, seed=1,
           said=(), **more):
    """Return a log with fans switched on from 5 to 15 s, off before and after."""
    rng = np.random.default_rng(seed)
    t = np.arange(int(25 * rate)) / rate
    on = (t >= 5) & (t < 15)
    supply = 5.0 - droop * on + ripple * on * np.sin(2 * np.pi * hertz * t)
    supply += more.get("drift", 0.0) * t / 25
    supply += more.get("hum", 0.0) * np.sin(2 * np.pi * 50.3 * t)
    columns = [supply * 0.7 / 5 + ground * on + own * on, supply * 0.9 / 5 + ground * on, supply]
    columns = [c + rng.normal(0, 0.001, t.size) for c in columns]
    channels = tuple(Channel(n, r, c, "V") for n, r, c in zip(
        ("a", "b", "supply"), ("track", "track", "supply"), columns, strict=True))
    marks = (Mark(0, "load fans off"), Mark(int(5 * rate), "load fans on"),
             *(Mark(int(8 * rate), words) for words in said),
             Mark(int(15 * rate), "load fans off"))
    return Recording(t, channels, marks, "", "proof", "", rate)


def test_droop_ripple_and_ground_shift_are_found():
    """A sag of 120 mV, a ripple of 15 mV at 83.3 Hz and a ground shift of 12 mV, each in turn."""
    (load,) = judge_loads(loaded(droop=0.12, ripple=0.015, hertz=83.3, ground=0.012), LIMITS)
    assert abs(load.droop.value + 0.12) < 4 * load.droop.uncertainty + 1e-4
    assert abs(load.ripple.volts.value - 0.015) < 4 * load.ripple.volts.uncertainty
    assert abs(load.ripple.hertz.value - 83.3) < 4 * load.ripple.hertz.uncertainty
    # 4.88 V of supply: the same millivolts are 5 / 4.88 of them at nominal supply.
    assert load.ground.value == pytest.approx(0.012 * 5 / 4.88, abs=0.0005)
    assert load.state == "holds"
    assert load.tracks[0].left_volts == pytest.approx(0.06 - 0.0123, abs=0.003)


def test_frequency_uncertainty_is_what_scatter_shows():
    """The stated uncertainty of a ripple's frequency covers 95 % within twice it, about."""
    z = []
    for seed in range(40):
        (load,) = judge_loads(loaded(ripple=0.004, hertz=83.3, seed=seed, rate=200.0), LIMITS)
        z.append((load.ripple.hertz.value - 83.3) / load.ripple.hertz.uncertainty)
    assert 0.7 < np.std(z) < 1.35


@pytest.mark.parametrize(("what", "shown"), [
    ({"droop": 0.01}, ("supply",)), ({"ripple": 0.004}, ("supply",)),
    ({"ground": 0.004}, ("a", "b")), ({}, ()), ({"drift": 0.03}, ()), ({"hum": 0.01}, ())])
def test_a_load_counts_as_on_only_where_a_reading_moves_with_it(what, shown):
    """A droop, a ripple, a ground shift of its own; not a drift, nor a hum that is always there.

    What moves is what was put in; where nothing does, the word of a person (a mark) stands apart.
    """
    (load,) = judge_loads(loaded(**what), LIMITS)
    assert load.shown_by == shown
    assert load.state == ("holds" if shown else "not shown")
    assert judge_file(loaded(**what), "loads", LIMITS).state == ("proved" if shown else "open")
    (said,) = judge_loads(loaded(**what, said=("it runs",)), LIMITS)
    assert said.state == ("holds" if shown else "by word")
    (unsaid,) = judge_loads(loaded(**what, said=("it runs", "it does not run")), LIMITS)
    assert unsaid.state == load.state


def test_a_load_by_word_is_proved_but_called_so():
    """The proof names what only a word stands for, also where the word is of one load of two."""
    found = judge_file(loaded(said=("it runs",)), "loads", LIMITS)
    assert (found.state, found.because) == ("proved", ("word fans",))
    assert because_words("loads", found.because) == "fans by your word alone"


def test_a_load_that_lifts_a_track_past_its_start_is_told():
    """80 mV on one track alone passes its start of travel, and is no ground shift."""
    (load,) = judge_loads(loaded(own=0.08), LIMITS)
    assert load.state == "passes"
    assert [t.passes for t in load.tracks] == [True, False]
    assert load.ground is None


def test_quiet_supply_has_no_ripple_and_short_steps_are_not_seen():
    """Noise alone is no ripple; a load that was on for a second was not seen."""
    recording = loaded()
    (load,) = judge_loads(recording, LIMITS)
    assert load.ripple is None
    marks = (*recording.marks[:2], Mark(recording.marks[1].row + 900, "load fans off"))
    (short,) = judge_loads(Recording(recording.time_s, recording.channels, marks), LIMITS)
    assert short.state == "not seen"


def driven(after=0.12, hangs=None, idle_s=4.0, rate=500.0):
    """Return a drive of five presses; current goes off `after` s behind each lift-off."""
    rng = np.random.default_rng(2)
    t = np.arange(int(40 * rate)) / rate
    foot = np.zeros_like(t)
    for k in range(5):
        begin = idle_s + 7 * k
        foot = np.maximum(foot, 0.5 * np.clip(np.minimum((t - begin) / 0.5,
                                                         (begin + 3 - t) / 0.3), 0, 1))
    pull = np.zeros_like(t)
    for k in range(5):
        begin = idle_s + 7 * k
        gone = begin + 3 - 0.3 * 0.035 + after
        if hangs == k:
            gone = begin + 6
        pull[(t >= begin + 0.05) & (t < gone)] = 1.0
    a, b = 0.7 + foot * 3.5, 0.9 + foot * 3.4
    columns = [a, b, 2.5 + 0.4 * pull]
    columns = [c + rng.normal(0, 0.001, t.size) for c in columns]
    return Recording(t, tuple(Channel(n, r, c, "V") for n, r, c in zip(
        ("a", "b", "motor"), ("track", "track", "current"), columns, strict=True)),
        (Mark(0, "drive"),), "", "proof", "", rate)


def test_lift_offs_of_a_drive_are_timed():
    """Five lift-offs, the power gone 0.12 s after each."""
    drive = judge_drive(driven(), LIMITS)
    assert len(drive.lift_offs) == 5
    assert drive.state == "holds"
    assert drive.slowest_s == pytest.approx(0.12, abs=0.02)
    assert all(x.powered and abs(x.travel_percent - 50) < 2 for x in drive.lift_offs)


def test_power_that_outlasts_a_lift_off_is_told():
    """One lift-off of five whose power hangs on for three seconds."""
    drive = judge_drive(driven(hangs=3), LIMITS)
    assert drive.state == "passes"
    assert drive.slowest_s == pytest.approx(3.0, abs=0.05)


def test_a_drive_without_idle_or_power_claims_nothing():
    """Without a rest before the first press the idle level is not known: not seen."""
    assert judge_drive(driven(idle_s=1.0), LIMITS).state == "not seen"
    recording = driven()
    bare = Recording(recording.time_s, recording.channels[:2], recording.marks)
    assert judge_drive(bare, LIMITS).state == "not seen"


def test_key_ons_within_a_drive_are_counted():
    """Key on at 0, off 1 s at 10 s and at 17.2 s: two key-ons, the second while pressed (by hand).

    The one at the beginning was not seen; the press at 18 s comes within 2 s of the second.
    """
    recording = driven()
    t = recording.time_s
    line = 12.0 * ~(((t >= 8.0) & (t < 9.0)) | ((t >= 16.2) & (t < 17.2)))
    keyed = Recording(t, (*recording.channels, Channel("key", "key", line, "V")),
                      recording.marks, "", "proof", "", 500.0)
    drive = judge_drive(keyed, LIMITS)
    assert (drive.key_ons, drive.key_ons_at_rest) == (2, 1)
    assert judge_drive(recording, LIMITS).key_ons is None


def test_noise_and_rest_of_the_cold_and_the_hot_end():
    """A rest that rises by 4 mV over 20 K while its noise doubles, as put in."""
    rng = np.random.default_rng(5)
    t = np.arange(6000) / 20.0
    heat = 20.0 + 20.0 * np.clip(t / 200.0, 0.0, 1.0)
    rest = 0.7 + 0.0002 * (heat - 20.0) + rng.normal(0, 1, t.size) * 0.001 * (heat / 20.0)
    made = Recording(t, (Channel("a", "track", rest, "V"), Channel("b", "track", rest + 0.2, "V"),
                         Channel("box", "temperature", heat, "V")),
                     (Mark(0, "warm"), Mark(4500, "cool")), "", "proof", "", 20.0)
    seen = judge_warmth(made, LIMITS)[0]
    assert seen.rest_volts == pytest.approx((0.7005, 0.704), abs=4e-4)
    assert seen.noise_volts == pytest.approx((0.00112, 0.002), rel=0.08)
