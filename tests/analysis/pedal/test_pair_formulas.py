"""The pair's parts one by one, against scipy, numpy and arithmetic by hand."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize, stats
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.estimate import Estimate
from analysis.parameters import Parameters
from analysis.pedal.pair import (
    EDGES,
    MIDDLES,
    NEITHER,
    PRESSING,
    RELEASING,
    Curves,
    bending_of,
    fit_tracks,
    mean_of,
    measure_pair,
    mismatch_curves,
    play_between,
    repeats_within,
    robust_line,
    ways,
)
from analysis.pedal.relations import relation_of
from analysis.pedal.travel import Ends
from analysis.signal.segments import Segment

NONE = np.full(100, np.nan)


def test_bins_are_a_hundred_of_one_per_cent():
    np.testing.assert_allclose(EDGES, np.linspace(0, 100, 101))
    np.testing.assert_allclose(MIDDLES, np.linspace(0.5, 99.5, 100))


def test_only_slow_moves_count_and_quick_ones_where_there_are_no_others():
    slow = (Segment("rest", 0, 20, 0.0, 0.2), Segment("press", 20, 40, 0.2, 0.4),
            Segment("hold", 40, 60, 0.4, 0.6), Segment("release", 60, 80, 0.6, 0.8))
    quick = Segment("release", 90, 110, 0.9, 1.1, quick=True)
    p, r, n = PRESSING, RELEASING, NEITHER
    assert ways((*slow, quick), 12, 10).tolist() == [n, n, p, p, n, n, r, r, n, n, n, n]
    assert ways((slow[0], quick), 12, 10).tolist() == [n] * 9 + [r, r] + [n]
    assert not ways((slow[0],), 12, 10).any()


def test_curves_are_means_of_each_bin_with_their_standard_error():
    # Five readings in one bin, three in the next, two (too few) in the third; pressing only.
    groups = {10.5: [0.10, 0.12, 0.11, 0.09, 0.13], 11.5: [0.2, 0.22, 0.21], 12.5: [3.0, 4.0]}
    pedal = np.concatenate([np.full(len(v), k) for k, v in groups.items()])
    difference = np.concatenate(list(groups.values()))
    way = np.full(pedal.size, PRESSING)
    found = mismatch_curves(pedal, difference, way)
    for k, values in ((10, groups[10.5]), (11, groups[11.5])):
        assert found.press[k] == pytest.approx(np.mean(values))
        assert found.press_error[k] == pytest.approx(stats.sem(values))  # scipy.stats
    assert np.flatnonzero(np.isfinite(found.press)).tolist() == [10, 11]
    assert np.flatnonzero(np.isfinite(found.press_error)).tolist() == [10, 11]
    assert np.isnan(found.release).all()
    assert np.isnan(found.release_error).all()


@pytest.mark.parametrize(("spread", "smoothed"), [(0.055, False), (0.065, True)])
def test_bins_with_a_standard_error_above_six_hundredths_are_smoothed_over_three(spread, smoothed):
    # Three readings -s, 0, s about a level: standard error s / sqrt(3). Level: a lone peak of 3.
    level = np.where(np.arange(100) == 50, 3.0, 0.0)
    reading = np.array([-1.0, 0.0, 1.0]) * spread * np.sqrt(3)
    pedal, difference = np.repeat(MIDDLES, 3), (level[:, None] + reading).ravel()
    found = mismatch_curves(pedal, difference, np.full(300, RELEASING))
    around = [1.0, 1.0, 1.0] if smoothed else [0.0, 3.0, 0.0]
    assert found.release[49:52] == pytest.approx(around)
    assert found.release[[48, 52]] == pytest.approx([0, 0], abs=1e-12)
    assert found.release_error == pytest.approx(
        np.full(100, spread / np.sqrt(3) if smoothed else spread))


def test_a_curve_never_visited_takes_the_others_values():
    full, holes = np.arange(100.0), np.where(np.arange(100) % 3, np.nan, np.arange(100.0))
    for press, release in ((holes, NONE), (NONE, holes), (holes, full)):
        found = Curves(press, release, NONE, NONE).filled()
        assert found[0][:99] == pytest.approx(full[:99])
        assert found[1][:99] == pytest.approx(full[:99])
    apart = Curves(full, full + 1, NONE, NONE).filled()
    assert (apart[1] - apart[0]).tolist() == [1.0] * 100


def tukeys_line(x, y, base, scale):
    """Return slope and intercept of the least sum of Tukey's biweight, by scipy's minimiser."""
    def total(line):
        z = (y - line[0] * x - line[1]) / (4.685 * scale)
        return base @ (1 - np.clip(1 - z**2, 0, None) ** 3)
    return optimize.minimize(total, stats.theilslopes(y, x)[:2], method="Nelder-Mead", options={
        "xatol": 1e-13, "fatol": 1e-13, "maxiter": 4000, "maxfev": 4000,
        "initial_simplex": stats.theilslopes(y, x)[:2] + 1e-4 * np.array([[0, 0], [1, 0], [0, 1]]),
    }).x


def rough_points(n=60):
    rng = np.random.default_rng(5)
    x = np.linspace(0.5, 4.5, n)
    y = 0.5 * x + 0.1 + rng.normal(0, 0.001, n)
    y[::7] += rng.normal(0.02, 0.02, y[::7].size)
    return x, y


def uncertainties(x, y, line, base, scale):
    """Return those of slope and intercept by the weighted normal equations, by hand."""
    left = y - line[0] * x - line[1]
    weights = base * np.clip(1 - (left / 4.685 / scale) ** 2, 0, None) ** 2
    variance = weights @ left**2 / (np.sum(weights > 0) - 2) * x.size / base.sum()
    design = np.vander(x, 2)
    return np.sqrt(variance * bending_of(left, x) * np.diag(
        np.linalg.inv(design.T @ np.diag(weights) @ design)))


def test_the_line_is_tukeys_with_the_scale_of_its_own_residuals():
    # Holland & Welsch 1977: 4.685 for 95 %; 1.4826 = 1/Phi^-1(3/4); least sum by scipy.
    x, y = rough_points()
    gain, offset = robust_line(x, y)
    left = y - gain.value * x - offset.value
    scale = np.median(np.abs(left)) / stats.norm.ppf(0.75)
    line = tukeys_line(x, y, np.ones(x.size), scale)
    assert (gain.value, offset.value) == pytest.approx(tuple(line), rel=1e-6)
    assert (gain.uncertainty, offset.uncertainty) == pytest.approx(tuple(
        uncertainties(x, y, line, np.ones(x.size), scale)), rel=1e-4)


def test_two_anchors_hold_three_tenths_of_the_whole_weight_each():
    x, y = rough_points()
    free = robust_line(x, y)
    scale = np.median(np.abs(y - free[0].value * x - free[1].value)) / stats.norm.ppf(0.75)
    at, level = np.array([0.3, 4.7]), np.array([0.25 + 0.0015, 2.45 + 0.001])
    gain, offset = robust_line(x, y, (at, level))
    whole_x, whole_y = np.append(x, at), np.append(y, level)
    # 0.3 : 0.3 : 0.4, the last shared by sixty points.
    base = np.append(np.ones(60), [45.0, 45.0])
    line = tukeys_line(whole_x, whole_y, base, scale)
    assert (gain.value, offset.value) == pytest.approx(tuple(line), rel=1e-6)
    assert gain.value != pytest.approx(free[0].value, rel=1e-4)
    assert (gain.uncertainty, offset.uncertainty) == pytest.approx(tuple(
        uncertainties(whole_x, whole_y, line, base, scale)), rel=1e-4)


def test_three_points_are_the_least_for_a_line_and_must_not_stand_above_each_other():
    gain, offset = robust_line(np.array([0.0, 1.0, 2.0, np.nan]), np.array([1.0, 3.0, 5.0, 9.0]))
    assert (gain.value, offset.value) == pytest.approx((2.0, 1.0))
    assert (gain.uncertainty, offset.uncertainty) == pytest.approx((0.0, 0.0), abs=1e-9)
    for x, y in (([0.0, 1.0], [1.0, 3.0]), ([2.0, 2.0, 2.0], [1.0, 2.0, 3.0]),
                 ([0.0, 1.0, 2.0], [1.0, np.nan, 5.0])):
        for found in robust_line(np.array(x), np.array(y)):
            assert np.isnan([found.value, found.uncertainty]).all()


def test_three_rough_points_have_one_degree_of_freedom():
    # Symmetric about the line, so weights at -1, 2, -1 do not turn it: slope 1, by hand.
    x, y = np.array([0.0, 1.0, 2.0]), np.array([-0.001, 1.002, 1.999])
    gain, _ = robust_line(x, y)
    left = y - x - np.mean(y - x)
    assert gain.value == pytest.approx(1.0)
    scale = np.median(np.abs(y - gain.value * x - robust_line(x, y)[1].value)) / stats.norm.ppf(.75)
    weight = np.clip(1 - (left / 4.685 / scale) ** 2, 0, None) ** 2
    assert gain.uncertainty == pytest.approx(
        np.sqrt(np.sum(weight * (y - x - robust_line(x, y)[1].value) ** 2) / (2 * weight[0])),
        rel=0.2)


def test_a_bend_of_few_points_counts_from_ten_on_and_alternating_points_do_not():
    # Ten points in five stretches of two: at most twofold.
    ramp = np.arange(10.0) * 1e-3
    assert bending_of(ramp, np.arange(10.0)) == pytest.approx(2.0)
    assert bending_of(ramp[:9], np.arange(9.0)) == 1.0
    assert bending_of(np.tile([1e-3, -1e-3], 20), np.arange(40.0)) == 1.0


def test_an_offset_of_just_five_per_cent_of_supply_is_an_offset():
    # FORMATS.md: |offset| below 5 % of supply is the same slope.
    assert relation_of(1.0, 0.05) == "same slope with offset"
    assert relation_of(1.0, -0.0499) == "same slope"
    assert [relation_of(g, 0.3) for g in (0.551, 0.449, 0.549, 1.79, 2.21, 1.81)] == [
        "other", "other", "half slope", "other", "other", "half slope"]
    assert {relation_of(g, 0.0) for g in (0.899, 1.101, 0.85, 1.15)} == {"other"}
    assert [relation_of(g, 1.0) for g in (-1.11, -0.89, -1.09, -0.91)] == [
        "other", "other", "opposed slopes", "opposed slopes"]


def test_play_is_the_largest_difference_over_nine_per_cent_of_travel():
    # A hump of 3 % over nine bins on 1 %: the mean of the nine in its middle is 3, nowhere else.
    gap = np.where(np.abs(np.arange(100) - 40) <= 4, 3.0, 1.0)
    errors = np.full(100, 0.03), np.full(100, 0.04)
    found, at = play_between(Curves(gap, np.zeros(100), *errors), 0.0)
    assert (found.value, at) == (pytest.approx(3.0), 40.5)
    # Two errors of a mean of nine whose one has hypot(0.03, 0.04) = 0.05.
    assert found.uncertainty == pytest.approx(2 * 0.05 / 3)
    turned, _ = play_between(Curves(np.zeros(100), gap, *errors), 0.03)
    assert turned.uncertainty == pytest.approx(2 * np.hypot(0.05 / 3, 0.03))
    assert turned.value == pytest.approx(3.0)


def test_play_is_told_only_where_both_ways_were_seen_and_from_ten_bins_on():
    few = np.where(np.arange(100) < 10, 0.2, np.nan)
    error = np.where(np.arange(100) < 10, 0.05, np.nan)
    none = np.where(np.isfinite(few), 0.0, np.nan)
    found, at = play_between(Curves(few, none, error, error), 0.0)
    assert found.value == pytest.approx(0.2)
    assert at < 10
    nine = np.where(np.arange(100) < 9, 0.2, np.nan)
    none, nowhere = play_between(Curves(nine, np.zeros(100), error, error), 0.0)
    assert np.isnan([none.value, none.uncertainty, nowhere]).all()
    # Between two bins that were visited the straight line goes higher than either: not told there.
    gap = np.where((np.arange(100) < 20) | (np.arange(100) > 80), 0.1, np.nan)
    gap[81:] = 0.5
    _, place = play_between(Curves(gap, np.zeros(100), error, error), 0.0)
    assert place > 81


def test_how_well_the_play_repeats_is_half_the_difference_of_its_halves():
    # Two presses and two releases over all of travel; the second press lies 0.4 % higher. The
    # halves differ by 0.4 %, and their mean, which is the whole, is off by half of that.
    pedal = np.tile(np.repeat(MIDDLES, 4), 4)
    way = np.repeat([PRESSING, RELEASING, PRESSING, RELEASING], 400)
    difference = np.repeat([0.1, 0.0, 0.5, 0.0], 400)
    assert repeats_within(pedal, difference, way) == pytest.approx(0.2)
    assert repeats_within(pedal, np.repeat([0.1, 0.0, 0.1, 0.0], 400), way) == pytest.approx(0.0)
    # Both presses first, both releases then, parted by what is neither: the same.
    presses_first = np.repeat([PRESSING, NEITHER, PRESSING, RELEASING, NEITHER, RELEASING], 400)
    assert repeats_within(np.tile(np.repeat(MIDDLES, 4), 6),
                     np.repeat([0.1, 9.0, 0.5, 0.0, 9.0, 0.0], 400), presses_first
                     ) == pytest.approx(0.2)
    # Three of each make halves of two and one.
    gap = np.repeat([0.1, 0.0, 0.3, 0.0, 0.1, 0.0], 400)
    assert repeats_within(np.tile(np.repeat(MIDDLES, 4), 6), gap, np.tile(way, 2)[:2400]
                     ) == pytest.approx(0.1)
    assert repeats_within(pedal[:800], difference[:800], way[:800]) == 0.0


def test_where_one_way_is_missing_the_other_stands_for_both():
    press, release = np.array([1.0, np.nan, 3.0, np.nan]), np.array([3.0, 5.0, np.nan, np.nan])
    assert mean_of(Curves(press, release, press, release)) == pytest.approx(
        [2.0, 5.0, 3.0, np.nan], nan_ok=True)


def two_tracks(gap, first=(0.7, 4.3), second=(0.5, 2.5), shift=0.0):
    """Return two tracks and their points: 20 a bin and way, the gap shared out between the ways.

    gap: shape (100,), % of the second track's travel that releasing is above pressing.
    """
    travel = np.repeat(MIDDLES, 20) + np.tile(np.linspace(-0.45, 0.45, 20), 100)
    pedal = np.concatenate([travel, travel])
    way = np.repeat([PRESSING, RELEASING], 2000)
    a = first[0] + (first[1] - first[0]) * pedal / 100
    half = np.concatenate([np.repeat(-gap / 2, 20), np.repeat(gap / 2, 20)])
    b = second[0] + (second[1] - second[0]) * (pedal + half + shift) / 100
    tracks = [replace(track_by_hand(TEN_LEVELS), column=name, rest=Estimate(ends[0], 0.001),
                      full=Estimate(ends[1], 0.001), span=Estimate(abs(ends[1] - ends[0]), 0.002))
              for name, ends in (("a", first), ("b", second))]
    return tracks, {"a": a, "b": b}, pedal, way, {"a": Ends(*first), "b": Ends(*second)}


def test_the_line_runs_in_the_middle_of_the_play_through_its_ends():
    # The play widens along travel; half of its median, that of the middle of travel, is taken out
    # of rest (which stands on the side of releasing) and of full (on that of pressing).
    gap = 2.0 + 0.02 * (MIDDLES - 50.0)
    # At the ends of travel the play is another, and does not count.
    gap[:10], gap[-10:] = 0.3, 9.0
    (first, second), volts, pedal, way, ends = two_tracks(gap)
    second = replace(second, rest=Estimate(0.5 + 0.01 * 2.0, 0.001),
                     full=Estimate(2.5 - 0.01 * 2.0, 0.001))
    # Half of 2 % of the span between those levels, not of the true one: 0.04 % less.
    curves = mismatch_curves(pedal, ends["a"].percent(volts["a"])
                             - ends["b"].percent(volts["b"]), way)
    gain, offset = fit_tracks(first, second, volts["a"], volts["b"], pedal, way, curves)
    line = robust_line(*bins_of(volts, pedal, way),
                       (np.array([0.7, 4.3]), np.array([0.52 - 0.01 * 1.96, 2.48 + 0.01 * 1.96])))
    assert gain.value == pytest.approx(line[0].value, rel=1e-9)
    assert offset.value == pytest.approx(line[1].value, rel=1e-9)
    assert gain.value == pytest.approx(2.0 / 3.6, rel=1e-3)


def bins_of(volts, pedal, way):
    """Return both tracks' means by bin and way, by hand."""
    place = np.floor(pedal)
    rows = [(way == w) & (place == k) for w in (PRESSING, RELEASING) for k in range(100)]
    return tuple(np.array([volts[name][r].mean() for r in rows]) for name in ("a", "b"))


