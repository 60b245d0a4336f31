"""Every line and level of the dead band by hand: scipy's quantiles and the formulas' sources."""

import re
from dataclasses import replace

import numpy as np
import pytest
from said import as_text
from scipy import stats
from track_by_hand import TEN_LEVELS, track_by_hand

from analysis.model.estimate import Estimate
from analysis.parameters import Parameters
from analysis.pedal.dead_band import (
    CarAddition,
    budget,
    dead_band,
    noise_of,
    stated,
    supply_error,
)
from analysis.pedal.dead_band_weak import too_slow


def even(**parameters):
    """Return the parameters of one who takes returns to scatter evenly."""
    return Parameters(returns="even", **parameters)


def lines(track, parameters=None, car=None):
    return {i.name: i for i in budget(track, parameters or Parameters(), car)}


def noise_by_hand(track, per_second, degrees):
    """Return sigma and the level above the mean for 0.001 crossings in 1000 h.

    NIST/SEMATECH e-Handbook 7.2.3.1 (95 % upper bound of sigma), Rice 1945.
    """
    sigma = track.noise_volts * np.sqrt(degrees / stats.chi2.ppf(0.05, degrees))
    return sigma, sigma * np.sqrt(2 * np.log(per_second * 3.6e6 / 0.001))


def test_noise_is_raised_by_what_few_independent_readings_leave_open():
    # 900/s of slope: 900 / (pi/2) independent readings a second, 30 s of them, less one.
    track = track_by_hand(TEN_LEVELS, step=0.0)
    sigma, level = noise_by_hand(track, 900 / (2 * np.pi), 900 / (np.pi / 2) * 30 - 1)
    assert noise_of(track).sigma == pytest.approx(sigma)
    assert lines(track)["electrical noise"].volts == pytest.approx(level)
    assert noise_of(track_by_hand(TEN_LEVELS, slope=0.5)).slope == 0.5


@pytest.mark.parametrize(("slope", "degrees"), [
    # Too small to see its speed: 500 crossings a second, 100 independent readings a second.
    (float("nan"), 100 / (np.pi / 2) * 30 - 1),
    # It never changed: as much as one reading tells.
    (0.0, 1.0)])
def test_noise_without_a_speed_is_taken_as_the_most_a_controller_can_count(slope, degrees):
    track = track_by_hand(TEN_LEVELS, slope=slope, step=0.0)
    sigma, level = noise_by_hand(track, 500.0, degrees)
    assert noise_of(track).slope == pytest.approx(2 * np.pi * 500)
    assert noise_of(track).sigma == pytest.approx(sigma)
    assert lines(track)["electrical noise"].volts == pytest.approx(level)


def test_two_seconds_of_rest_are_the_least():
    assert np.isfinite(noise_of(track_by_hand(TEN_LEVELS, seconds=2.0)).sigma)
    assert np.isinf(noise_of(track_by_hand(TEN_LEVELS, seconds=1.99)).sigma)
    enough = dead_band(track_by_hand(TEN_LEVELS, seconds=2.0), Parameters())
    short = dead_band(track_by_hand(TEN_LEVELS, seconds=1.99), Parameters())
    assert enough.weak is None
    assert "only 2.0 s at rest were seen" in as_text(short.weak)
    assert "for 2 s or more" in as_text(lines(track_by_hand(TEN_LEVELS, seconds=1.99))[
        "electrical noise"].why)


def test_too_few_returns_are_told_with_the_number_that_is_advised():
    # Five: fewer say too little of their scatter (common practice, no source).
    few = dead_band(track_by_hand(TEN_LEVELS[:2]), Parameters())
    assert as_text(few.weak).endswith("record at least 5, better 10")
    assert "5 are advised" in (
        as_text(lines(track_by_hand(TEN_LEVELS[:2]))["scatter of returns"].why))


def test_readings_that_never_differ_on_an_unknown_step_carry_no_promise():
    # A digital record of 1 mV resolution may hide any noise below that; no noise seen is not none.
    blind = dead_band(track_by_hand(TEN_LEVELS, noise=0.0, step=0.0), Parameters())
    assert "do not differ at all and their step is not known" in as_text(blind.weak)
    assert np.isnan([blind.release_volts, blind.start_of_travel_volts]).all()
    for seen in ({"noise": 1e-4, "step": 0.0}, {"noise": 0.0, "step": 1e-3}):
        assert dead_band(track_by_hand(TEN_LEVELS, **seen), Parameters()).weak is None


