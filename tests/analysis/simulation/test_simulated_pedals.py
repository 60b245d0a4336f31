"""The simulated pedals are what they say they are, checked without the analysis."""

import time

import numpy as np
import pytest
from random_pedals import BOARDS, RELATIONS, random_pedal

from analysis.model.errors import BadParameter
from analysis.model.recording import Recording
from analysis.simulation import (
    PEDALS,
    Converter,
    Dropout,
    FlatSpot,
    Motion,
    Pedal,
    Slip,
    StuckReturn,
    Supply,
    Track,
    WornSpot,
    carry_out,
    electrical_noise,
    pedal_named,
    simulate_sweep,
    true_mismatch,
)

STILL = Track(0.15, 0.85, return_scatter_volts=0.0, noise_volts=0.0)
STEADY = Supply(noise_volts=0.0)
CLEAN = Converter(16, 6.0, 1.0, 1.0, noise_steps=0.0)


def quiet(**changes: object) -> Pedal:
    """Return a pedal without noise or scatter, with the given faults."""
    values: dict[str, object] = {
        "tracks": (STILL, STILL), "return_scatter_percent": 0.0, "supply": STEADY} | changes
    return Pedal(**values)  # type: ignore[arg-type]


def volts(recording: Recording, column: str) -> np.ndarray:
    return recording.stated_volts(recording.channel(column))


@pytest.mark.parametrize("pedal", PEDALS, ids=lambda p: p.name)
def test_the_same_seed_gives_the_same_sweep_and_another_seed_another(pedal):
    first, again, other = (simulate_sweep(pedal, 100.0, seed=s) for s in (3, 3, 4))
    for one, two in zip(first.recording.channels, again.recording.channels, strict=True):
        np.testing.assert_array_equal(one.readings, two.readings)
    assert first.recording.marks == again.recording.marks
    a, b = first.recording.channels[0].readings, other.recording.channels[0].readings
    assert a.size != b.size or np.any(a != b)


def test_a_minute_at_a_thousand_rows_a_second_is_simulated_in_a_fraction_of_a_second():
    simulate_sweep(pedal_named("healthy"), 100.0)
    begun = time.perf_counter()
    made = simulate_sweep(pedal_named("healthy"), 1000.0)
    assert made.recording.rows > 60_000
    # 20 ms where this was written; wide of it, so that a busy machine does not fail the test.
    assert time.perf_counter() - begun < 0.5


def test_a_quiet_pedal_reads_its_rest_and_full_ratio_times_nominal_supply():
    made = simulate_sweep(quiet(supply=Supply(volts=4.8, noise_volts=0.0)), converter=CLEAN,
                          motion=Motion(peak_scatter_percent=0.0))
    step = 5.0 / 4.8 * 6.0 / 65536
    for column in "ab":
        read, truth = volts(made.recording, column), made.truth.tracks[column]
        # A potentiometer is ratiometric: 0.15 and 0.85 of 5 V, whatever the supply was.
        assert truth.rest_volts == pytest.approx(0.75)
        assert truth.full_volts == pytest.approx(4.25)
        assert read.min() == pytest.approx(0.75, abs=2 * step)
        assert read.max() == pytest.approx(4.25, abs=2 * step)


def test_an_ideal_converter_adds_the_quantisation_noise_of_the_standard():
    # Ideal quantisation noise = LSB/sqrt(12) (IEEE Std 1241).
    converter = Converter(10, 5.0, noise_steps=0.0)
    ramp = np.linspace(0.1, 4.9, 200_000)
    read = converter.read(ramp, 1.0, np.random.default_rng(0)) * 5.0 / 1024
    assert np.std(read - ramp) == pytest.approx(5.0 / 1024 / np.sqrt(12), rel=0.01)


def test_a_converter_stops_at_its_ends_and_never_gives_a_missing_code():
    converter = Converter(8, 5.0, noise_steps=0.0, missing_codes=(100, 101))
    read = converter.read(np.linspace(-1, 6, 5000), 1.0, np.random.default_rng(0))
    assert (read.min(), read.max()) == (0, 255)
    assert set(range(256)) - set(read.astype(int)) == {100, 101}


@pytest.mark.parametrize("colour", ["white", "smoothed", "1/f"])
def test_noise_has_the_rms_and_the_colour_asked_for(colour):
    rate, want = 1000.0, 0.002
    noise = electrical_noise(1 << 18, rate, want, colour, np.random.default_rng(5))
    assert np.std(noise) == pytest.approx(want, rel=0.05)
    density = np.abs(np.fft.rfft(noise)) ** 2
    hertz = np.fft.rfftfreq(noise.size, 1 / rate)

    def level(low, high):
        return density[(hertz >= low) & (hertz < high)].mean()

    # Power density per decade: flat for white; a tenth for 1/f (definition of the colours);
    # a first-order low pass of 3 ms is 3 dB down at 1/(2 pi 3 ms) = 53 Hz.
    if colour == "white":
        assert level(4, 6) / level(40, 60) == pytest.approx(1.0, rel=0.1)
    elif colour == "1/f":
        assert level(4, 6) / level(40, 60) == pytest.approx(10.0, rel=0.15)
    else:
        assert level(1, 5) / level(52, 54) == pytest.approx(2.0, rel=0.2)