def test_half_of_what_the_ends_change_and_their_own_doubt_are_in_the_uncertainty():
    # The bins lie 3 mV above the line of the ends: a bend no straight line can follow.
    (first, second), volts, pedal, way, ends = two_tracks(np.full(100, 0.1))
    volts["b"] = volts["b"] + 0.003 * np.sin(pedal / 100 * np.pi)
    rest, full = Estimate(0.5 + 0.001, 0.001), Estimate(2.5 - 0.003, 0.001)
    second = replace(second, rest=rest, full=full)
    curves = mismatch_curves(pedal, ends["a"].percent(volts["a"])
                             - ends["b"].percent(volts["b"]), way)
    found = fit_tracks(first, second, volts["a"], volts["b"], pedal, way, curves)
    half = np.median((curves.press - curves.release)[10:90]) / 200
    anchors = (np.array([0.7, 4.3]), np.array([rest.value - half * 1.996,
                                               full.value + half * 1.996]))
    points = bins_of(volts, pedal, way)
    # JCGM 100:2008, 5.1.2, of gain = (v4 - v3) / (v2 - v1) and offset = v3 - gain v1, where rest
    # and full level of each track are off by 1 mV on their own, and v1 enters the offset twice.
    gain = found[0].value
    at_end = 0.001 * np.hypot(1.0, gain)
    turned = np.sqrt(2.0) * at_end / 3.6
    doubts = turned, np.hypot(at_end, 0.7 * turned)
    for line, bins, tied, doubt in zip(found, robust_line(*points), robust_line(*points, anchors),
                                       doubts, strict=True):
        assert line.value == pytest.approx(tied.value, rel=1e-9)
        assert line.uncertainty == pytest.approx(
            np.sqrt(tied.uncertainty**2 + (tied.value - bins.value) ** 2 / 4 + doubt**2), rel=1e-9)
        assert abs(tied.value - bins.value) > 0.2 * tied.uncertainty