def test_scatter_and_rest_are_the_two_prediction_limits():
    # One later key-on: t(9) without and with the mean's own sqrt(1 + 1/n) (Hahn & Meeker).
    track = track_by_hand(TEN_LEVELS)
    found = lines(track, even(key_ons=1))
    t = stats.t.ppf(1 - 0.98 * 0.05, 9)
    spread = TEN_LEVELS.std(ddof=1)
    middle = TEN_LEVELS.mean() - np.median(TEN_LEVELS)
    assert found["scatter of returns"].volts == pytest.approx(t * spread + middle, rel=1e-6)
    assert found["rest itself"].volts == pytest.approx(t * (np.sqrt(1.1) - 1) * spread, rel=1e-6)
    more = ("more, their mean lying nearer to" if middle > 0 else
            "less, their mean lying further from")
    assert as_text(found["scatter of returns"].why) == (
        f"10 returns scatter by {1000 * spread:.2f} mV; {t:.2f} times that and "
        f"{1000 * abs(middle):.2f} mV {more} pressed than their median, holds all of 1 later "
        "key-ons with 95.1 % confidence")
    assert f"{t * (np.sqrt(1.1) - 1):.2f} times the scatter" in as_text(found["rest itself"].why)


def test_a_reader_can_work_the_scatter_line_out_from_its_reason():
    """Factor times scatter, plus or less what is said, is the line: by pocket calculator."""
    for levels in (TEN_LEVELS, 2 * TEN_LEVELS.mean() - TEN_LEVELS,
                   TEN_LEVELS + np.arange(10.0) % 3 * 1e-3):
        item = lines(track_by_hand(levels), even())["scatter of returns"]
        scatter, factor, more, word = re.search(
            r"scatter by ([0-9.]+) mV; ([0-9.]+) times that(?: and ([0-9.]+) mV (more|less))?",
            as_text(item.why)).groups()
        by_hand = float(factor) * float(scatter) + float(more or 0) * (-1 if word == "less" else 1)
        # Each of the numbers is rounded to its second decimal.
        assert 1000 * item.volts == pytest.approx(by_hand, abs=0.005 * (float(factor)
                                                                        + float(scatter) + 2))


def test_the_largest_return_is_named_where_it_decides_the_line():
    item = lines(track_by_hand(TEN_LEVELS), even(key_ons=1, confidence=0.5))["scatter of returns"]
    assert as_text(item.why).endswith(
        f"the furthest itself lay {1000 * item.volts:.2f} mV from the median")


def test_no_scatter_item_is_smaller_than_the_largest_lift_seen():
    # At even odds for one key-on the bound is the mean; the largest of the ten lies above it.
    found = lines(track_by_hand(TEN_LEVELS), Parameters(key_ons=1, confidence=0.5))
    assert found["scatter of returns"].volts == pytest.approx(
        TEN_LEVELS.max() - np.median(TEN_LEVELS))


def test_levels_all_alike_may_differ_by_what_rounding_hides():
    # IEEE Std 1241: step / sqrt(12); t(9) from scipy.stats.
    track = track_by_hand(np.full(10, 0.8), step=0.005)
    assert lines(track, Parameters(key_ons=1))["scatter of returns"].volts == pytest.approx(
        stats.t.ppf(1 - 0.98 * 0.05, 9) * 0.005 / np.sqrt(12), rel=1e-6)


def test_scatter_about_a_drift_is_that_about_numpys_line():
    levels = TEN_LEVELS + np.linspace(0, 0.03, 10)
    track = track_by_hand(levels, drift=Estimate(0.03 / 0.9, 0.002))
    found = lines(track, Parameters(key_ons=1))
    times = track.rest_times_s
    left = levels - np.polyval(np.polyfit(times, levels, 1), times)
    # A line takes two degrees of freedom; the mean stays known to s/sqrt(n).
    spread = np.sqrt(left @ left / 8)
    t = stats.t.ppf(1 - 0.98 * 0.05, 8)
    bound = t * spread + levels.mean() - np.median(levels)
    assert found["scatter of returns"].volts == pytest.approx(
        max(bound, levels.max() - np.median(levels)), rel=1e-6)
    assert found["rest itself"].volts == pytest.approx(t * (np.sqrt(1.1) - 1) * spread, rel=1e-6)
    # 30 mV seen; half of it from the middle to the end, and as much again to come.
    assert found["drift"].volts == pytest.approx(0.045)
    assert "moved by 30.00 mV" in as_text(found["drift"].why)
    still = lines(track_by_hand(TEN_LEVELS))["drift"]
    assert as_text(still.why) == "no drift beyond chance in 10 returns"
    few = replace(track, rest_levels=TEN_LEVELS)
    assert lines(few)["drift"].volts == pytest.approx(0.045)


