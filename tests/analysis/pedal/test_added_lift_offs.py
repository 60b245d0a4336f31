"""Lift-offs added to a sweep, and the presses of the plan that go half way."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from track_by_hand import track_by_hand

from analysis.model.recording import Channel, Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band import dead_band
from analysis.pedal.findings import analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep
from bench.acquisition.guided_plan import guided_plan
from bench.errors import BadFile
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording
from bench.services.more import join


def two_sweeps(folder: Path) -> tuple[Path, Path]:
    first, more = folder / "s.csv", folder / "m.csv"
    write_recording(first, simulate_sweep(pedal_named("healthy"), 100.0, seed=1).recording)
    write_recording(more, simulate_sweep(pedal_named("healthy"), 100.0, seed=2,
                                         motion=Motion(cycles=0, quick=8)).recording)
    return first, more


def test_a_joined_file_has_both_and_neither_of_them_is_touched(tmp_path: Path) -> None:
    first, more = two_sweeps(tmp_path)
    before = first.read_bytes(), more.read_bytes()
    out = join(first, more)
    assert (first.read_bytes(), more.read_bytes()) == before
    assert out.name == "s-more.csv"
    a, b, both = map(read_recording, (first, more, out))
    assert both.rows == a.rows + b.rows
    assert both.complete
    np.testing.assert_array_equal(both.channel("a").readings, np.concatenate(
        [a.channel("a").readings, b.channel("a").readings]))
    assert [m.text for m in both.marks] == [m.text for m in (*a.marks, *b.marks)]
    # Eight presses more are eight returns more, and the rest that both share counts once or twice.
    more_returns = (analyse(both).tracks["a"].rest_levels.size
                    - analyse(a).tracks["a"].rest_levels.size)
    assert 8 <= more_returns <= 9
    assert join(first, more).name == "s-more-2.csv"


def test_lift_offs_of_another_wiring_are_not_joined(tmp_path: Path) -> None:
    first, more = two_sweeps(tmp_path)
    other = read_recording(more)
    other = replace(other, channels=(replace(other.channels[0], column="z"), *other.channels[1:]))
    write_recording(tmp_path / "o.csv", other)
    with pytest.raises(BadFile, match="has none of channel 'a'"):
        join(first, tmp_path / "o.csv")
    assert not (tmp_path / "s-more.csv").exists()


def test_the_plan_asks_for_presses_that_go_half_way_in_no_more_time() -> None:
    plan = guided_plan()
    presses = [p for p in plan.prompts if p.kind == "press"]
    assert [k for k, p in enumerate(presses) if p.shallow] == [2, 5, 9, 11]
    assert presses[2].words == "press about half way down"
    assert not presses[0].shallow
    added = guided_plan(cycles=0, quick=18, alone=True)
    assert all(p.quick for p in added.prompts if p.kind == "press")
    # With the offer taken 30 returns and more in at most three minutes.
    assert plan.end_s + added.end_s <= 180.0


def test_presses_that_go_half_way_are_returns_and_no_short_presses() -> None:
    """Made here: smooth ramps, each return at its own level, four of twelve presses at half."""
    dice, rate = np.random.default_rng(5), 200.0
    share, rest = [np.zeros(600)], [np.full(600, 0.8)]
    for k in range(12):
        high = 0.5 if k in (2, 5, 9, 11) else 1.0
        way = (1 - np.cos(np.linspace(0, np.pi, 300))) / 2 * high
        quick = np.linspace(high, 0, 24) if k >= 8 else way[::-1]
        share += [way, np.full(200, high), quick, np.zeros(500)]
        rest.append(np.full(500 + quick.size + 500, 0.8 + dice.normal(0, 0.002)))
    travel, level = np.concatenate(share), np.concatenate(rest)
    volts = level + travel * 3.4
    channels = [Channel(n, "track", np.floor((volts + o + dice.normal(0, 0.001, volts.size))
                                             / 5 * 4096), "counts", 4096.0, 5.0)
                for n, o in (("a", 0.0), ("b", 0.005))]
    supply = Channel("supply", "supply", np.full(volts.size, 4095.5), "counts", 4096.0, 5.0,
                     nominal_volts=5.0)
    found = analyse(Recording(np.arange(volts.size) / rate, (*channels, supply), rate_hz=rate))
    assert found.tracks["a"].rest_levels.size == 13
    assert found.tracks["a"].full_levels.size == 8
    assert found.dead_bands["a"].weak is None
    assert not {s.code for s in found.graded} & {"short of the stop", "no lift-off", "not enough"}


def test_an_offer_comes_true_on_average() -> None:
    """Predicted for 31 returns from 13, against 31 of the same law, medians of 60 normal pedals."""
    dice = np.random.default_rng(6)

    def lost(levels):
        return dead_band(track_by_hand(0.8 + 0.01 * levels), Parameters())

    offered, got = [], []
    for _ in range(60):
        levels = dice.standard_normal(31)
        few = lost(levels[:13])
        if few.more_lift_offs:
            offered.append(few.more_lost_travel_percent)
            got.append(lost(levels).lost_travel_percent)
    assert len(got) > 40
    assert np.median(offered) == pytest.approx(np.median(got), rel=0.15)
    # Enough returns, nothing to gain: no offer.
    assert lost(stats.norm.ppf((dice.permutation(45) + 0.5) / 45)).more_lift_offs == 0