@pytest.mark.parametrize("relation", RELATIONS)
@pytest.mark.parametrize("board", range(len(BOARDS)))
def test_a_random_pedal_has_the_relation_asked_for_and_stays_off_the_rails(relation, board):
    for seed in range(60):
        pedal, bench = random_pedal(np.random.default_rng(seed), relation, board)
        assert pedal.relation == relation
        assert bench.converter is BOARDS[board][0]
        for track in pedal.tracks:
            # Below 5 % or above 95 % of supply = open or short, common practice, no source.
            assert min(track.rest_ratio, track.full_ratio) > 0.045
            assert max(track.rest_ratio, track.full_ratio) < 0.965


def test_the_relation_follows_gain_and_offset_of_the_definition():
    # The definition of the findings' relation (the fixed faces, "Relation").
    for gain, offset, relation in [
        (1.0, 0.0, "same slope"), (1.09, 0.04, "same slope"),
        (0.92, 0.06, "same slope with offset"),
        (0.5, 0.1, "half slope"), (1.95, -0.1, "half slope"), (-1.0, 1.0, "opposed slopes"),
        (0.7, 0.0, "other"), (-0.5, 0.6, "other"),
    ]:
        second = Track(gain * 0.15 + offset, gain * 0.45 + offset)
        pedal = Pedal((Track(0.15, 0.45), second))
        assert (pedal.relation, pedal.gain) == (relation, pytest.approx(gain))
        assert pedal.offset_ratio == pytest.approx(offset)


def test_a_bend_is_the_mismatch_it_was_made_of():
    _, pressing, releasing = true_mismatch(quiet(tracks=(
        STILL, Track(0.15, 0.85, (0.0, 1.5)))))
    # 1.5 % * sin(2 pi travel): 1.5 % at a quarter and three quarters of travel, zero at the ends.
    assert np.abs(pressing).max() == pytest.approx(1.5, abs=0.001)
    assert pressing[[0, 500, 1000]] == pytest.approx([0, 0, 0], abs=1e-9)
    np.testing.assert_allclose(pressing, releasing, atol=1e-9)


def test_play_is_the_difference_between_pressing_and_releasing():
    # Hysteresis: largest difference between the ascending and the descending value at one
    # point (43 CFR 3175.135). The second track's own span shrinks by the play it loses.
    _, pressing, releasing = true_mismatch(quiet(play_percent=3.0))
    assert np.max(pressing - releasing) == pytest.approx(3.0 / 0.97, rel=0.01)
    assert np.abs(pressing + releasing)[200:800].mean() < 3.2


def test_the_truth_counts_presses_returns_and_lift_offs():
    made = simulate_sweep(quiet(), cycles=5, quick=3, seed=2)
    truth = made.truth
    assert (truth.presses, truth.quick_presses) == (8, 3)
    # One rest before the first press and one after each.
    assert truth.tracks["a"].rest_levels.size == 9
    assert truth.tracks["a"].full_levels.size == 8
    travel = truth.pedal_travel_percent
    ups = np.flatnonzero((travel[1:] > 50) & (travel[:-1] <= 50))
    assert ups.size == 8
    for part in truth.parts:
        rows = (made.recording.time_s > part.start_s) & (made.recording.time_s < part.end_s)
        if part.kind in ("rest", "hold"):
            assert np.ptp(travel[rows]) < 0.01


def test_a_quick_lift_off_falls_within_the_time_of_a_spring_and_a_sluggish_one_takes_as_told():
    for pedal, low, high in [(quiet(), 0.05, 0.25), (quiet(slow_return_s=1.6), 1.2, 1.7)]:
        made = simulate_sweep(pedal, cycles=1, quick=1, seed=1)
        fall = next(p for p in made.truth.parts if p.kind == "release" and p.quick)
        travel = made.truth.pedal_travel_percent
        after = made.recording.time_s >= fall.start_s
        down = made.recording.time_s[after][np.argmax(travel[after] < 1.0)]
        assert low < down - fall.start_s < high


def test_a_person_follows_the_prompts_late_by_about_the_time_told():
    rng = np.random.default_rng(0)
    course = carry_out(Motion(late_s=1.0, cycles=30, quick=0), 50.0, rng)
    late = [p.start_s - p.prompt_s for p in course.parts[1:]]
    assert np.mean(late) == pytest.approx(1.0, rel=0.1)
    assert min(late) >= 0.5
    assert max(late) <= 1.5


