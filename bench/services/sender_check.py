"""Check a channel against a meter: points in, calibration, diagnosis and verdict out.

Where the points come from is in sender_check_points.py.
"""

from pathlib import Path

import numpy as np

from analysis.model.errors import AnalysisError, NoCalibration
from analysis.senders import Sender
from analysis.senders.calibration import (
    PASS,
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
from bench.services.sender_check_asked import ASK, asked, counted, doubted, numbers_of
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
from bench.wording.reasons import in_words
from bench.wording.refusals import refused

__all__ = [
    "UNDO", "WINDOW_S", "MeterResult", "SenderCheckOptions", "Taken", "calibrate_taken",
    "calibration_json", "calibration_text", "channel_of", "is_recording", "keep", "meter_marks",
    "points_of_recording", "take_points",
]

FAHRENHEIT = "Fahrenheit"
OTHER_SCALE = "not enough: the points are in degrees Fahrenheit; give them in Celsius first"
METER_UNKNOWN = ("what the meter itself may be wrong by is not stated; state its limits as on its "
                 "leaflet")


def calibrate_taken(taken: Taken, options: SenderCheckOptions,
                    folder: str | Path | None = None) -> MeterResult:
    """Return the calibration of taken points; `folder`: where older ones are compared from."""
    sender, meter = options.sender, options.meter(taken.typed)
    notes = list(taken.notes)
    if not options.meter_resolution:
        notes.append(f"the meter's resolution was taken as {meter.resolution:g} from the values "
                     "typed; state it if it is another")
    if not options.meter_limits:
        notes.append("nothing is known of the meter's limits, so it was taken for exact but for "
                     "its rounding; state them as on its leaflet")
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
        notes.append(f"the stated values were not checked: {refused(error)}")
    tolerance = _tolerance(options, points)
    verdicts: tuple[Verdict, ...] = ()
    if tolerance is not None:
        verdicts = (judge_as_found(found, tolerance, sender.quantity),
                    judge_as_calibrated(found, tolerance))
        if not options.meter_limits:
            # A pass against a meter that may be wrong by anything is none.
            verdicts = tuple(asked_first(v, METER_UNKNOWN) if v.result == PASS else v
                             for v in verdicts)
    enough = enough_points(found, options.low, options.high, tolerance)
    odd = outlying_points(points, x, x_uncertainty, meter, unit, sender.forms, numbers)
    doubts = asked(odd, numbers, options.confirmed)
    if doubts:
        diagnoses = (*doubts, *diagnoses)
        verdicts = tuple(asked_first(v, in_words(doubts[0].text)) for v in verdicts)
        enough = Enough(False, ASK)
    other_scale = [d for d in diagnoses if d.name == FAHRENHEIT]
    if other_scale and not doubts:
        # The curve fits as well in degrees of the other scale: that is no pass.
        verdicts = tuple(asked_first(v, in_words(other_scale[0].text)) for v in verdicts)
        enough = Enough(False, OTHER_SCALE)
    if sender.input_unit == "V" and np.max(points.volts) > sender.pin_limit_volts:
        notes.append(f"{np.max(points.volts):.3g} V was read at the input, whose limit is "
                     f"{sender.pin_limit_volts:g} V")
    change, since = _change(stored, folder, notes)
    return MeterResult(
        stored, diagnoses, verdicts, enough, change, since,
        sender.cautions(), (*sender.notes(), *notes), doubted(odd, numbers, options.confirmed))


def keep(folder: str | Path, result: MeterResult) -> Path:
    """Store the calibration with its channel, by name and date; return the new file."""
    return save(folder, result.stored)


def _shown(points: Points, sender: Sender, notes: list[str]) -> tuple[Points, np.ndarray,
                                                                    np.ndarray]:
    """Return the points of which the sender's law can make something, and what it makes."""
    x = sender.shown(points.volts)
    good = np.isfinite(x)
    if np.sum(good) < 2 and points.count >= 2:
        hint = sender.hint(points.volts, points.meter) or "check the stated values and the wiring"
        raise NoCalibration(f"{points.volts[~good][0]:.3g} {sender.input_unit} at the input is "
                            "no value of the "
                            f"{sender.kind} as stated: {hint}")
    if not good.all():
        bad = ", ".join(f"{v:.3g} {sender.input_unit}" for v in points.volts[~good])
        notes.append(f"{int(np.sum(~good))} points left out: {bad} at the input is no value of a "
                     f"{sender.kind}")
        points = Points(points.volts[good], points.volts_uncertainty[good], points.meter[good],
                        points.way[good])
        x = x[good]
    return points, x, sender.shown_uncertainty(points.volts, points.volts_uncertainty)


def _change(stored: StoredCalibration, folder: str | Path | None,
            notes: list[str]) -> tuple[Change | None, str]:
    if folder is None:
        return None, ""
    older = [s for s in history(folder, stored.channel) if s.date != stored.date]
    if not older:
        return None, ""
    try:
        return compare(older[-1], stored), older[-1].date
    except (AnalysisError, BadCall) as error:
        notes.append(f"not compared with the calibration of {older[-1].date}: {refused(error)}")
        return None, ""


def _tolerance(options: SenderCheckOptions, points: Points) -> float | None:
    if options.tolerance is None or not options.tolerance_percent:
        return options.tolerance
    low = np.min(points.meter) if options.low is None else options.low
    high = np.max(points.meter) if options.high is None else options.high
    return float(options.tolerance / 100.0 * (high - low))
