"""One track: readings in volts or counts, and where its converter ends."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from analysis.model.estimate import Estimate
from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import analyse
from analysis.pedal.tracks import Levels, Plateau, find_plateaus, measure_track
from analysis.pedal.travel import Ends
from analysis.signal.segments import Segment
from analysis.simulation import Motion, pedal_named, simulate_sweep

SHORT = Motion(cycles=5, quick=2)
STILL = Recording(np.arange(50) / 100.0, (Channel("a", "track", np.zeros(50), "V"),),
                  rate_hz=100.0)


def sweep(name: str) -> Recording:
    return simulate_sweep(pedal_named(name), 200.0, motion=SHORT, seed=4).recording


def scatter(lifts: np.ndarray) -> Estimate:
    """Return the scatter found for returns to 0.8 V and these lifts, of readings without noise."""
    segment = Segment("rest", 0, 50, 0.0, 0.5, False, 0.0)
    rests = tuple(Plateau(segment, 0.8 + lift, 10**9, slice(0, 50)) for lift in lifts)
    return measure_track(
        STILL, STILL.channel("a"), np.zeros(50), np.ones(50, bool), np.zeros(40), Ends(0.8, 4.0),
        Levels(rests, (), 1e-9, 1.0, 5.0, 0.0, np.ones(lifts.size, bool))).rest_scatter


def share_of_spread(degrees: int) -> float:
    """Return what a normal sample leaves open of sigma, as a share of its standard deviation.

    f s^2 / sigma^2 is chi-squared, so sigma / s has the mean and the mean square of
    sqrt(f / chi-squared): the inverse gamma distribution's, from scipy.
    """
    inverse = stats.invgamma(degrees / 2, scale=degrees / 2)
    return float(np.sqrt(inverse.mean() - inverse.expect(np.sqrt) ** 2))


def test_a_log_in_volts_tells_the_same_as_its_counts() -> None:
    """The same sweep, written in volts by another tool, has the same levels and step."""
    recording = sweep("healthy")
    volts = replace(recording, channels=tuple(
        replace(c, readings=c.volts(), unit="V", full_scale=None, reference_volts=None, scale=1.0)
        for c in recording.channels))
    counted, read = analyse(recording), analyse(volts)
    for name, track in counted.tracks.items():
        other = read.tracks[name]
        assert other.rest.value == pytest.approx(track.rest.value, abs=1e-6)
        assert other.full.value == pytest.approx(track.full.value, abs=1e-6)
        # 12 bits of 5 V
        assert other.step_volts == pytest.approx(5.0 / 4096, rel=1e-6)
        # But for the supply's own step, which its volts do not show: no offset cancels.
        assert other.rest.uncertainty == pytest.approx(track.rest.uncertainty, rel=5e-2)
    assert {f.kind for f in read.faults} == {f.kind for f in counted.faults} == set()


def test_the_drift_is_least_squares_and_as_sure_as_students_t_of_few_returns() -> None:
    """Slope and standard error are scipy's; widened as JCGM 101:2008, 6.4.9.4 does."""
    found = analyse(sweep("healthy")).tracks["a"]
    line = stats.linregress(found.rest_times_s / 60.0, found.rest_levels)
    drift = found.drift_volts_per_minute
    assert drift.value == pytest.approx(line.slope)
    assert drift.uncertainty == pytest.approx(
        line.stderr * stats.t.std(found.rest_levels.size - 2))


def test_one_sided_scatter_is_known_half_as_well() -> None:
    """Exponential lifts, as of a pivot that sticks, 2000 samples of 12: two uncertainties hold
    sigma in 90 %, as some samples do not show their lean; unwidened in three of four.
    """
    rng = np.random.default_rng(5)
    held = bare = 0
    normal = share_of_spread(11)
    for lifts in rng.exponential(0.002, (2000, 12)):
        found = scatter(lifts)
        held += abs(found.value - 0.002) <= 2 * found.uncertainty
        bare += abs(found.value - 0.002) <= 2 * found.value * normal
    assert 0.88 <= held / 2000 <= 0.97
    assert bare / 2000 < 0.80
    alike = scatter(0.002 * np.array([-1.0, -0.5, 0.0, 0.5, 1.0]))
    assert alike.uncertainty == pytest.approx(alike.value * share_of_spread(4))


def test_only_counts_have_an_end_at_which_they_clip() -> None:
    """Track b runs into the top of its input: seen in counts, in volts only as a track that stops.
    """
    recording = sweep("clipped")
    found = analyse(recording)
    assert [t.clipped for t in found.tracks.values()] == [False, True]
    volts = replace(recording, channels=tuple(
        replace(c, readings=c.volts(), unit="V", full_scale=None, reference_volts=None, scale=1.0)
        for c in recording.channels))
    blind = analyse(volts)
    assert not any(t.clipped for t in blind.tracks.values())
    assert ("clipping", "b") in {(f.kind, f.channel) for f in blind.faults}


@pytest.mark.parametrize(("end", "clipped"), [("usable_high", True), ("usable_low", True),
                                              (None, False)])
def test_a_track_beyond_the_usable_range_is_clipped(end: str | None, clipped: bool) -> None:
    """A board that states where its converter can be believed clips there, not at its last code."""
    recording = sweep("healthy")
    raw = recording.channel("a").readings
    # A tenth of the range of the track lies beyond.
    limit = {"usable_high": np.quantile(raw, 0.9), "usable_low": np.quantile(raw, 0.1)}
    usable = {} if end is None else {end: float(np.round(limit[end]))}
    board = replace(recording, channels=tuple(
        replace(c, **usable) if c.column == "a" else c for c in recording.channels))
    assert analyse(board).tracks["a"].clipped == clipped


def test_the_noise_of_a_rest_in_which_it_came_counts_for_all() -> None:
    """10 mV rms in one rest of seven of 0.5 mV."""
    rng = np.random.default_rng(8)
    volts = np.ravel(1.0 + rng.normal(0.0, 1.0, (7, 600)) * np.where(
        np.arange(7) == 3, 0.01, 5e-4)[:, None])
    log = Recording(np.arange(4200) / 200.0, (Channel("a", "track", volts, "V",
                                                      reading_step=1e-4),), rate_hz=200.0)
    rests = tuple(Segment("rest", k * 600, (k + 1) * 600, 3.0 * k, 3.0 * k + 3.0)
                  for k in range(7))
    found = find_plateaus(log, log.channel("a"), volts, np.ones(4200, bool), rests)
    # Of its middle 300 rows, known to 1 / sqrt(600): 4 %.
    assert found.noise_volts == pytest.approx(0.01, rel=0.15)
