"""The board check: known noise, codes, clocks and losses are found again."""

import dataclasses
import json

import numpy as np
import pytest
from captured_board import capture, quantised
from said import as_texts, refuses

from analysis.model.errors import SweepTooShort
from analysis.signal.board_check import check_board
from analysis.signal.code_density import code_density
from analysis.statistics.bounds import expected_crossings
from bench.acquisition.boards.simulated import SimulatedPedalBoard
from bench.command_line import main
from bench.errors import BadCall
from bench.files.exports.board_check import board_check_text
from bench.services.board_check import CheckOrder, check


@pytest.mark.parametrize("sigma", [0.5, 1.0, 3.0, 10.0])
def test_noise_is_the_inputs_and_ideal_quantisation_in_power(sigma):
    rng = np.random.default_rng(int(sigma * 10))
    found = check_board(capture(quantised(2.5001, sigma, 20_000, rng))).channels[0]
    # Ideal quantisation noise LSB/sqrt(12) (IEEE Std 1241) adds in power to the input's.
    assert found.noise_lsb == pytest.approx(np.hypot(sigma, 12**-0.5), rel=0.03)
    assert found.input_noise_lsb == pytest.approx(sigma, rel=0.05)
    # IEEE Std 1241: effective bits = N - log2(rms error / ideal rms error).
    assert found.effective_bits == pytest.approx(
        10 - np.log2(np.hypot(sigma, 12**-0.5) * 12**0.5), abs=0.05)
    assert not found.moved
    assert not found.codes.missing
    assert not found.codes.sticky


def test_an_ideal_converter_has_all_its_bits():
    codes = quantised(np.linspace(0, 5, 30_000), 0.0, 30_000, np.random.default_rng(1))
    check = check_board(capture(codes % 2 + 500))
    assert check.channels[0].effective_bits <= 10


@pytest.mark.parametrize("sigma", [1.0, 2.0, 8.0])
def test_missing_and_sticky_codes_are_found_at_rest(sigma):
    rng = np.random.default_rng(3)
    codes = quantised(2.5001, sigma, 60_000, rng)
    codes[codes == 512] = 513
    density = code_density(codes)
    assert density.missing == (512,)
    codes = quantised(2.5001, sigma, 60_000, rng)
    near = np.isin(codes, (511, 513)) & (rng.random(codes.size) < 0.7)
    codes[near] = 512
    # With little noise a sticky code cannot be told from still less noise: nobody is accused.
    assert code_density(codes).sticky == ((512,) if sigma >= 2 else ())


def test_missing_and_sticky_codes_are_found_along_a_slow_press():
    rng = np.random.default_rng(4)
    codes = quantised(np.linspace(0.5, 4.5, 200_000), 0.5, 200_000, rng)
    assert code_density(codes).moved
    assert code_density(codes).missing == code_density(codes).sticky == ()
    codes[codes == 300] = 301
    codes[(codes == 511) | (codes == 513)] = 512
    density = code_density(codes)
    assert density.missing == (300, 511, 513)
    assert 512 in density.sticky


def test_a_healthy_converter_is_never_accused():
    rng = np.random.default_rng(5)
    for _ in range(200):
        sigma = float(rng.uniform(0.05, 20))
        codes = quantised(float(rng.uniform(0.5, 4.5)), sigma, 5000, rng)
        density = code_density(codes)
        assert not density.missing
        assert not density.sticky
        hum = codes + np.rint(rng.uniform(0, 6) * np.sin(np.arange(5000) * 0.628)).astype(int)
        assert not code_density(hum).missing


@pytest.mark.parametrize("ppm", [-5000.0, -80.0, 0.0, 150.0])
def test_clock_error_is_found_within_its_uncertainty(ppm):
    rng = np.random.default_rng(int(abs(ppm)))
    misses = []
    for _ in range(40):
        codes = quantised(2.5, 1.0, 10_000, rng)
        clock = check_board(capture(codes, ppm=ppm, delay_s=0.003, rng=rng)).clock
        misses.append((clock.error_ppm.value - ppm) / clock.error_ppm.uncertainty)
        assert abs(clock.error_ppm.value - ppm) < 200
    # 20 points, 18 degrees of freedom: |t| < 2.88 in 99 % (Student's table).
    assert np.mean(np.abs(misses) < 2.88) >= 0.9


