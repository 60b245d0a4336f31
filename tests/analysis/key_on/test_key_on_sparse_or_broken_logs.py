"""Key-on numbers where data are few, coarse, interrupted or odd, against what was put in."""

from dataclasses import replace

import numpy as np
import pytest
from said import as_text
from scipy import stats

from analysis.key_on import analyse_key_on
from analysis.key_on.presses import TrackFacts
from analysis.key_on.supply import common_mode
from analysis.model.recording import Channel, Recording
from analysis.pedal.settings import Setting
from analysis.simulation.car import Car, CarNoise, drive
from bench.files.exports.key_on_text import key_on_text
from bench.wording.key_on_reasons import common_text
from bench.wording.key_on_sentences import log_sentences
from bench.wording.reasons import in_words


def plain_log(volts: np.ndarray, rate_hz: float, key_from_s: float,
              supply: np.ndarray | None = None) -> Recording:
    """Return a log of one track in volts with a key line, without any noise of its own."""
    times = np.arange(volts.size) / rate_hz
    key = np.where(times >= key_from_s, 12.0, 0.0)
    more = () if supply is None else (Channel("supply", "supply", supply, "V", nominal_volts=5.0),)
    return Recording(times, (Channel("a", "track", volts, "V"), Channel("key", "key", key, "V"),
                             *more), purpose="key-on", rate_hz=rate_hz)


def start(volts: float, release: float | None = None) -> list[Setting]:
    """Return start of travel, and release, of track a."""
    both = [("start_of_travel", volts), ("release", release)]
    return [Setting(name, "a", value, "V", "") for name, value in both if value is not None]


# --- verdict ---------------------------------------------------------------------------------

def test_power_that_stays_between_release_and_start_is_one_long_application() -> None:
    """Held for ten minutes at a level that neither starts nor ends power: one application."""
    # The search reads 10 000 blocks at a time; at 10 rows a second that is 1000 s.
    n = 30_000
    volts = 0.7 + np.random.default_rng(1).normal(0, 0.0005, n)
    volts[1000] = 0.95
    volts[1001:26_000] = 0.85
    found = analyse_key_on(plain_log(volts, 10.0, 20.0), settings=start(0.9, 0.8))
    (event,) = found.verdict.applications
    assert event.start_s == pytest.approx(100.0)
    assert event.seconds == pytest.approx(2500.0)
    assert event.peak_volts == pytest.approx(0.95)


def test_every_application_counts_though_not_every_one_is_listed() -> None:
    """300 single readings beyond start are counted and timed; the list stops before that."""
    volts = 0.7 + np.random.default_rng(2).normal(0, 0.0005, 12_000)
    volts[2000:11_000:30] = 0.95
    found = analyse_key_on(plain_log(volts, 200.0, 5.0), settings=start(0.9))
    track = found.verdict.tracks["a"]
    assert track.applications == 300
    assert track.applied_s == pytest.approx(300 / 200.0)
    assert 0 < len(found.verdict.applications) < 300
    assert found.verdict.tracks["a"].margin_volts == pytest.approx(-0.05)


# --- proof -----------------------------------------------------------------------------------

def test_a_reading_that_stands_still_proves_nothing() -> None:
    """Noise well below a converter step cannot be seen, so no rate is told from it."""
    # 12 bit of 5 V: 1.22 mV; 0.1 mV of noise in the middle of a step never leaves it.
    counts = np.round(573.0 + np.random.default_rng(3).normal(0, 1e-4, 8000) / 5.0 * 4096)
    assert np.ptp(counts) == 0
    log = plain_log(counts, 100.0, 8.0)
    track = Channel("a", "track", counts, "counts", 4096, 5.0)
    found = analyse_key_on(replace(log, channels=(track, log.channels[1])), settings=start(0.8))
    proof = found.proofs["a"]
    assert not proof.enough
    assert "below the converter's step (1.22 mV)" in in_words(proof.why)
    # The bound that needs no distribution stands all the same: rule of three, -ln 0.05 / T.
    assert proof.free_bound_per_1000_h == pytest.approx(
        -np.log(0.05) / proof.hours * 1000.0, rel=1e-6)


def test_a_log_full_of_holes_is_told_to_mend_them() -> None:
    """Three readings in a hundred missing leaves no whole stretch: the noise cannot be fitted."""
    rng = np.random.default_rng(4)
    volts = 0.7 + rng.normal(0, 0.003, 20_000)
    volts[rng.random(volts.size) < 0.03] = np.nan
    proof = analyse_key_on(plain_log(volts, 200.0, 10.0), settings=start(0.72)).proofs["a"]
    assert not proof.enough
    assert "0 of at least 8 stretches of 2 s or more without" in in_words(proof.why)


