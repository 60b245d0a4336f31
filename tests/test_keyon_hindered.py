"""What a key-on log cannot carry, and what it shows although no reading passed start of travel.

No outside source for the words. Truth of the logs: sample_sweeps/KEY_ON.md (quiet car: rests a
0.70 V, b 0.80 V) and what is put in here.
"""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.keyon import analyse_key_on
from analysis.keyon.sentences import said_with_values
from analysis.recording import Channel, Recording
from analysis.settings import Setting
from bench.exports.key_on_text import key_on_text
from bench.jobs.watch import fails
from bench.recording_file import read_recording

SAMPLES = Path(__file__).parent.parent / "sample_sweeps"
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
               for s in found.sentences)
    assert "(assumed, supply not logged)" in key_on_text(found)


def test_a_ground_offset_without_the_supply_may_be_a_sag() -> None:
    log = read_recording(SAMPLES / "synthetic_key_on_ground_offset.csv")
    bare = replace(log, channels=tuple(c for c in log.channels if c.role != "supply"))
    assert analyse_key_on(bare).common.text.endswith(
        "Or the supply sags: it was not logged.")
    assert "sags: it was not logged" not in analyse_key_on(log).common.text


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
        assert found.verdict.tracks["b"].unread_s == pytest.approx(1.5, abs=0.05)
        assert found.verdict.tracks["b"].unread_at_s == pytest.approx(at + 0.5, abs=0.05)
        assert "track b gave no reading for 1.5 s" in found.verdict.text
        assert {c.volts for c in found.car.values()} == {0.030}
        assert any("readings of track b are missing" in s.text
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
    first = found.sentences[0]
    assert first.startswith("Do not keep the start of travel judged here (a 0.8475 V): ")
    often = float(re.search(r"pass it ([\d ]+) times in 1000", first)[1].replace(" ", ""))
    assert 366 / 3 < often < 366 * 3
    assert fails(found)
    assert any(s.startswith("No proof for track a: noise passes") for s in found.sentences)
    assert any(s.startswith("Proof for track b: noise passes") for s in found.sentences)
    assert any("noise would pass" in s.text for s in said_with_values(found, "log.csv"))
    quiet = analyse_key_on(noisy_log(0.002), settings=starts(a=0.8475, b=1.1))
    assert quiet.noisy == ()


def test_warmth_beyond_the_budget_is_said_with_what_to_enter() -> None:
    """1 mV a degree over 40 K is 40 mV; the default 10 ppm/K of 5 V over 40 K is 2.0 mV.

    1 mV of 5 V is 200 ppm. What scatters within the interval is left to other tests.
    """
    found = analyse_key_on(noisy_log(0.001, 0.001), settings=starts(a=0.9, b=1.0))
    said = next(s for s in found.sentences if s.startswith("Warmth moves track a"))
    over, holds, ppm = (float(m) for m in re.search(
        r"over 40 K that is ([\d.]+) mV, where the dead band holds ([\d.]+) mV.*--track-ppm (\d+)",
        said).groups())
    assert over == pytest.approx(40.0, rel=0.15)
    assert holds == pytest.approx(2.0)
    assert ppm == pytest.approx(200, rel=0.15)
    assert said in [s.text for s in said_with_values(found, "log.csv")]
    still = analyse_key_on(noisy_log(0.001), settings=starts(a=0.9, b=1.0))
    assert not any(s.startswith("Warmth moves") for s in still.sentences)
