"""Points that do not belong: named, recognised, asked about, and never a pass."""

import json

import numpy as np
import pytest
from said import as_text
from simple_calibration import simple

from analysis.senders.calibration import (
    CANNOT_TELL,
    PASS,
    MeterSpec,
    enough_points,
    judge_as_calibrated,
    judge_as_found,
    outlying_points,
    points_from,
)
from analysis.senders.calibration.typing_slips import recognised
from bench.command_line import main

VOLTS = np.array([0.5, 1.0, 1.6, 2.2, 2.9, 3.4, 4.0, 4.6])
SPEC = MeterSpec(0.5, 2.0, 0.01)


def found(meter, volts=VOLTS, spec=SPEC):
    points = points_from(volts, meter, 0.001)
    return outlying_points(points, 20.0 * points.volts, 20.0 * points.volts_uncertainty, spec)


def true(volts=VOLTS):
    return np.round(20.0 * volts * 1.002 + 0.01, 2)


@pytest.mark.parametrize(("place", "typed", "slip"), [
    (3, 440.9, "decimal point"), (3, 4.409, "decimal point"), (4, 85.12, "digits exchanged"),
    (3, 45.09, "one digit"), (6, -80.17, "sign"), (7, 82.19, "one digit"),
    (3, 111.36, "Fahrenheit"), (0, 12.7, "")])
def test_a_point_that_does_not_belong_is_named_with_its_slip(place, typed, slip):
    """One wrong point of eight is named, and what the hand did is told where it shows.

    The true values are 20 V per volt; the slips are common practice, no source.
    """
    meter = true()
    meter[place] = typed
    (one,) = found(meter)
    assert one.places == (place,)
    assert one.slip == slip
    assert one.expected[0] == pytest.approx(20.04 * VOLTS[place], abs=one.half_width + 0.02)
    assert one.chance < 0.005
    said = as_text(one.reason([place + 1], "V"))
    assert said.startswith(f"point {place + 1}")
    # Alone at an end it may as well be the sender that bends there.
    assert ("does not belong" in said) == (place != 7 and place != 0)
    assert ("bends or sticks just there" in said) == (one.kind == "end")


def test_two_exchanged_points_are_named_together():
    """Two values typed the other way round are named as such, not as one wrong point."""
    meter = true()
    meter[[1, 5]] = meter[[5, 1]]
    (one,) = found(meter)
    assert (one.kind, one.places) == ("exchanged", (1, 5))


def test_leave_one_out_is_that_of_refitting():
    """What the others say of a point is the line of numpy's polyfit without that point."""
    meter = true()
    meter[2] += 5.0
    (one,) = found(meter, spec=MeterSpec(0.0, 3.0, 0.01))
    keep = np.arange(VOLTS.size) != 2
    slope, offset = np.polyfit(20.0 * VOLTS[keep], meter[keep], 1)
    assert one.expected[0] == pytest.approx(offset + slope * 20.0 * VOLTS[2], abs=1e-6)


@pytest.mark.parametrize("shape", [
    lambda v: 20.0 * v, lambda v: 20.0 * v + 0.4 * v * (5 - v),
    lambda v: 20.0 * v + 3.0 * np.maximum(0.0, v - 2.5)])
def test_sound_points_of_straight_bent_and_kinked_senders_are_not_accused(shape):
    """A sender that bends or has a kink is no mistake of the person's."""
    assert found(np.round(shape(VOLTS), 2)) == ()


def test_four_points_accuse_nobody():
    """With four points a line has too little to spare to tell which one is wrong."""
    meter = true(VOLTS[:4])
    meter[1] += 9.0
    assert found(meter, VOLTS[:4]) == ()


def test_a_slip_must_explain_what_was_typed():
    """A number that no slip turns into the expected one has no slip told."""
    assert recognised(51.3, 47.0, 0.2, 0.1) == ("", pytest.approx(float("nan"), nan_ok=True))
    assert recognised(902.7, 90.3, 0.5, 0.1) == ("decimal point", pytest.approx(90.27))


def test_a_curve_with_as_many_pieces_as_points_never_passes():
    """A table proves itself only by points visited again; until then nothing passes."""
    volts = np.linspace(0.3, 4.7, 9)
    meter = 5 * volts + 0.3 * np.sin(4.0 * volts)
    alone = simple(volts, meter, spec=MeterSpec(0.0, 0.0, 0.001))
    assert alone.curve.form == "table"
    verdict = judge_as_calibrated(alone, 100.0)
    assert verdict.result == CANNOT_TELL
    assert "as many pieces as points" in as_text(verdict)
    assert not enough_points(alone).enough
    again = simple(np.concatenate([volts, volts[::-1]]), np.concatenate([meter, meter[::-1]]),
                   spec=MeterSpec(0.0, 0.0, 0.001))
    assert judge_as_calibrated(again, 100.0).result == PASS