def test_without_play_to_be_seen_the_ends_are_taken_as_they_are():
    # Every other bin 5 mV off, so that ends a per cent off would not be left out as outliers.
    (first, second), volts, pedal, way, _ = two_tracks(np.zeros(100))
    volts["b"] = volts["b"] + np.where(np.floor(pedal) % 2, 0.005, -0.005)
    pressed = way == PRESSING
    curves = mismatch_curves(pedal[pressed], np.zeros(2000), way[pressed])
    gain, offset = fit_tracks(first, second, *(volts[n][pressed] for n in "ab"), pedal[pressed],
                        way[pressed], curves)
    assert (gain.value, offset.value) == pytest.approx((2 / 3.6, 0.5 - 0.7 * 2 / 3.6), rel=2e-3)


@pytest.mark.parametrize("one_way", [False, True])
def test_the_worst_mismatch_is_told_with_its_place_its_error_and_that_of_both_rests(one_way):
    (first, second), volts, pedal, way, ends = two_tracks(np.zeros(100))
    rng = np.random.default_rng(3)
    volts["b"] = volts["b"] + 0.002 * rng.normal(0, 0.05, pedal.size)
    here = (np.floor(pedal) == 63) & (way == PRESSING)
    there = (np.floor(pedal) == 20) & (way == RELEASING)
    volts["b"][here] -= 0.02 * 1.5
    volts["b"][there] += 0.02 * 1.0
    if one_way:
        volts = {n: np.where(way == PRESSING, v, np.nan) for n, v in volts.items()}
    found = measure_pair(first, second, volts, pedal, ends, way, Parameters())
    off = (ends["a"].percent(volts["a"]) - ends["b"].percent(volts["b"]))[here]
    assert found.mismatch_max_percent.value == pytest.approx(np.mean(off))
    assert found.mismatch_max_percent.value == pytest.approx(1.5, abs=0.1)
    assert found.mismatch_at_travel_percent == 63.5
    # Rest known to 1 mV on spans of 3.6 and 2 V (GUM 5.1.2).
    rests = 100 * np.hypot(0.001 / 3.6, 0.001 / 2.0)
    assert found.mismatch_max_percent.uncertainty == pytest.approx(
        np.hypot(stats.sem(off), rests))
    assert found.mismatch_press_percent[63] == pytest.approx(np.mean(off))
    assert found.travel_percent == pytest.approx(MIDDLES)
    assert found.mismatch_percent[63] == pytest.approx(
        found.mismatch_max_percent.value / (1 if one_way else 2), abs=0.02)
    if not one_way:
        assert found.mismatch_release_percent[20] == pytest.approx(-1.0, abs=0.1)
        assert found.play_percent.value == pytest.approx(1.5 / 9, abs=0.05)


