"""Calibrate a channel against a meter: points in, curve, intervals and verdict out.

Method and formulas: docs/method_senders.md.
"""

from analysis.senders.calibration.calibrate import USUAL_FORMS, Calibration, Prediction, calibrate
from analysis.senders.calibration.coverage import half_width
from analysis.senders.calibration.curve import Curve, fit_curve
from analysis.senders.calibration.meter_spec import MeterSpec, parse_meter_spec, resolution_of
from analysis.senders.calibration.outlying_points import Outlier, outlying_points, without
from analysis.senders.calibration.points import Points, Spread, points_from, spread
from analysis.senders.calibration.steady import Steady, average, independent_readings
from analysis.senders.calibration.verdict import (
    CANNOT_TELL,
    FAIL,
    PASS,
    Change,
    Enough,
    Verdict,
    asked_first,
    change_since,
    enough_points,
    judge_as_calibrated,
    judge_as_found,
)

__all__ = [
    "CANNOT_TELL", "FAIL", "PASS", "USUAL_FORMS", "Calibration", "Change", "Curve", "Enough",
    "MeterSpec", "Outlier", "Points", "Prediction", "Spread", "Steady", "Verdict",
    "asked_first", "average", "calibrate", "change_since", "enough_points", "fit_curve",
    "half_width", "independent_readings",
    "judge_as_calibrated", "judge_as_found", "outlying_points", "parse_meter_spec", "points_from",
    "resolution_of",
    "spread", "without",
]
