"""What the verdict asks back: a pair that may be made so, a dead band that something else makes.

No outside source for the words. Truth: what is put into the simulated sweeps here.
"""

from dataclasses import replace

import numpy as np
import pytest
from said import as_text
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.compare import compare
from analysis.pedal.dead_band import CAR, NOISE, SCATTER, dead_band
from analysis.pedal.findings import analyse
from analysis.pedal.nulling import nulling
from analysis.pedal.verdict import verdict
from analysis.simulation import pedal_named, simulate_sweep
from bench.files.exports.comparison import comparison_text


def sweep(gain: float = 1.0, volts: float = 0.0) -> Recording:
    """Return a sound pedal's sweep with track b's readings made gain times as large, and moved."""
    made = simulate_sweep(pedal_named("healthy"), 200.0, 12, seed=4).recording
    _, track, *_ = made.channels
    counts = np.round(gain * track.readings + volts * track.full_scale / track.reference_volts)
    return replace(made, channels=tuple(
        replace(c, readings=counts) if c is track else c for c in made.channels))


@pytest.mark.parametrize(("recording", "asked"), [
    (sweep(volts=-0.3), "lie {} mV apart all along"), (sweep(0.7, 0.4), "none of the usual ways"),
    (sweep(), None), (sweep(0.5), None)], ids=["offset", "other", "same", "half"])
def test_a_pair_that_may_have_one_track_off_is_asked_about(recording, asked):
    found = analyse(recording)
    told = [s for s in found.graded if "pedal's papers" in as_text(s)]
    assert len(told) == (asked is not None)
    if asked is None:
        return
    assert told[0].gravity == 1
    first, second = found.tracks.values()
    apart = 1000 * abs(first.rest.value - second.rest.value)
    assert asked.format(f"{apart:.0f}") in as_text(told[0])
    assert f"{second.rest.value:.3f} V" in as_text(told[0])


@pytest.mark.parametrize(("track", "cause", "cure"), [
    (track_by_hand(0.8 + 25.0 * (TEN_LEVELS - 0.8)), SCATTER, "friction, a weak spring"),
    (track_by_hand(TEN_LEVELS, noise=0.04), NOISE, "find what disturbs the reading")],
    ids=["scatter of 50 mV", "noise of 40 mV rms"])
def test_a_dead_band_too_wide_names_what_most_of_it_is_for(track, cause, cure):
    band = dead_band(track, Parameters())
    told = verdict({"a": track}, None, (), {"a": band}, (), Parameters(), None)
    dear = next(s for s in told if "a dead band that stops creep costs" in as_text(s))
    most = max(band.items, key=lambda i: i.volts)
    assert most.name == cause
    assert f"{1000 * most.volts:.1f} mV of it for {cause}, so " in as_text(dear)
    assert cure in as_text(dear)


def test_the_gravest_stands_first():
    found = analyse(simulate_sweep(pedal_named("off-at-rest"), 200.0, 12, seed=4).recording)
    gravities = [s.gravity for s in found.graded[:len(found.verdict)]]
    assert gravities == sorted(gravities, reverse=True)
    assert len(set(gravities)) > 1


def test_a_reading_on_the_move_is_not_to_be_turned_by():
    """A ramp over 0.3 V of 5 V, as of a pedal under a foot, against noise of 5 mV rms."""
    assert not nulling(np.linspace(0.7, 1.0, 60), 0.75, 5.0, 270.0).steady
    noise = np.random.default_rng(0).normal(0.8, 0.005, 60)
    assert nulling(noise, 0.75, 5.0, 270.0).steady


@pytest.mark.parametrize(("rate_hz", "compared"), [(100.0, False), (200.0, True)])
def test_a_pair_that_was_never_read_together_is_not_compared(rate_hz, compared):
    """A merged log: track a in every even row, track b in every odd one.

    Points 10 ms apart are compared (docs/method.md, "Travel"): at 200 Hz each has a row of both.
    """
    whole = simulate_sweep(pedal_named("healthy"), rate_hz, 12, seed=4).recording
    turn = {c.column: k for k, c in enumerate(whole.channels) if c.role == "track"}
    found = analyse(replace(whole, channels=tuple(
        replace(c, readings=np.where(np.arange(whole.rows) % 2 == turn[c.column], c.readings,
                                     np.nan)) if c.column in turn else c
        for c in whole.channels)))
    told = " ".join(as_text(s) for s in found.graded)
    assert "nan" not in told
    assert bool(np.isfinite(found.pair.gain.value)) is compared
    said = [s.gravity for s in found.graded if "never read in the same rows" in as_text(s)]
    assert said == ([] if compared else [2])
    assert "none of the usual ways" not in told


def test_a_comparison_ends_with_what_the_later_sweep_asks():
    text = comparison_text(compare(analyse(sweep()), analyse(sweep(volts=-0.3))), "a.csv", "b.csv")
    end = " ".join(text.split()).partition("Nothing that must be repaired for certain; ")[2]
    assert end.startswith("of the later recording, know * The tracks lie")


def test_an_assumed_allowance_is_to_be_measured_and_not_looked_for():
    track, parameters = track_by_hand(TEN_LEVELS), Parameters(car_allowance_volts=0.3)
    band = dead_band(track, parameters)
    dear = replace(band, items=tuple(
        replace(i, basis="assumed") if i.name == CAR else i for i in band.items))
    told = verdict({"a": track}, None, (), {"a": dear}, (), parameters, None)
    said = next(as_text(s) for s in told if "a dead band that stops creep costs" in as_text(s))
    assert "300.0 mV of it is assumed for the car, so measure that first" in said


@pytest.mark.parametrize("every", [2, 4, 10])
def test_a_supply_logged_less_often_is_told_with_the_share(every):
    """A dip of the supply between its own readings cannot be seen; by hand 1 of 2, 4, 10 rows."""
    whole = simulate_sweep(pedal_named("healthy"), 1000.0, 12, seed=4).recording
    assert whole.supply is not None
    thin = np.where(np.arange(whole.rows) % every == 0, whole.supply.readings, np.nan)
    found = analyse(replace(whole, channels=tuple(
        replace(c, readings=thin) if c.role == "supply" else c for c in whole.channels)))
    said = [s for s in found.graded if "Log the supply as often as the tracks" in as_text(s)]
    assert [s.gravity for s in said] == [0]
    assert as_text(said[0]).startswith(f"Only {100 / every:.0f} % of the tracks' readings")
    assert not any("Log the supply as often" in as_text(s) for s in analyse(whole).graded)
