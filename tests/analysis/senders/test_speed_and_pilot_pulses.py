"""Speed and pilot from pulses made by scipy.signal.square, a general library."""

import numpy as np
import pytest
from said import as_text, refuses
from scipy.signal import square

from analysis.model.errors import BadParameter, NoCalibration
from analysis.senders import Pilot, Speed
from analysis.senders.speed import counted_level
from analysis.senders.tyre import tyre_of


def _pulses(hertz, duty, rate, seconds, low=0.0, high=5.0, seed=1):
    rng = np.random.default_rng(seed)
    t = np.arange(int(seconds * rate)) / rate
    up = square(2 * np.pi * (hertz * t + 0.13), duty) > 0
    return t, np.where(up, high, low) + rng.normal(0, 0.01, t.size)


@pytest.mark.parametrize(("size", "across"), [
    ("185/65R15", 621), ("195/65 R15 91T", 635), ("205/55R16", 632), ("P175/70R13", 576),
    ("225/45 ZR17", 634)])
def test_a_tyres_diameter_is_the_standards(size, across):
    """Overall diameters as in the standards' tables (ISO 4000-1, ETRTO; from memory)."""
    assert tyre_of(size).diameter_mm == across


@pytest.mark.parametrize("size", ["", "185", "185/65", "999/65R15", "round"])
def test_what_is_no_tyre_is_refused_with_an_example(size):
    """A size that cannot be read is told how it is written (the project's own promise)."""
    with refuses(BadParameter, "185/65R15"):
        tyre_of(size)


def test_speed_from_pulses_is_what_arithmetic_says():
    """By hand: 26.4 Hz / 4 = 6.6 turns/s = 396 rpm; 6.6 * 3.05 * 0.621 m * 3.6 = 45.0 km/h."""
    sender = Speed(pulses_per_turn=4, tyre="185/65R15")
    found = sender.seen(*_pulses(26.4, 0.4, 1000, 6))
    assert found[0].value == pytest.approx(6.6 * 3.05 * 0.621 * 3.6, rel=1e-4)
    assert "45 km/h" in as_text(found[0])
    assert "396 turns" in as_text(found[0])
    rpm = Speed(pulses_per_turn=4).seen(*_pulses(26.4, 0.4, 1000, 6))
    assert rpm[0].value == pytest.approx(396, rel=1e-4)


def test_slow_boards_and_changing_speeds_are_told_what_they_can_see():
    """Levels shorter than two readings, one level only, and a ramp: each its own reason, no number.

    Nyquist, and the two readings that a level needs to be seen at all: common practice, no source.
    """
    sender = Speed(pulses_per_turn=4)
    for t, v, words in (
            (*_pulses(73.0, 0.5, 200, 6), "up to 50 Hz"),
            (np.arange(0, 6, 0.005), np.full(1200, 2.5), "no pulses"),
            (*_pulses(1.0, 0.5, 200, 6), "only 2 pulses")):
        found = sender.seen(t, v)
        assert found[0].name == "open"
        assert words in as_text(found[0])
    t = np.arange(0, 6, 1e-3)
    ramp = 5.0 * (np.mod(np.cumsum(10 + 8 * t) * 1e-3, 1.0) < 0.5)
    assert "unevenly" in as_text(sender.seen(t, ramp)[0])


@pytest.mark.parametrize(("stated", "slope", "name"), [
    ({}, 1.01, "as stated"), ({}, 0.5, "other pulses"), ({}, 2.0, "other pulses"),
    ({"tyre": "185/65R15"}, 1.0 / 1.609344, "miles"),
    ({"tyre": "185/65R15"}, 1.12, "circumference"),
    ({"tyre": "185/65R15", "gear_ratio": 3.7}, 3.7, "gear"),
    ({"pulses_per_turn": 5.0, "tyre": "185/65R15"}, 0.625, "several causes"),
    ({"pulses_per_turn": 60.0}, 0.813, "unknown ratio"), ({}, -1.0, "no relation")])
def test_a_wrong_ratio_names_its_cause_or_all_that_fit(stated, slope, name):
    """A ratio is arithmetic; a mile is 1.609344 km (by definition); 5/8 is 0.625, near a mile's."""
    sender = Speed(**{"pulses_per_turn": 4.0, **stated})
    assert sender.against(slope, 0.001).name == name


def test_a_board_that_counts_is_read_over_its_wrap_and_not_over_a_restart():
    """120 a second counted in 16 bits: 120 within two uncertainties; a count that falls asks."""
    t = np.arange(0, 2.001, 0.02)
    count = np.floor(120.0 * t + 65400.3) % 65536
    level = counted_level(t, count, 65536)
    assert level.steady
    assert abs(level.mean - 120.0) < 2 * level.uncertainty
    with refuses(NoCalibration, "went back"):
        counted_level(t, count)


@pytest.mark.parametrize(("duty", "amps"), [
    (0.267, 16.0), (0.1667, 10.0), (0.5, 30.0), (0.9, 65.0)])
def test_a_fast_recording_offers_what_the_table_says(duty, amps):
    """SAE J1772 / IEC 61851-1 annex A: 0.6 A a percent to 85 %, then 2.5 A for each above 64."""
    sender = Pilot()
    ratio, lift = 1 + 100 / 39 + 100 / 68, 5 * 100 / 39
    t, volts = _pulses(1000.3, duty, 100_000, 0.3, -12.0, 6.0)
    offer, state = sender.seen(t, (volts + lift) / ratio)
    assert offer.name == "offer"
    assert amps - 0.4 < offer.value <= amps + 0.05
    assert state.name == "C (charging)"


def test_a_pilot_that_was_not_seen_whole_offers_nothing():
    """Too slow, another frequency, too near 10 and 8 %, a low level without a diode: all open.

    SAE J1772: 1000 Hz, -12 V; the vehicle's diode keeps the low level at -12 V.
    """
    sender = Pilot()
    ratio, lift = 1 + 100 / 39 + 100 / 68, 5 * 100 / 39

    def seen(hertz, duty, rate, seconds=0.3, low=-12.0):
        t, volts = _pulses(hertz, duty, rate, seconds, low, 9.0)
        return sender.seen(t, (volts + lift) / ratio)

    assert seen(1000.3, 0.3, 200, 5.0)[0].name == "open"
    assert "200 readings a second are too slow" in as_text(seen(1000.3, 0.3, 200, 5.0)[0])
    assert seen(1000.3, 0.05, 10_000)[0].name == "open"
    assert seen(400.0, 0.3, 50_000)[0].name == "no pilot"
    assert seen(1000.0, 0.0802, 20_000)[0].name == "open"
    assert seen(1000.0, 0.3, 50_000, low=-8.0)[2].name == "low level"
    steady = sender.seen(np.arange(0, 1, 1e-4), np.full(10_000, (9.0 + lift) / ratio))
    assert steady[0].value == 0.0
    assert steady[1].name == "B (vehicle present)"


def test_typed_duty_and_frequency_offer_or_do_not():
    """16 A at 26.7 % (the table); 50 Hz is no pilot; nothing typed says nothing."""
    assert Pilot(duty_percent=26.7, hertz=1000).typed()[0].value == pytest.approx(16.0, abs=0.05)
    assert Pilot(duty_percent=26.7, hertz=50).typed()[0].name == "no pilot"
    assert Pilot().typed() == ()
    said = Speed(pulses_per_turn=4, hertz=120, meter_shows=900).typed()
    assert said[0].value == pytest.approx(1800)
    assert said[1].name == "other pulses"