def test_a_drift_counts_beyond_students_t_and_beyond_a_step():
    # Student t table, 8 degrees of freedom, 1 % two-sided: 3.355. 54 s between first and last.
    def drift(value, doubt=0.01, levels=TEN_LEVELS, step=0.001):
        # As stated: widened for few returns, which Student's t then counts by itself.
        stated = doubt * {8: np.sqrt(8 / 6), 3: np.sqrt(3.0), 2: 2.15}[len(levels) - 2]
        track = track_by_hand(levels, drift=Estimate(value, stated), step=step)
        return lines(track)["drift"].volts

    assert drift(0.0335) == 0.0
    assert drift(0.0336) == pytest.approx(1.5 * 0.0336 * 54 / 60)
    assert drift(-0.0336) == pytest.approx(drift(0.0336))
    # Three degrees of freedom at the least five returns: 5.841.
    assert drift(0.0584, levels=TEN_LEVELS[:5]) == 0.0
    assert drift(0.0585, levels=TEN_LEVELS[:5]) == pytest.approx(1.5 * 0.0585 * 24 / 60)
    assert drift(0.5, levels=TEN_LEVELS[:4]) == 0.0
    assert drift(float("nan")) == drift(0.05, float("nan")) == 0.0
    # 0.0625 V/min over 54 s are 56.25 mV: of one step of that size rounding alone may be the cause.
    assert drift(0.0625, step=0.05625) == 0.0
    assert drift(0.0625, step=0.0562) == pytest.approx(1.5 * 0.05625)


def test_a_falling_track_that_sticks_gets_the_same_bound():
    levels = 0.8 + 0.002 * -np.log(1 - (np.arange(10) + 0.5) / 10)
    up = lines(track_by_hand(levels))
    down = lines(track_by_hand(5.0 - levels, full=0.8, direction="falling"))
    for name in ("scatter of returns", "rest itself", "drift"):
        assert down[name].volts == pytest.approx(up[name].volts)


@pytest.mark.parametrize(("recorded", "ratiometric", "share", "words"), [
    (True, True, 0.0, "the controller is taken to measure against the supply it feeds"),
    (True, False, 2.0, "does not measure against the supply it feeds: 2 % of 0.800 V"),
    (False, True, 2.0, "the supply was not recorded: 2 % of 0.800 V"),
    # Low on the bench and high in the car: 1.02 / 0.98.
    (False, False, 100 * (1.02 / 0.98 - 1), "does not measure against it: 4.08 % of 0.800 V")])
def test_supply_by_what_is_known_of_it(recorded, ratiometric, share, words):
    track = track_by_hand(TEN_LEVELS, supply_recorded=recorded)
    for volts in (0.8, -0.8):
        error, why = supply_error(track, Parameters(ratiometric_controller=ratiometric), volts)
        assert error == pytest.approx(share / 100 * 0.8)
        assert words in as_text(why)
    item = lines(track, Parameters(ratiometric_controller=ratiometric))["supply"]
    assert item.basis == ("measured" if share == 0 else "assumed")


@pytest.mark.parametrize("recorded", [True, False])
@pytest.mark.parametrize(("ratiometric", "reads"), [
    # What a controller reads of 0.8 V that a board measured with a reference 3 % high: 0.824 V, and
    # on a scale of a supply 3 % low 0.824 V * 5 / 4.85.
    (False, 0.8 * 5.15 / 5.0), (True, 0.8 * (5.15 / 5.0) * (5.0 / 4.85))])
def test_a_sensor_of_its_own_reference_is_as_sure_as_what_its_volts_are_measured_by(
        ratiometric, reads, recorded):
    """Worked by hand; no ratio takes the board's reference out, whether the supply was recorded."""
    track = track_by_hand(TEN_LEVELS, supply_recorded=recorded)
    asked = Parameters(pedal_kind="hall-fixed", supply_tolerance=0.03,
                       ratiometric_controller=ratiometric)
    assert supply_error(track, asked, -0.8)[0] == pytest.approx(reads - 0.8)


