"""Check a channel against a meter: points in, calibration, diagnosis and verdict out.

Where the points come from is in sender_check_points.py.
"""

from pathlib import Path

import numpy as np

from analysis.model.errors import AnalysisError, NoCalibration
from analysis.model.finding import Reason
from analysis.senders import Sender
from analysis.senders.calibration import (
    PASS,
    Calibration,
    Change,
    Enough,
    Points,
    Verdict,
    asked_first,
    calibrate,
    enough_points,
    judge_as_calibrated,
    judge_as_found,
    outlying_points,
)
from analysis.senders.sender import NO_RELATION, Diagnosis
from bench.errors import BadCall
from bench.files.calibration_store import (
    MeterResult,
    StoredCalibration,
    compare,
    history,
    save,
)
from bench.files.exports.calibration import calibration_json
from bench.files.exports.calibration_text import calibration_text
from bench.services.sender_check_asked import asked, counted, doubted, numbers_of
from bench.services.sender_check_points import (
    UNDO,
    WINDOW_S,
    SenderCheckOptions,
    Taken,
    channel_of,
    is_recording,
    meter_marks,
    points_of_recording,
    take_points,
)
from bench.version import version

__all__ = [
    "UNDO", "WINDOW_S", "MeterResult", "SenderCheckOptions", "Taken", "calibrate_taken",
    "calibration_json", "calibration_text", "channel_of", "is_recording", "keep", "meter_marks",
    "points_of_recording", "take_points",
]

FAHRENHEIT = "Fahrenheit"


def calibrate_taken(taken: Taken, options: SenderCheckOptions,
                    folder: str | Path | None = None) -> MeterResult:
    """Return the calibration of taken points; `folder`: where older ones are compared from."""
    sender, meter = options.sender, options.meter(taken.typed)
    notes = list(taken.notes)
    if not options.meter_resolution:
        notes.append(Reason("resolution from the typed values", {"resolution": meter.resolution}))
    if not options.meter_limits:
        notes.append(Reason("meter taken for exact"))
    points = counted(taken.points, options.left_out, options.confirmed, notes)
    numbers = numbers_of(taken.points, options.left_out, sender)
    points, x, x_uncertainty = _shown(points, sender, notes)
    unit = options.unit or sender.unit
    x_unit = unit if sender.shown_unit == sender.unit else sender.shown_unit
    found = calibrate(points, x, x_uncertainty, meter, unit, x_unit, sender.forms)
    stored = StoredCalibration(
        options.channel or taken.channel, taken.date, sender, found, taken.board, taken.source,
        taken.source_sha256, options.note, f"Stillpedal {version()}")
    diagnoses = sender.faults(taken.points.volts)
    try:
        diagnoses += sender.diagnose(found)
    except AnalysisError as error:
        notes.append(Reason("stated values not checked", {"why": error.reason}))
    tolerance = _tolerance(options, points)
    verdicts = () if tolerance is None else _judged(found, tolerance, options)
    enough = enough_points(found, options.low, options.high, tolerance)
    odd = outlying_points(points, x, x_uncertainty, meter, sender.forms)
    doubts = asked(odd, numbers, unit, options.confirmed)
    if doubts:
        diagnoses = (*doubts, *diagnoses)
        verdicts = tuple(asked_first(v, doubts[0].reason) for v in verdicts)
        enough = Enough(False, Reason("look at the doubted point first"))
    else:
        verdicts, enough = _as_diagnosed(verdicts, enough, diagnoses)
    if sender.input_unit == "V" and np.max(points.volts) > sender.pin_limit_volts:
        notes.append(Reason("read beyond the input's limit", {
            "volts": float(np.max(points.volts)), "limit_volts": sender.pin_limit_volts}))
    change, since = _change(stored, folder, notes)
    return MeterResult(
        stored, diagnoses, verdicts, enough, change, since,
        sender.cautions(), (*sender.notes(), *notes), doubted(odd, numbers, options.confirmed))


def _judged(found: Calibration, tolerance: float,
            options: SenderCheckOptions) -> tuple[Verdict, ...]:
    """Return the verdicts as found and as calibrated."""
    verdicts = (judge_as_found(found, tolerance, options.sender.quantity),
                judge_as_calibrated(found, tolerance))
    # A pass against a meter that may be wrong by anything is none.
    return verdicts if options.meter_limits else _no_pass(
        verdicts, Reason("limits of the meter not stated"))


def _no_pass(verdicts: tuple[Verdict, ...], why: Reason) -> tuple[Verdict, ...]:
    return tuple(asked_first(v, why) if v.result == PASS else v for v in verdicts)


def _as_diagnosed(verdicts: tuple[Verdict, ...], enough: Enough,
                  diagnoses: tuple[Diagnosis, ...]) -> tuple[tuple[Verdict, ...], Enough]:
    """Return verdicts, and whether the points are enough, with what the diagnoses take from them.
    """
    why = {d.name: d.reason for d in reversed(diagnoses)}
    if FAHRENHEIT in why:
        # The curve fits as well in degrees of the other scale: that is no pass.
        verdicts = tuple(asked_first(v, why[FAHRENHEIT]) for v in verdicts)
        enough = Enough(False, Reason("points in degrees Fahrenheit"))
    if NO_RELATION in why:
        # A curve that turns back fits any points, such as those of a meter that shows no sign.
        verdicts = _no_pass(verdicts, why[NO_RELATION])
    return verdicts, enough


def keep(folder: str | Path, result: MeterResult) -> Path:
    """Store the calibration with its channel, by name and date; return the new file."""
    return save(folder, result.stored)


def _shown(points: Points, sender: Sender,
           notes: list[Reason]) -> tuple[Points, np.ndarray, np.ndarray]:
    """Return the points of which the sender's law can make something, and what it makes."""
    x = sender.shown(points.volts)
    good = np.isfinite(x)
    if np.sum(good) < 2 and points.count >= 2:
        hint = sender.hint(points.volts, points.meter) or Reason("check values and wiring")
        raise NoCalibration("points are no values of the sender", volts=float(
            points.volts[~good][0]), unit=sender.input_unit, kind=sender.kind, hint=hint)
    if not good.all():
        notes.append(Reason("points without a value left out", {
            "volts": tuple(map(float, points.volts[~good])), "unit": sender.input_unit,
            "kind": sender.kind}))
        points = Points(points.volts[good], points.volts_uncertainty[good], points.meter[good],
                        points.way[good])
        x = x[good]
    return points, x, sender.shown_uncertainty(points.volts, points.volts_uncertainty)


def _change(stored: StoredCalibration, folder: str | Path | None,
            notes: list[Reason]) -> tuple[Change | None, str]:
    if folder is None:
        return None, ""
    older = [s for s in history(folder, stored.channel) if s.date != stored.date]
    if not older:
        return None, ""
    try:
        return compare(older[-1], stored), older[-1].date
    except (AnalysisError, BadCall) as error:
        why = error.reason if isinstance(error, AnalysisError) else str(error)
        notes.append(Reason("not compared with an older calibration", {
            "date": older[-1].date, "why": why}))
        return None, ""


def _tolerance(options: SenderCheckOptions, points: Points) -> float | None:
    if options.tolerance is None or not options.tolerance_percent:
        return options.tolerance
    low = np.min(points.meter) if options.low is None else options.low
    high = np.max(points.meter) if options.high is None else options.high
    return float(options.tolerance / 100.0 * (high - low))