@pytest.mark.parametrize("count", [2, 3, 4])
def test_too_few_points_never_pass(count):
    """Fewer points than a line needs to be tested say "not enough", whatever they show."""
    volts = np.linspace(0.5, 4.5, count)
    calibration = simple(volts, 5.0 * volts)
    for judge in (judge_as_found, judge_as_calibrated):
        verdict = judge(calibration, 50.0)
        assert verdict.result == CANNOT_TELL
        assert f"not enough: {count} of at least 5 points" in as_text(verdict)


@pytest.mark.parametrize(("volts", "levels"), [
    ([0.5, 0.5, 0.5, 4.5, 4.5, 4.5], "2 levels"), ([1.0, 1.001, 1.002, 1.003, 1.004], "1 level")])
def test_many_readings_of_few_levels_never_pass(volts, levels):
    """A line through two levels is contradicted by nothing, however often they are read.

    Two points make a line; what it is between them no point tells (common practice, no source).
    """
    calibration = simple(np.array(volts), np.round(5.0 * np.array(volts), 2),
                         spec=MeterSpec(0.5, 2.0, 0.01))
    for judge in (judge_as_found, judge_as_calibrated):
        verdict = judge(calibration, 50.0)
        assert verdict.result == CANNOT_TELL
        assert f"points lie at {levels};" in as_text(verdict)


def test_one_level_read_again_does_not_prove_a_table():
    """Two readings more of one of its knots say nothing of the others."""
    volts = np.linspace(0.3, 4.7, 9)
    volts = np.concatenate([volts, volts[:1], volts[:1]])
    table = simple(volts, 5 * volts + 0.3 * np.sin(4.0 * volts), spec=MeterSpec(0, 0, 0.001))
    assert table.curve.form == "table"
    assert judge_as_calibrated(table, 100.0).result == CANNOT_TELL


def test_a_wrong_point_is_asked_about_before_it_counts(tmp_path, capsys):
    """The verdict is withheld until the point is left out or said to be right."""
    meter = true()
    meter[3] = 440.9
    file = tmp_path / "points.csv"
    file.write_text("reading,meter\n" + "".join(
        f"{v},{m}\n" for v, m in zip(20 * VOLTS / 20, meter, strict=True)))
    call = ["meter", "--from", str(file), "--meter-spec", "0.5% + 2 digits", "--resolution",
            "0.01", "--tolerance", "200", "--unit", "V", "--json"]
    assert main([*call, "--strict"]) == 1
    asked = json.loads(capsys.readouterr().out)
    assert {v["result"] for v in asked["verdicts"]} == {CANNOT_TELL}
    assert asked["diagnoses"][0]["name"] == "wrong point"
    assert not asked["enough_points"]["enough"]
    assert main([*call, "--leave-out", "4", "--strict"]) == 0
    left = json.loads(capsys.readouterr().out)
    assert {v["result"] for v in left["verdicts"]} == {PASS}
    assert any("left out as told: point 4 (440.9)" in note for note in left["notes"])
    main([*call, "--keep-point", "4"])
    kept = json.loads(capsys.readouterr().out)
    assert all(d["name"] != "wrong point" for d in kept["diagnoses"])
    assert main([*call, "--leave-out", "12"]) == 2
    assert "there are points 1 to 8" in capsys.readouterr().err


@pytest.mark.long
def test_bars_of_wrong_points_in_short():
    """Wrong points of seven kinds are named and sound lines are not accused, at large."""

    import wrong_points as bars

    for kind in bars.KINDS:
        results = [r for k in range(60) if (r := bars.named(kind, k)) is not None]
        assert np.mean(results) >= 0.95, kind
    assert not any(bars.accused("line", k) for k in range(60))


def test_an_end_that_alone_speaks_for_a_bend_is_asked_about():
    """Others on a line to their own noise, one end off: both meanings, whatever a kink explains.

    A lone point beyond a kink and a wrong end point are the same numbers; so the answer is no
    accusation (common practice, no source).
    """
    meter = np.round(20.0 * VOLTS + 3.0 * np.maximum(0.0, VOLTS - 4.0), 2)
    (one,) = found(meter)
    assert (one.kind, one.places) == ("end", (7,))
    twice = np.append(VOLTS, VOLTS[-1] + 0.01)
    assert found(np.append(meter, meter[-1] + 0.23), twice) == ()
