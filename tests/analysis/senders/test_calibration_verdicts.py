"""Verdicts on a calibration, advice on its points, and what moved since the last one."""

import numpy as np
from said import as_text, refuses
from simple_calibration import simple

from analysis.model.errors import BadParameter
from analysis.senders.calibration import (
    MeterSpec,
    change_since,
    enough_points,
    judge_as_calibrated,
    judge_as_found,
)


def test_verdicts_count_the_uncertainty():
    """Clearly inside passes, clearly outside fails, and in between it cannot be told."""
    # JCGM 106:2012, 8.3: guarded acceptance and guarded rejection.
    volts = np.linspace(0.3, 4.5, 9)
    found = simple(volts, np.round(5 * volts * 1.01, 2))  # off by 0.22 V at the top, +-0.12 V
    assert judge_as_found(found, 1.0).result == "pass"
    assert judge_as_found(found, 0.25).result == "cannot tell"
    fail = judge_as_found(found, 0.05)
    assert fail.result == "fail"
    assert "off by" in as_text(fail)
    assert judge_as_calibrated(found, 0.25).result == "pass"
    assert judge_as_calibrated(found, 0.05).result == "cannot tell"
    with refuses(BadParameter, "above 0"):
        judge_as_found(found, 0.0)


def test_the_verdict_and_the_advice_on_points_name_the_same_way_out():
    """When more points will not help, nothing that is told promises it; and the other way.

    A meter of 1 % counts once for all points (JCGM 101:2008), scatter shrinks with their number.
    """
    volts = np.linspace(-0.0, 4.5, 9)
    poor = simple(volts, np.round(5 * volts, 2), spec=MeterSpec(1.0, 1.0, 0.01))
    advice = enough_points(poor, tolerance=0.2)
    assert "more points will not help, a better meter would" in as_text(advice)
    unsure = judge_as_calibrated(poor, 0.2)
    assert unsure.result == "cannot tell"
    assert as_text(unsure).endswith("; a better meter would tell")
    rough = 5 * volts + 0.2 * np.random.default_rng(3).standard_normal(9)
    scattered = simple(volts, rough, spec=MeterSpec(0.0, 0.0, 0.01))
    for judge in (judge_as_found, judge_as_calibrated):
        # As much allowed as is seen, so that the interval reaches over the limit.
        seen = judge(scattered, 100.0)
        verdict = judge(scattered, abs(seen.deviation) + 0.5 * seen.half_width)
        assert verdict.result == "cannot tell"
        assert as_text(verdict).endswith("; more points would tell")
    # A table went through every point: more of them at the same values would prove it.
    again = as_text(enough_points(scattered, tolerance=0.2))
    assert "take at least 2 of the 9 points again" in again


def test_nothing_is_told_to_begin_at_minus_nothing():
    volts = np.linspace(0.0, 4.5, 9)
    shown = 5 * volts
    shown[0] = -0.0
    assert "points over 0 to" in as_text(enough_points(simple(volts, shown)))


def test_enough_points_says_what_to_do_next():
    """Too few, a missing end, or a meter that is too poor: each is said."""
    volts = np.array([0.5, 2.0, 4.0])
    few = enough_points(simple(volts, np.round(5 * volts, 2)), 0, 25)
    assert not few.enough
    assert "high end" in as_text(few)
    middle = enough_points(simple(volts, np.round(5 * volts, 2)))
    assert "3 of at least 5" in as_text(middle)
    volts = np.linspace(0.1, 4.9, 9)
    good = simple(volts, np.round(5 * volts, 2))
    assert enough_points(good, 0, 25, 2.0).enough
    poor = enough_points(good, 0, 25, 0.15)
    assert poor.enough
    assert "better meter" in as_text(poor)


def test_change_between_calibrations():
    """A moved gain is seen, the same one is not, and the same meter's error drops out."""
    volts = np.linspace(0.3, 4.5, 9)
    spec = MeterSpec(1.0, 0, 0.001, "bench meter")
    old = simple(volts, np.round(5 * volts, 3), spec=spec)
    new = simple(volts, np.round(5.02 * volts, 3), spec=spec)

    def of(found, with_meter):
        return lambda v: found.predict(5 * v, with_meter=with_meter)

    assert change_since(of(old, False), of(new, False), 0.3, 4.5, "V").real
    assert not change_since(of(old, True), of(new, True), 0.3, 4.5, "V").real
    assert not change_since(of(old, False), of(old, False), 0.3, 4.5, "V").real