def test_jitter_is_that_of_the_intervals():
    rng = np.random.default_rng(8)
    clock = check_board(capture(quantised(2.5, 1, 10_000, rng), jitter_s=50e-6, rng=rng)).clock
    # Each interval holds two independent errors.
    assert clock.jitter_us == pytest.approx(50 * 2**0.5, rel=0.05)
    assert clock.rate_hz == pytest.approx(500, rel=0.01)


def test_losses_head_room_and_supply_are_told():
    lost = np.zeros(5000, np.int64)
    lost[[100, 2000]] = (3, 40)
    result = check_board(capture(
        quantised(2.5, 1, 5000, np.random.default_rng(9)), lost=lost, refused=2, baud=115200,
        bytes_received=111_000, says={"supply_mv": "4890", "overruns": "7"}))
    assert result.lost_samples == 43
    # A start bit, eight data bits and a stop bit: 11520 bytes per second at 115200 baud.
    assert result.line_percent == pytest.approx(100 * 11_100 / 11_520)
    assert result.supply_volts == pytest.approx(4.89)
    text = " ".join(as_texts(result.sentences))
    assert "43 samples were lost and 2 lines or frames refused" in text
    assert "missed 7 ticks" in text
    assert "the line is 96 % full" in text


def test_a_grounded_and_a_known_input_are_compared():
    rng = np.random.default_rng(10)
    codes = np.stack([np.zeros(4000), quantised(2.6, 1, 4000, rng)], axis=1)
    result = check_board(capture(codes), {"a": 0.0, "b": 2.5})
    assert result.channels[0].error_lsb == 0
    assert result.channels[1].error_lsb == pytest.approx(0.1 / 5 * 1024, abs=0.1)
    text = " ".join(as_texts(result.sentences))
    assert "input a stays at 0, where noise cannot show" in text
    assert "input b reads 2.599" in text


def test_readings_outside_the_usable_range_are_flagged():
    codes = np.repeat([50, 500], 2000)
    result = check_board(capture(np.stack([codes, codes + 10], axis=1), usable_low=100))
    assert result.channels[0].outside_usable_percent == 50
    assert "50 % of the readings lie outside the range" in " ".join(as_texts(result.sentences))


def test_both_ends_of_the_usable_range_count():
    codes = np.repeat([50, 500, 900, 1000], 1000)
    result = check_board(capture(np.stack([codes, codes], axis=1), usable_low=100,
                                 usable_high=950))
    # Of four equal parts one lies below and one above.
    assert result.channels[0].outside_usable_percent == 50


def test_without_a_clock_of_its_own_the_rate_is_that_of_the_host():
    rng = np.random.default_rng(12)
    found = check_board(dataclasses.replace(capture(quantised(2.5, 1, 4000, rng)),
                                            time_s=np.full(4000, np.nan))).clock
    assert found.rate_hz == pytest.approx(500, rel=1e-3)
    assert np.isnan([found.error_ppm.value, found.jitter_us, found.worst_us]).all()


def test_a_check_of_few_pieces_says_nothing_of_the_clock_but_all_of_the_noise():
    rng = np.random.default_rng(13)
    few = capture(quantised(2.5, 1, 400, rng), ppm=-9000)
    result = check_board(few)
    assert few.arrival_rows.size == 20
    assert np.isnan(result.clock.error_ppm.value)
    assert not any("clock is off" in s for s in as_texts(result.sentences))
    # By its own clock the board sends at 500 / (1 - 9000 ppm).
    assert result.clock.rate_hz == pytest.approx(500 / (1 - 0.009), rel=1e-6)
    assert result.channels[0].noise_lsb == pytest.approx(np.hypot(1, 12**-0.5), rel=0.15)