def test_faults_show_where_and_when_they_were_put_in():
    healthy = simulate_sweep(quiet(), 500.0, converter=CLEAN, seed=6)
    a = volts(healthy.recording, "a")

    twice = (Dropout(1, 0.03, 40.0), Dropout(0, 0.05, None, 2.0, "high"))
    dropped = simulate_sweep(quiet(dropouts=twice), 500.0, converter=CLEAN, seed=6)
    lost = dropped.truth.dropouts
    assert len(lost) == 1 + healthy.truth.presses
    for one in lost:
        rows = (dropped.recording.time_s >= one.start_s) & (
            dropped.recording.time_s <= one.end_s)
        assert rows.sum() == one.samples
        read = volts(dropped.recording, one.column)[rows]
        assert np.all(read < 0.1) if one.column == "b" else np.all(read > 4.9)

    worn = simulate_sweep(quiet(worn_spots=(WornSpot(1, 8.0, 4.0, 0.02),)), 500.0,
                          converter=CLEAN, seed=6)
    noise = volts(worn.recording, "b") - a
    travel = worn.truth.pedal_travel_percent
    assert np.std(noise[np.abs(travel - 8) < 0.5]) == pytest.approx(0.02, rel=0.25)
    assert np.std(noise[travel > 30]) < 0.001

    flat = simulate_sweep(quiet(flat_spots=(FlatSpot(0, 60.0, 4.0),)), 500.0, converter=CLEAN,
                          seed=6)
    stands = np.abs(travel - 60) < 1.9
    assert np.ptp(volts(flat.recording, "a")[stands]) < 0.001

    slipped = simulate_sweep(quiet(slips=(Slip(1, 30.0, 4.0),)), 500.0, converter=CLEAN, seed=6)
    shift = volts(slipped.recording, "b") - a
    assert shift[slipped.recording.time_s < 29.9].max() < 0.001
    assert np.median(shift[slipped.recording.time_s > 30.1]) == pytest.approx(0.04 * 3.5, abs=0.001)

    stuck = simulate_sweep(quiet(stuck_returns=(StuckReturn(2, 15.0),)), 500.0, seed=6)
    place = next(f for f in stuck.truth.faults if f.kind == "no return")
    during = (stuck.recording.time_s > place.time_s) & (stuck.recording.time_s < place.end_s)
    assert stuck.truth.pedal_travel_percent[during] == pytest.approx(15.0)


def test_a_sag_shows_in_the_supply_and_not_in_the_ratio():
    pedal = quiet(supply=Supply(noise_volts=0.0, sag_volts=0.6, sag_at_s=20.0, sag_seconds=10.0))
    made = simulate_sweep(pedal, converter=CLEAN, seed=6)
    plain = simulate_sweep(quiet(), converter=CLEAN, seed=6)
    supply = made.recording.supply_volts()
    assert supply is not None
    assert supply.min() == pytest.approx(4.4, abs=0.001)
    np.testing.assert_allclose(
        volts(made.recording, "a"), volts(plain.recording, "a"), atol=0.0005)


def test_lost_samples_leave_a_gap_mark_of_that_size_and_a_jump_in_time():
    pedal = quiet(gaps=((9.0, 20), (21.5, 100)))
    made = simulate_sweep(pedal, 100.0, seed=6)
    assert made.truth.lost_samples == made.recording.lost_samples == 120
    for mark in made.recording.marks:
        if mark.text.startswith("gap"):
            jump = made.recording.time_s[mark.row] - made.recording.time_s[mark.row - 1]
            assert jump * 100 - 1 == pytest.approx(int(mark.text.split()[1]))


def test_an_unknown_pedal_name_is_answered_with_the_known_ones():
    with pytest.raises(BadParameter, match="half-slope"):
        pedal_named("unheard-of")


def test_what_a_sweep_has_no_room_for_is_not_in_its_truth():
    # Lost for less than a sample, at a travel that no press reaches, and past the end.
    for never in (Dropout(0, 0.0005, at_s=10.002), Dropout(0, 0.050, 130.0),
                  Dropout(0, 0.050, at_s=1e4)):
        made = simulate_sweep(quiet(dropouts=(never,)), 100.0, seed=6)
        assert made.truth.dropouts == ()
        plain = simulate_sweep(quiet(), 100.0, seed=6)
        # Lost contact would be 0.7 V and more; the converter's noise is of a step, 1.2 mV.
        np.testing.assert_allclose(volts(made.recording, "a"), volts(plain.recording, "a"),
                                   atol=0.01)
    late = simulate_sweep(quiet(gaps=((1e4, 20),)), 100.0, seed=6)
    assert late.truth.lost_samples == late.recording.lost_samples == 0


def test_a_motion_may_end_with_its_last_return():
    ends = [carry_out(Motion(cycles=2, quick=0, last_rest_s=s), 100.0,
                      np.random.default_rng(1)).parts[-1] for s in (0.0, 1.0)]
    assert [p.kind for p in ends] == ["rest", "rest"]
    assert ends[1].end_s - ends[0].end_s == pytest.approx(1.0)


def test_unknown_noise_and_relations_are_answered_with_the_known_ones():
    rng = np.random.default_rng(1)
    with pytest.raises(BadParameter, match=r"unknown colour of noise .*'pink'"):
        electrical_noise(10, 100.0, 0.001, "pink", rng)
    with pytest.raises(ValueError, match="use one of same slope, half slope"):
        random_pedal(rng, relation="sideways")