def test_a_supply_that_was_not_recorded_moves_the_ohms_of_a_rheostat():
    """R = known v / (supply - v), Ohm's law: what a supply 1e-6 lower makes of the same v."""
    asked = Parameters(pedal_kind="rheostat", rheostat_known_ohms=3300.0,
                       rheostat_series_ohms=470.0, supply_tolerance=0.03)
    # 5 V stand for 10 kohm, twice the track's 5 kohm: 0.2 V for 400 ohm, with 470 ohm in series.
    volts = 5.0 * 870.0 / (870.0 + 3300.0)
    moved = 3300.0 * volts / (5.0 * (1 - 1e-6) - volts) - 870.0
    error, _ = supply_error(track_by_hand(TEN_LEVELS, supply_recorded=False), asked, -0.2)
    assert error == pytest.approx(0.03 * moved / 1e-6 * 5.0 / 10e3, rel=1e-5)
    assert supply_error(track_by_hand(TEN_LEVELS), asked, -0.2)[0] == 0.0


def test_why_of_each_line_gives_its_arithmetic():
    wide = 0.8 + 20 * (TEN_LEVELS - 0.8)
    track = track_by_hand(wide, noise=0.012, step=5.0 / 512)
    found = lines(track, even(margin_volts=0.004))
    assert f"scatter by {1000 * wide.std(ddof=1):.2f} mV;" in as_text(
        found["scatter of returns"].why)
    # 2 % of the risk of 5 %; 5 V / 512.
    assert as_text(found["electrical noise"].why) == (
        "12.00 mV rms at rest; crossed at most 0.001 times in 1000 key-on hours")
    assert as_text(found["temperature"].why) == "10 ppm/K of 5 V over 40 K"
    assert as_text(found["converter"].why) == "1 x the step of 9.77 mV"
    assert as_text(found["your margin"].why) == "asked for"
    assert as_text(lines(track, even())["your margin"].why) == "none asked for"


def test_a_car_that_a_log_measured_takes_half_of_the_risk():
    # Half of 5 % is left: Student's t at 2.5 % for one key-on (scipy.stats).
    t = stats.t.ppf(1 - 0.98 * 0.025, 9)
    expected = t * TEN_LEVELS.std(ddof=1) + TEN_LEVELS.mean() - np.median(TEN_LEVELS)
    track, parameters = track_by_hand(TEN_LEVELS), even(key_ons=1)
    measured = lines(track, parameters, CarAddition(0.0, "measured"))["scatter of returns"].volts
    assert measured == pytest.approx(expected, rel=1e-6)
    # A log that measured nothing takes no share.
    none = lines(track, parameters, CarAddition(float("nan"), ""))["scatter of returns"].volts
    assert none == pytest.approx(lines(track, parameters)["scatter of returns"].volts)


def test_three_returns_carry_a_promise_and_two_do_not():
    assert dead_band(track_by_hand(TEN_LEVELS[:3]), Parameters()).weak is None
    assert "only 2 returns to rest" in as_text(
        dead_band(track_by_hand(TEN_LEVELS[:2]), Parameters()).weak)


def test_too_few_returns_are_told_on_their_three_lines():
    found = lines(track_by_hand(TEN_LEVELS[:2]))
    assert found["scatter of returns"].volts == np.inf
    assert (found["rest itself"].volts, found["drift"].volts) == (0.0, 0.0)


@pytest.mark.parametrize("falling", [False, True])
def test_levels_are_the_sum_of_the_lines_and_the_hysteresis_lies_within_the_noise(falling):
    levels, sign = (5.0 - TEN_LEVELS, -1) if falling else (TEN_LEVELS, 1)
    track = track_by_hand(levels, full=0.8 if falling else 4.2, step=0.0,
                          direction="falling" if falling else "rising")
    band = dead_band(track, Parameters())
    sigma, room = noise_by_hand(track, 900 / (2 * np.pi), 900 / (np.pi / 2) * 30 - 1)
    total = sum(i.volts for i in band.items)
    assert band.total_volts == pytest.approx(total)
    assert sign * (band.start_of_travel_volts - band.rest_volts) == pytest.approx(total)
    # Held half way between both levels for a second, less than one crossing either way.
    half = sigma * np.sqrt(2 * np.log(900 / (2 * np.pi)))
    assert sign * (band.start_of_travel_volts - band.release_volts) == pytest.approx(2 * half)
    assert band.lost_travel_percent == pytest.approx(100 * total / track.span.value)
    # Rice 1945: as many crossings of the room in 1000 h as it was made for.
    assert band.false_per_1000_h == pytest.approx(
        900 / (2 * np.pi) * 3.6e6 * np.exp(-room**2 / 2 / sigma**2), rel=1e-6)
    assert (band.risk, band.confidence) == (pytest.approx(0.05), 0.95)