def test_a_clock_that_is_far_off_is_told_with_its_size():
    result = check_board(capture(quantised(2.5, 1, 10_000, np.random.default_rng(14)), ppm=-9000))
    assert any("clock is off by -9000 ppm" in s for s in as_texts(result.sentences))


@pytest.mark.parametrize("missing", ["full_scale", "reference_volts"])
def test_a_board_that_does_not_say_its_scale_gets_no_verdict_in_volts(missing):
    codes = quantised(2.5, 1, 4000, np.random.default_rng(15))
    result = check_board(capture(codes, **{missing: None}))
    assert result.verdict == "unknown"
    assert np.isnan(result.step_volts)
    assert any("add --full-scale and --reference-volts" in s for s in as_texts(result.sentences))
    # Noise in steps needs neither.
    assert result.channels[0].noise_lsb == pytest.approx(np.hypot(1, 12**-0.5), rel=0.05)


def test_an_input_that_moved_is_left_out_of_the_verdict_and_named():
    rng = np.random.default_rng(16)
    still = quantised(2.5, 1, 20_000, rng)
    moving = quantised(np.linspace(0.5, 4.5, 20_000), 0.5, 20_000, rng)
    result = check_board(capture(np.stack([still, moving], axis=1)))
    assert result.verdict == "usable"
    assert any("input b moved, so its noise is not in this" in s
               for s in as_texts(result.sentences))
    both = check_board(capture(np.stack([moving, moving], axis=1)))
    assert both.verdict == "unknown"
    assert any(s.startswith("inputs a and b moved, so noise") and "leave the pedal alone" in s
               for s in as_texts(both.sentences))


@pytest.mark.parametrize("rest_lsb", [1.3, 2.0])
def test_where_a_pedal_rests_is_no_sticky_code(rest_lsb):
    """Ten presses of an ideal converter, with rests between: no code is accused.

    An ideal converter has no wide code, whatever the input does (IEEE Std 1241).
    """
    rng = np.random.default_rng(21)
    press = 0.5 - 0.5 * np.cos(np.linspace(0, 2 * np.pi, 2000))
    travel = np.tile(np.concatenate([np.zeros(1500), press]), 10)
    volts = 0.752 + 3.4 * travel
    codes = np.concatenate([
        quantised(v, rest_lsb, 1, rng, 4096) for v in volts]).astype(np.int64)
    density = code_density(codes)
    assert density.moved
    assert density.sticky == density.missing == ()
    # One slow press between two rests, over a converter with one wide code: only that is told.
    slow = 0.752 + np.concatenate([np.zeros(10_000), np.linspace(0, 0.5, 60_000),
                                   np.full(10_000, 0.5)])
    codes = quantised(slow, rest_lsb, slow.size, rng, 4096)
    assert code_density(codes).sticky == ()
    assert code_density(np.where(np.abs(codes - 800) <= 2, 800, codes)).sticky == (800,)


def test_a_still_supply_does_not_speak_for_tracks_that_moved():
    """The dead band is that of the pedal's inputs; a supply's noise is another's: no source."""
    rng = np.random.default_rng(22)
    moving = quantised(np.linspace(0.5, 4.5, 20_000), 0.5, 20_000, rng)
    supply = quantised(2.5, 0.4, 20_000, rng)
    readings = np.stack([moving, moving, supply], axis=1)
    result = check_board(capture(readings, columns=("a", "b", "supply"), tracks=("a", "b")))
    assert result.verdict == "unknown"
    assert not np.isfinite(result.resolution_volts)
    text = " ".join(as_texts(result.sentences))
    assert "inputs a and b moved" in text
    assert "leave the pedal alone and check again" in text
    assert "judged by input supply" not in text
    still = np.stack([moving, quantised(0.7, 1.0, 20_000, rng), supply], axis=1)
    half = check_board(capture(still, columns=("a", "b", "supply"), tracks=("a", "b")))
    assert "judged by input b" in " ".join(as_texts(half.sentences))