@pytest.mark.parametrize(("nominal", "relation"), [
    (5.0, "same slope with offset"), (10.0, "same slope")])
def test_the_offset_is_judged_as_a_share_of_supply(nominal, relation):
    # 0.3 V are 6 % of 5 V and 3 % of 10 V; the limit is 5 %.
    (first, second), *rest = two_tracks(np.zeros(100), second=(1.0, 4.6))
    first = replace(first, nominal_volts=nominal)
    assert (
        measure_pair(first, second, *rest[:2], rest[3], rest[2], Parameters()).relation == relation
    )


def test_the_mismatch_on_targets_is_the_rule_of_three():
    (first, second), *rest = two_tracks(np.zeros(100))

    def on_targets(**parameters):
        return measure_pair(first, second, *rest[:2], rest[3], rest[2],
                            Parameters(**parameters)).mismatch_at_rest_percent

    # Rest 0.7 V where 0.6 V is wanted, of 3.7 V; the other track is where it is.
    assert on_targets(target_rest_volts={"a": 0.6}) == pytest.approx(100 * 0.1 / 3.7)
    assert on_targets(target_rest_volts={"b": 0.6}) == pytest.approx(100 * 0.1 / 1.9)
    assert on_targets(target_full_volts={"b": 2.0}) == pytest.approx(0.0)
    assert on_targets(target_rest_volts={"a": 0.6, "b": 0.55}, target_full_volts={"a": 4.1}) == (
        pytest.approx(100 * (0.1 / 3.5 + 0.05 / 1.95)))
    assert on_targets(target_rest_volts={"other": 0.6}) is None