def test_hysteresis_is_two_steps_at_least():
    # Noise of at most step / sqrt(12) switches less far than two steps of 10 mV.
    track = replace(track_by_hand(TEN_LEVELS, noise=0.0001), step_volts=0.01)
    assert 2 * noise_of(track).sigma * np.sqrt(2 * np.log(900 / (2 * np.pi))) < 0.02
    band = dead_band(track, Parameters(key_on_hours=0.1, confidence=0.5))
    assert band.start_of_travel_volts - band.release_volts == pytest.approx(0.02)
    # It does not fit into the room for noise, so start of travel moves out.
    room = next(i.volts for i in band.items if i.name == "electrical noise")
    assert room < 0.02
    assert band.start_of_travel_volts - band.rest_volts == pytest.approx(
        band.total_volts - room + 0.02)


def test_a_span_below_a_volt_is_a_span_and_none_is_none():
    track = replace(track_by_hand(TEN_LEVELS), span=Estimate(0.7, 0.001))
    short = dead_band(track, Parameters())
    assert short.lost_travel_percent == pytest.approx(100 * short.total_volts / 0.7)
    none = dead_band(replace(track, span=Estimate(0.0, 0.0)), Parameters())
    assert np.isnan(none.lost_travel_percent)
    assert "reaches full travel" in as_text(none.weak)


def test_a_dead_band_as_wide_as_the_travel_is_weak_and_a_little_less_is_not():
    band = dead_band(track_by_hand(TEN_LEVELS), Parameters())
    whole = band.start_of_travel_volts - band.rest_volts
    for span, weak in ((0.7 * whole, True), (whole, True), (1.01 * whole, False)):
        track = replace(track_by_hand(TEN_LEVELS), span=Estimate(span, 0.001))
        assert (dead_band(track, Parameters()).weak is not None) is weak


@pytest.mark.parametrize("rest", [0.0, 0.8])
def test_a_pedal_without_any_budget_still_rounds_away_from_rest(rest):
    # Nothing asked for, next to nothing seen: both levels are rest; rounded up, never below it.
    track = track_by_hand(np.full(10, rest + 0.0004), noise=1e-12, step=0.0)
    parameters = Parameters(car_allowance_volts=0.0, temperature_span_kelvin=0.0)
    band = dead_band(track, parameters)
    assert band.start_of_travel_volts == pytest.approx(band.rest_volts, abs=1e-9)
    assert stated(band) == pytest.approx((rest + 0.001, rest + 0.001))


def test_stated_levels_are_whole_millivolts_away_from_rest():
    for track, nearest in ((track_by_hand(TEN_LEVELS), np.ceil), (
            track_by_hand(5 - TEN_LEVELS, full=0.8, direction="falling"), np.floor)):
        band = dead_band(track, Parameters())
        assert stated(band) == pytest.approx((
            nearest(1000 * band.release_volts) / 1000,
            nearest(1000 * band.start_of_travel_volts) / 1000))


def sample_with_highest(far, n=10):
    """Return n levels of mean 0.8 V and standard deviation 2 mV, the highest `far` of it above."""
    pairs = (n - 1) // 2
    middle = -far / (n - 1)
    away = np.sqrt((n - 1 - far**2 - (n - 1) * middle**2) / (2 * pairs))
    return 0.8 + 0.002 * np.array([far, *[middle - away] * pairs, *[middle + away] * pairs,
                                   *[middle] * ((n - 1) % 2)])