def test_the_simulated_pedal_in_motion_is_not_judged_by_its_supply():
    """Ten seconds of the simulated pedal hold a press: the board names its tracks."""
    result = check(SimulatedPedalBoard(speed=None), CheckOrder(1.0))
    assert all(c.moved for c in result.channels[:2])
    assert not np.isfinite(result.resolution_volts)
    assert not [s for s in as_texts(result.sentences) if "sticky" in s or "judged by" in s]


def test_bad_codes_are_named_in_the_words_of_the_check():
    rng = np.random.default_rng(17)
    codes = quantised(np.linspace(0.5, 4.5, 200_000), 0.5, 200_000, rng)
    codes[codes == 300] = 301
    codes[(codes == 511) | (codes == 513)] = 512
    text = " ".join(as_texts(check_board(capture(codes)).sentences))
    assert "input a: missing codes 300, 511, 513" in text
    assert "input a: sticky codes" in text
    assert "512" in text.split("sticky codes")[1]


def test_a_24_bit_converter_over_its_range_and_a_coarse_toggle_accuse_nobody():
    wide = np.linspace(0, (1 << 24) - 1, 4000).astype(np.int64)
    density = code_density(wide)
    # One reading in 4000 codes says nothing of any of them.
    assert (density.moved, density.judged, density.missing, density.sticky) == (True, 0, (), ())
    assert (density.lowest, density.highest, density.seen) == (0, (1 << 24) - 1, 4000)
    # Two levels seven codes apart: too narrow to have four neighbours on either side.
    toggle = code_density(np.tile([500, 507], 5000))
    assert not toggle.moved
    assert toggle.missing == toggle.sticky == ()


def test_the_smallest_dead_band_holds_in_a_long_simulation():
    rng = np.random.default_rng(11)
    result = check_board(capture(quantised(2.5, 2.0, 20_000, rng)))
    noise = result.channels[0]
    level = result.resolution_volts / result.step_volts - 1.0
    # Rice 1945: no more than 0.05 crossings in 1000 hours.
    assert expected_crossings(level, noise.noise_lsb, noise.crossing_slope, 1000) == \
        pytest.approx(0.05, rel=1e-6)
    assert rng.standard_normal(20_000_000).max() * 2.0 < level
    assert result.verdict == "too coarse"
    assert check_board(capture(quantised(2.5, 1.0, 20_000, rng))).verdict == "usable"
    fine = quantised(2.5, 1.0, 20_000, rng, full_scale=4096)
    assert check_board(capture(fine, full_scale=4096)).verdict == "fine"


def test_too_few_rows_and_bad_calls_are_one_line():
    with refuses(SweepTooShort, "100 rows came"):
        check_board(capture(np.full(100, 500)))
    with pytest.raises(BadCall, match="a check of 0 s"):
        CheckOrder(0)
    with pytest.raises(BadCall, match="no input 'z'"):
        check(SimulatedPedalBoard(speed=None), CheckOrder(1.0, {"z": 0.0}))


def test_the_simulated_board_is_checked_from_the_command_line(capsys):
    assert main(["boards", "--check", "simulated", "--seconds", "2", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["schema"] == 1
    assert [c["column"] for c in said["channels"]] == ["a", "b", "supply"]
    assert said["lost_samples"] == 0
    assert main(["boards", "--check", "/dev/nothing-here"]) == 2
    assert "no board at /dev/nothing-here" in capsys.readouterr().err
    assert main(["boards", "--check", "simulated", "--expect", "a:1"]) == 2
    assert main(["boards", "--check", "simulated", "--seconds", "nan"]) == 2
    capsys.readouterr()
    assert main(["boards", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["boards"][0]["port"] == "simulated"


def test_a_board_that_reads_its_inputs_in_turn_says_what_a_quick_lift_off_makes_of_it():
    rng = np.random.default_rng(6)
    codes = np.stack([quantised(v, 1, 1000, rng) for v in (2.5, 1.0)], axis=1)
    said = board_check_text(check_board(capture(codes, says={"channel_us": "1760"})))
    # 1.76 ms of a fall in 20 ms.
    assert "1760 us, 8.8 % of travel in a lift-off of 20 ms" in said
    assert "inputs apart" not in board_check_text(check_board(capture(codes)))