def test_holes_in_a_part_leave_the_proof_as_it_is() -> None:
    """Some seconds with missing readings are left out; the rate is that of the noise put in."""
    sigma, rate_hz = 0.003, 200.0
    volts = 0.7 + np.random.default_rng(5).normal(0, sigma, 30_000)
    volts[6000:8000:40] = np.nan
    proof = analyse_key_on(plain_log(volts, rate_hz, 10.0), settings=start(0.71)).proofs["a"]
    assert proof.enough
    # White noise passes h upwards with a chance of Q(h)(1 - Q(h)) per reading.
    beyond = stats.norm.sf(0.01 / sigma)
    assert proof.rate.low < beyond * (1 - beyond) * rate_hz * 3.6e6 < proof.rate.high


@pytest.mark.parametrize("rate_hz", [1.0, 4.0])
def test_a_slow_logger_proves_the_rate_of_the_noise_put_in(rate_hz: float) -> None:
    """Few readings a second: their noise is told whole, and the true rate lies in the interval."""
    sigma, inside = 0.003, 0
    beyond = stats.norm.sf(0.006 / sigma)
    for seed in range(8):
        volts = 0.7 + np.random.default_rng(seed).normal(0, sigma, round(500 * rate_hz))
        found = analyse_key_on(plain_log(volts, rate_hz, 60.0), settings=start(0.706))
        # 440 readings know a standard deviation to 1 / sqrt(880) = 3.4 %; three times that.
        assert found.tracks["a"].noise_after_volts == pytest.approx(sigma, rel=0.11)
        rate = found.proofs["a"].rate
        inside += rate.low < beyond * (1 - beyond) * rate_hz * 3.6e6 < rate.high
    assert inside >= 6


@pytest.mark.parametrize("rate_hz", [0.1, 0.2, 1.0])
def test_a_log_of_hardly_any_readings_is_not_proven_from(rate_hz: float) -> None:
    """A minute and more at a reading in seconds: too few, and told in one line."""
    volts = 0.7 + np.random.default_rng(1).normal(0, 0.003, 130)
    proof = analyse_key_on(plain_log(volts, rate_hz, 12.0 / rate_hz), settings=start(0.71)).proofs
    assert not proof["a"].enough
    assert "of at least 8 stretches" in in_words(proof["a"].why)


def test_slow_noise_is_not_said_to_fit_or_not() -> None:
    """Smooth noise of 0.3 Hz passes no level 30 times in a minute; its rate is Rice's."""
    rate_hz, told, inside = 50.0, 0, 0
    for seed in range(6):
        rng = np.random.default_rng(seed)
        white = rng.normal(0, 1.0, 8000)
        width = 0.5 * rate_hz
        kernel = np.exp(-0.5 * (np.arange(-200, 201) / width) ** 2)
        noise = np.convolve(white, kernel / np.sqrt(np.sum(kernel**2)), "same")[1000:-1000]
        volts = 0.7 + 0.003 * noise + rng.normal(0, 1e-5, noise.size)
        proof = analyse_key_on(plain_log(volts, rate_hz, 40.0), settings=start(0.706)).proofs["a"]
        # Rice 1945: (1 / 2 pi) sqrt(-R''(0)) exp(-h^2 / 2); a Gaussian kernel of width w makes
        # R(t) = exp(-t^2 / (4 w^2)), so sqrt(-R''(0)) = 1 / (sqrt(2) w).
        true = rate_hz / (2 * np.pi * np.sqrt(2.0) * width) * np.exp(-0.5 * 2.0**2) * 3.6e6
        told += proof.enough
        inside += proof.rate.low < true < proof.rate.high
    # Where the noise itself was seen beyond start there is no proof rather than a rate.
    assert told >= 4
    assert inside >= told - 1


# --- noise -----------------------------------------------------------------------------------

def test_tones_are_named_by_what_they_can_be() -> None:
    """A tone's double is named so; a kilohertz tone as switching; one alone as folded or ripple."""
    rate = 5000.0
    time = np.arange(60_000) / rate
    volts = 0.7 + np.random.default_rng(6).normal(0, 0.001, time.size)
    for hertz, peak in ((137.0, 0.005), (274.0, 0.003), (2210.0, 0.002)):
        volts += peak * np.sin(2 * np.pi * hertz * time)
    tones = analyse_key_on(plain_log(volts, rate, 2.0)).tracks["a"].tones
    names = {round(t.hertz): as_text(t.source) for t in tones}
    assert set(names) == {137, 274, 2210}
    assert names[274] == "2 times the tone at 137.0 Hz"
    assert "switching of a motor controller" in names[2210]
    assert "folds k x 5000" in names[137]
    assert [t.amplitude_volts for t in tones] == pytest.approx([0.005, 0.003, 0.002], rel=0.1)


