"""Presses that stop short of the pedal's stop: their full travel is not the pedal's."""

import math

import pytest
from said import as_text, as_texts

from analysis.pedal.findings import analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("peak", "scatter"), [(50.0, 4.0), (80.0, 2.5)])
def test_a_foot_that_stops_short_by_itself_gives_no_full_travel(seed, peak, scatter):
    # A foot that stops by itself does so differently each time; a stop is met alike (common
    # practice, no source).
    found = analyse(simulate_sweep(
        pedal_named("healthy"), 500.0, 12, seed=seed,
        motion=Motion(cycles=10, peak_percent=peak, peak_scatter_percent=scatter)).recording)
    full = [s for s in found.settings if s.name == "full_travel"]
    assert full
    assert all(math.isnan(s.value) for s in full)
    assert all("did not all reach it" in as_text(s.why) for s in full)
    assert sum(v.startswith("Sweep again: the held presses ended between")
               for v in as_texts(found.verdict)) == 1
    # What is known of rest is not touched by it.
    assert all(math.isfinite(s.value) for s in found.settings if s.name == "start_of_travel")


@pytest.mark.parametrize("pedal", ["healthy", "off-at-rest"])
def test_presses_to_the_stop_keep_their_full_travel(pedal):
    found = analyse(simulate_sweep(pedal_named(pedal), 500.0, 12, seed=3).recording)
    assert all(math.isfinite(s.value) for s in found.settings if s.name == "full_travel")
    assert not any("Sweep again: the held" in v for v in as_texts(found.verdict))
