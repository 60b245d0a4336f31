"""What a key-on log cannot carry, and what it shows although no reading passed start of travel.

No outside source for the words. Truth of the logs: sample_sweeps/KEY_ON.md (quiet car: rests a
0.70 V, b 0.80 V) and what is put in here.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from places import ROOT

from analysis.key_on import analyse_key_on
from analysis.key_on.with_values import said_with_values
from analysis.model.recording import Channel, Recording
from analysis.pedal.settings import Setting
from bench.files.exports.key_on_text import key_on_text
from bench.files.recording_file import read_recording
from bench.services.key_on import fails
from bench.wording.key_on_found import log_sentence
from bench.wording.key_on_reasons import common_text
from bench.wording.key_on_sentences import log_sentences
from bench.wording.key_on_verdict import verdict_text

SAMPLES = ROOT / "sample_sweeps"
QUIET = SAMPLES / "synthetic_key_on_quiet_car.csv"


def starts(**volts: float) -> tuple[Setting, ...]:
    """Return a start of travel for each of these tracks."""
    return tuple(Setting("start_of_travel", n, v, "V", "") for n, v in volts.items())


def test_without_the_supply_no_log_lowers_the_allowance() -> None:
    """A sag lowers every reading and hides a lift: by hand 5 % of 0.70 V is 35 mV."""
    log = read_recording(QUIET)
    whole = analyse_key_on(log, settings=starts(a=0.8, b=0.9), contactor="closed")
    assert all(c.basis == "measured" and c.volts < 0.030 for c in whole.car.values())
    bare = replace(log, channels=tuple(c for c in log.channels if c.role != "supply"))
    found = analyse_key_on(bare, settings=starts(a=0.8, b=0.9), contactor="closed")
    assert {c.volts for c in found.car.values()} == {0.030}
    assert any("supply of the tracks was not logged" in s and "wire the supply" in s
               for s in log_sentences(found))
    assert "(assumed, supply not logged)" in key_on_text(found)


def test_a_ground_offset_without_the_supply_may_be_a_sag() -> None:
    log = read_recording(SAMPLES / "synthetic_key_on_ground_offset.csv")
    bare = replace(log, channels=tuple(c for c in log.channels if c.role != "supply"))
    assert common_text(analyse_key_on(bare).common).endswith(
        "Or the supply sags: it was not logged.")
    assert "sags: it was not logged" not in common_text(analyse_key_on(log).common)


@pytest.mark.parametrize(("every", "applied"), [(1, None), (2, False)])
def test_readings_missing_with_the_key_on_leave_the_verdict_open(every, applied) -> None:
    """Empty for 1.5 s in the second key-on; or every second row, as merged logs have it."""
    log = read_recording(QUIET)
    at = analyse_key_on(log, settings=starts(a=0.8, b=0.9)).cycles[1].on_s
    hole = ((log.time_s >= at + 0.5) & (log.time_s < at + 2.0) if every == 1
            else np.arange(log.rows) % 2 == 1)
    holed = replace(log, channels=tuple(
        replace(c, readings=np.where(hole, np.nan, c.readings)) if c.column == "b" else c
        for c in log.channels))
    found = analyse_key_on(holed, settings=starts(a=0.8, b=0.9), contactor="closed")
    assert found.verdict.applied is applied
    assert fails(found) == (applied is None)
    if applied is None:
        assert found.unread["b"].seconds == pytest.approx(1.5, abs=0.05)
        assert found.unread["b"].first_s == pytest.approx(at + 0.5, abs=0.05)
        assert "track b gave no reading for 1.5 s" in verdict_text(found)
        assert {c.volts for c in found.car.values()} == {0.030}
        assert any("In log.csv track b gave no reading" in log_sentence(s)
                   for s in said_with_values(found, "log.csv"))


def noisy_log(rms: float, per_degree: float = 0.0) -> Recording:
    """Return four key-ons of a pedal at rest with white noise, fed and logged as it should be."""
    dice = np.random.default_rng(5)
    t = np.arange(12_000) / 100.0
    on = (t % 30.0) >= 6.0
    warm = 20.0 + 6.0 * t / t[-1]
    volts = {n: r + dice.normal(0, rms, t.size) + per_degree * (warm - 20.0)
             for n, r in (("a", 0.8), ("b", 0.9))}
    channels = [Channel(n, "track", np.round(v * 4096 / 5.0), "counts", 4096.0, 5.0)
                for n, v in volts.items()]
    channels += [Channel("s", "supply", np.full(t.size, 5.0), "V", nominal_volts=5.0),
                 Channel("k", "key", np.where(on, 12.0, 0.0), "V"),
                 Channel("w", "temperature", warm, "V")]
    return Recording(t, tuple(channels), purpose="key-on", rate_hz=100.0)


def test_noise_that_would_pass_the_values_is_said_first() -> None:
    """White noise of 10 mV rms, start of travel 4.75 rms from rest.

    Rate of upward passings of independent readings: Q(4.75) = 1.0e-6 each (normal tables), 100 a
    second: 366 in 1000 h.
    """
    found = analyse_key_on(noisy_log(0.010), settings=starts(a=0.8475, b=1.1),
                           contactor="closed")
    assert found.verdict.applied is False
    assert found.noisy == ("a",)
    first = log_sentences(found)[0]
    assert first.startswith("Do not keep the start of travel judged here (a 0.8475 V): ")
    often = float(re.search(r"pass it ([\d ]+) times in 1000", first)[1].replace(" ", ""))
    assert 366 / 3 < often < 366 * 3
    assert fails(found)
    assert any(s.startswith("No proof for track a: noise passes") for s in log_sentences(found))
    assert any(s.startswith("Proof for track b: noise passes") for s in log_sentences(found))
    assert any("noise would pass" in log_sentence(s) for s in said_with_values(found, "log.csv"))
    quiet = analyse_key_on(noisy_log(0.002), settings=starts(a=0.8475, b=1.1))
    assert quiet.noisy == ()


def test_warmth_beyond_the_budget_is_said_with_what_to_enter() -> None:
    """1 mV a degree over 40 K is 40 mV; the default 10 ppm/K of 5 V over 40 K is 2.0 mV.

    1 mV of 5 V is 200 ppm. What scatters within the interval is left to other tests.
    """
    found = analyse_key_on(noisy_log(0.001, 0.001), settings=starts(a=0.9, b=1.0))
    said = next(s for s in log_sentences(found) if s.startswith("Warmth moves track a"))
    over, holds, ppm = (float(m) for m in re.search(
        r"over 40 K that is ([\d.]+) mV, where the dead band holds ([\d.]+) mV.*--track-ppm (\d+)",
        said).groups())
    assert over == pytest.approx(40.0, rel=0.15)
    assert holds == pytest.approx(2.0)
    assert ppm == pytest.approx(200, rel=0.15)
    assert said in [log_sentence(s) for s in said_with_values(found, "log.csv")]
    still = analyse_key_on(noisy_log(0.001), settings=starts(a=0.9, b=1.0))
    assert not any(s.startswith("Warmth moves") for s in log_sentences(still))


def holed(log: Recording, column: str, holes: list[tuple[float, float]],
          value: float = np.nan) -> Recording:
    """Return the log with this reading in these stretches of time of one column."""
    def reading(c: Channel) -> Channel:
        readings = c.readings.astype(float)
        for start, stop in holes:
            readings[(log.time_s >= start) & (log.time_s < stop)] = value
        return replace(c, readings=readings)

    return replace(log, channels=tuple(
        reading(c) if c.column == column else c for c in log.channels))


@pytest.mark.parametrize(("column", "length_s", "value", "words"), [
    ("a", 12.0, np.nan, "track a gave no reading for 48.0 s"),
    ("a", 0.5, np.nan, "track a gave no reading for 2.0 s"),
    ("supply", 1.0, np.nan, "the supply gave none, or next to nothing, for 4.0 s"),
    ("supply", 1.0, 0.0, "the supply gave none, or next to nothing, for 4.0 s")])
def test_what_was_not_read_is_told_however_long(column, length_s, value, words):
    """One stretch in each of the four key-ons; key-ons of the log are 20 s each or longer."""
    log = read_recording(QUIET)
    ons = [c.on_s for c in analyse_key_on(log, settings=starts(a=0.8, b=0.9)).cycles][:4]
    missing = holed(log, column, [(on + 2.0, on + 2.0 + length_s) for on in ons], value)
    found = analyse_key_on(missing, settings=starts(a=0.8, b=0.9), contactor="closed")
    assert found.verdict.applied is None
    assert words in verdict_text(found)
    assert min(c.volts for c in found.car.values()) >= 0.030
    whole = analyse_key_on(log, settings=starts(a=0.8, b=0.9), contactor="closed")
    touched = [n for n in found.proofs if column in (n, "supply")]
    assert touched
    assert all(found.proofs[n].hours < whole.proofs[n].hours for n in touched)


def test_a_supply_logged_less_often_than_the_tracks_leaves_the_verdict_open():
    log = read_recording(QUIET)
    feed = log.supply
    thin = np.where(np.arange(log.rows) % 10 == 0, feed.readings, np.nan)
    found = analyse_key_on(
        replace(log, channels=tuple(replace(c, readings=thin) if c.role == "supply" else c
                                    for c in log.channels)), settings=starts(a=0.8, b=0.9))
    assert found.verdict.applied is None
    assert "log the supply as often as the tracks" in verdict_text(found)


def test_a_track_that_is_not_judged_hinders_all_the_same():
    log = holed(read_recording(QUIET), "b", [(8.0, 8.5)])
    found = analyse_key_on(log, settings=starts(a=0.8), contactor="closed")
    assert {c.volts for c in found.car.values()} == {0.030}


def test_an_unread_track_is_not_said_to_have_stayed_short():
    """Track b asks for power at key-on (sample_sweeps/KEY_ON.md) while a is not read."""
    log = read_recording(SAMPLES / "synthetic_key_on_one_track_lifts.csv")
    on = analyse_key_on(log, settings=starts(a=0.8, b=0.85)).cycles[0].on_s
    found = analyse_key_on(holed(log, "a", [(on + 0.7, on + 3.0)]),
                           settings=starts(a=0.8, b=0.85))
    assert found.verdict.applied is True
    assert "stayed short" not in verdict_text(found)
    assert "Besides, track a gave no reading for 2.3" in verdict_text(found)


def test_a_supply_that_the_key_switches_is_no_loss():
    """Off with the key off, it comes up 0.2 s after the key line in each key-on."""
    log = read_recording(QUIET)
    cycles = analyse_key_on(log, settings=starts(a=0.8, b=0.9)).cycles
    offs = [0.0, *(c.off_s for c in cycles[:-1])]
    found = analyse_key_on(holed(log, "supply", [
        (off, c.on_s + 0.2) for off, c in zip(offs, cycles, strict=True)], 0.0),
        settings=starts(a=0.8, b=0.9))
    assert found.unread == {}
    fell = analyse_key_on(holed(log, "supply", [(c.on_s, c.on_s + 0.2) for c in cycles], 0.0),
                          settings=starts(a=0.8, b=0.9))
    assert set(fell.unread) == {"a", "b"}  # It stood before: nothing came up.