@pytest.mark.parametrize("falling", [False, True])
def test_a_return_that_does_not_belong_is_told_beyond_grubbs_limit(falling):
    # Grubbs 1969, one-sided 1 %, n = 10: 2.410.
    def weak(far, step=0.0001):
        levels = sample_with_highest(far)
        assert (levels.max() - levels.mean()) / levels.std(ddof=1) == pytest.approx(far)
        track = track_by_hand(5 - levels if falling else levels, full=0.8 if falling else 4.2,
                              direction="falling" if falling else "rising", step=step)
        return as_text(dead_band(track, even()).weak)

    assert not weak(2.400)
    assert "one of 10 returns stopped 4.8 mV short of the others (2.4 times the scatter)" in (
        weak(2.420))
    wide = track_by_hand(0.8 + 50 * (sample_with_highest(2.420) - 0.8))
    assert "stopped 242.0 mV short" in as_text(dead_band(wide, even()).weak)
    # Within two steps of the others it may be rounding: 4.84 mV.
    assert weak(2.420, step=0.00241)
    assert not weak(2.420, step=0.00243)


def test_a_return_of_just_two_steps_may_be_rounding():
    # Nine levels alike and one ten units above: 9 above the mean of 1, 2.85 of their spread of
    # sqrt(10) units by hand, beyond Grubbs' 2.410. Two steps of 5 units are as far as the gap.
    unit = 2.0**-10
    levels = 0.5 + unit * np.array([0.0] * 9 + [10.0])
    track = track_by_hand(levels, step=5 * unit)
    assert dead_band(track, even()).weak is None
    # Rounded five times finer it is a place of its own.
    assert "once of 10 at a second place" in as_text(dead_band(
        replace(track, step_volts=unit), even()).weak)


@pytest.mark.parametrize(("falling", "clipped", "away", "weak"), [
    (False, True, 0.0, True), (True, True, 0.0, True), (False, False, 0.0, False),
    (False, True, 2.0, True), (False, True, 2.125, False), (True, True, 2.125, False)])
def test_a_rest_within_two_steps_of_the_end_of_a_clipped_track_is_clipped(falling, clipped, away,
                                                                          weak):
    step, rest = 2.0**-7, 4.5 if falling else 0.5
    end = rest + (away if falling else -away) * step
    ends = {"highest": end, "lowest": 0.1} if falling else {"lowest": end, "highest": 4.9}
    track = track_by_hand(np.full(10, rest), full=0.8 if falling else 4.2, step=step,
                          direction="falling" if falling else "rising", clipped=clipped, **ends)
    found = as_text(dead_band(track, Parameters()).weak)
    assert ("clipped at rest" in found) is weak


@pytest.mark.parametrize("way", [1, -1])
def test_the_line_of_returns_says_how_mean_and_median_differ(way):
    """Levels in units of 20 mV whose mean lies 8 mV from their median, to either side."""
    levels = 0.8 + way * 0.02 * np.array([-2.5, 0, 0, 0, 0, 0, 0.8, 1.2, 2.0, 2.5])
    apart = levels.mean() - np.median(levels)
    found = lines(track_by_hand(levels, step=0.0), even())["scatter of returns"]
    words = "more, their mean lying nearer to" if way > 0 else "less, their mean lying further from"
    assert abs(apart) == pytest.approx(0.008)
    assert f" and 8.00 mV {words} pressed than their median, holds" in as_text(found.why)
    assert "the furthest itself" not in as_text(found.why)


def test_where_the_furthest_return_decides_the_line_says_so():
    """Nine returns alike and one 50 mV beyond: at a risk of a half the bound lies short of it."""
    levels = np.array([0.8] * 9 + [0.85])
    found = lines(track_by_hand(levels, step=0.0), even(confidence=0.5, key_ons=1))
    assert found["scatter of returns"].volts == pytest.approx(0.05)
    assert as_text(found["scatter of returns"].why).endswith(
        "; the furthest itself lay 50.00 mV from the median")


@pytest.mark.parametrize(("least_s", "told"), [(2.05, False), (2.2, True), (8.0, True)])
def test_a_rate_is_too_low_where_rests_as_asked_for_cannot_tell_the_noise(least_s, told):
    """Rests of 2 s are asked for, and 40 readings; a twentieth more may be the times' rounding."""
    track = replace(track_by_hand(TEN_LEVELS), step_s=least_s / 40)
    why = too_slow(track)
    assert (why is not None) is told
    if told:
        # 40 readings in 2 s are 20 a second.
        why = as_text(why)
        assert why.startswith(f"{40 / least_s:.3g} readings a second are too few")
        assert "log at 20 Hz or more" in why
        assert f"rests of {least_s:.3g} s or more" in why