# --- settling and shift ----------------------------------------------------------------------

def test_a_data_logger_of_one_reading_in_two_seconds_finds_the_shift() -> None:
    """Ten seconds of settling are five readings: settling is not told, the shift is."""
    rng = np.random.default_rng(7)
    n = 200
    time = 2.0 * np.arange(n)
    volts = 0.7 + 0.03 * (time >= 150.0) + rng.normal(0, 0.001, n)
    track = analyse_key_on(plain_log(volts, 0.5, 150.0)).tracks["a"]
    assert np.isnan(track.settling_s)
    assert track.shift.low < 0.03 < track.shift.high
    assert track.shift.high - track.shift.low < 0.006


def test_a_level_that_still_settles_after_ten_seconds_is_said_to() -> None:
    """With a time constant of 6 s nothing has settled within the ten seconds looked at."""
    n = 12_000
    since = np.maximum(np.arange(n) / 200.0 - 12.0, 0.0)
    on = np.arange(n) / 200.0 >= 12.0
    volts = 0.7 + on * (0.03 + 0.2 * np.exp(-since / 6.0))
    volts += np.random.default_rng(8).normal(0, 0.0005, n)
    found = analyse_key_on(plain_log(volts, 200.0, 12.0))
    assert np.isnan(found.tracks["a"].settling_s)
    assert any("settling not seen to its end" in s for s in log_sentences(found))


# --- supply and common cause -----------------------------------------------------------------

def test_one_key_on_tells_that_a_track_follows_but_not_how_surely() -> None:
    """A single sag of 5 % shows a ratiometric track; limits need a second key-on."""
    found = analyse_key_on(drive(Car(rate_hz=200.0, sag=0.05, cycles=1))[0]).tracks["a"]
    assert found.follows == "ratiometric"
    assert found.follow.value == pytest.approx(1.0, abs=0.05)
    assert np.isnan(found.follow.low)


def test_a_track_that_follows_by_half_follows_in_part() -> None:
    """Half of its volts come from the supply, half from elsewhere: told as partly."""
    n = 12_000
    time = np.arange(n) / 200.0
    on = time >= 15.0
    supply = 5.0 - 0.25 * on * (1.0 + 0.4 * np.sin(0.5 * np.pi * time))
    volts = 0.35 + 0.35 * supply / 5.0
    volts += np.random.default_rng(9).normal(0, 2e-4, n)
    found = analyse_key_on(plain_log(volts, 200.0, 15.0, supply))
    track = found.tracks["a"]
    assert track.follows == "partly"
    # d ln(track) / d ln(supply) = 0.35 s / (0.35 + 0.35 s) at s = 0.95.
    assert track.follow.value == pytest.approx(0.95 / 1.95, abs=0.03)
    assert any("follows it in part only" in s for s in log_sentences(found))
    assert "partly" in key_on_text(found)


def test_shifts_that_fit_two_causes_are_left_open() -> None:
    """Three key-ons, both tracks lifted a little: neither cause is against them."""
    a, b = np.array([0.005, 0.006, 0.0055]), np.array([0.0045, 0.001, 0.003])
    # By Student's t neither "both alike" nor "b stands still" can be ruled out (scipy.stats).
    assert stats.ttest_rel(a, b).pvalue > 0.05
    assert stats.ttest_1samp(b, 0.0).pvalue > 0.05
    nan = float("nan")
    facts = tuple(TrackFacts(n, 1.0, "", nan, nan) for n in "ab")
    found = common_mode(facts, {"a": a, "b": b}, {"a": 1e-4, "b": 1e-4}, nan, 0.95)
    assert found.kind == "cannot tell"
    assert "a ground offset" in common_text(found)
    assert "track a alone" in common_text(found)
    assert "log more key-ons" in common_text(found)
    # Ten key-ons alike decide it.
    rng = np.random.default_rng(10)
    sure = {n: 0.005 + rng.normal(0, 1e-4, 10) for n in "ab"}
    assert common_mode(facts, sure, {"a": 1e-4, "b": 1e-4}, nan, 0.95).kind == "ground offset"


def test_a_noisy_supply_with_bursts_is_no_lift() -> None:
    """Bursts while the key is on raise the noise told, and leave the shift where it was."""
    car = Car(rate_hz=200.0, ground_volts=0.02, cycles=3,
              noise=CarNoise(0.001, burst_per_minute=30.0, burst_volts=0.01))
    track = analyse_key_on(drive(car)[0]).tracks["a"]
    assert track.noise_after_volts > 1.3 * track.noise_before_volts
    assert track.shift.low < 0.02 < track.shift.high
