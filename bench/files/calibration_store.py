"""Calibrations kept with the channel they belong to: one JSON file each, by name and date.

Rules: a file is written once and never changed; a new calibration stands beside the old ones.
Raw recordings are never touched: a calibration is applied to a copy in memory. The curve is
kept as it was fitted, so a later version of the program shows the same numbers. A file that was
changed is refused: by its check sum, and because its curve must pass its points as they say.
"""

import datetime
import hashlib
import json
import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from analysis.model.errors import AnalysisError
from analysis.model.finding import Reason
from analysis.model.recording import Array, Channel, Recording
from analysis.senders import Diagnosis, Sender, make_sender
from analysis.senders.calibration import (
    FAIL,
    Calibration,
    Change,
    Curve,
    Enough,
    MeterSpec,
    Points,
    Prediction,
    Verdict,
    change_since,
    spread,
)
from analysis.senders.calibration.curve import fit_curve
from analysis.senders.resistive import Resistive
from bench.errors import BadCall, BadFile
from bench.files.new_file import put_new
from bench.files.read_limited import read_whole
from bench.wording.reasons import in_words
from bench.wording.refusals import refused
from bench.wording.senders import equation
from bench.wording.senders.verdict import meter_text

SCHEMA_VERSION = 1
# What a sender's readings are called: a speed is read as a frequency.
READ_AS = {"V": "volts", "Hz": "hertz"}
KIND = "channel calibration"
# Some thousand points; ours have some ten.
_MOST_BYTES = 10_000_000
_SUM = "sha256"
# What a curve computed on another machine may differ by, as a share of the largest value.
_SAME = 1e-9
_UNSAFE = re.compile(r"[^A-Za-z0-9_-]+")


@dataclass(frozen=True)
class StoredCalibration:
    """Hold a calibration with what it belongs to.

    date: ISO 8601 with offset, when the last point was taken. source: the file of the points,
    source_sha256: its check sum, "" when typed. path: where it is stored, None if it is not.
    """

    channel: str
    date: str
    sender: Sender
    calibration: Calibration
    board: str = ""
    source: str = ""
    source_sha256: str = ""
    note: str = ""
    made_by: str = ""
    path: Path | None = None

    def predict_volts(self, volts: float, with_meter: bool = True) -> Prediction:
        """Return the quantity at volts at the board's input."""
        x = float(self.sender.shown(np.array([volts]))[0])
        return self.calibration.predict(x, with_meter=with_meter)


@dataclass(frozen=True)
class MeterResult:
    """Hold everything a calibration led to.

    cautions: their codes. doubted: numbers (from 1) of the points that the person is asked about,
    () for none.
    """

    stored: StoredCalibration
    diagnoses: tuple[Diagnosis, ...]
    verdicts: tuple[Verdict, ...]
    enough: Enough
    change: Change | None
    changed_since: str
    cautions: tuple[str, ...]
    notes: tuple[Reason, ...]
    doubted: tuple[int, ...] = ()

    @property
    def failed(self) -> bool:
        """Return whether a verdict is fail."""
        return any(v.result == FAIL for v in self.verdicts)


def save(folder: str | Path, stored: StoredCalibration) -> Path:
    """Write the calibration into the folder, which is made if need be; return the new file."""
    place = Path(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadFile(f"cannot make the folder {place} ({error.strerror or error}); choose "
                      "another --store") from None
    moment = _moment(stored.date, "the calibration")
    stem = f"{_UNSAFE.sub('_', stored.channel) or 'channel'}-{moment:%Y%m%dT%H%M%S}"
    path = place / f"{stem}.json"
    document = calibration_object(stored)
    document[_SUM] = check_sum(document)
    text = json.dumps(document, indent=1, ensure_ascii=False) + "\n"
    try:
        # No *.json while it is written: another program may look through the folder.
        return put_new(path, lambda part: part.write_bytes(text.encode()), True, ".part")
    except OSError as error:
        raise BadFile(f"cannot write {path} ({error.strerror or error}); choose another --store"
                      ) from None


def load(path: str | Path) -> StoredCalibration:
    """Return a stored calibration; raise BadFile with what is wrong with it."""
    data = read_whole(path, _MOST_BYTES)
    try:
        document = json.loads(data.decode("utf-8"))
        if not isinstance(document, dict) or document.get("kind") != KIND:
            raise BadFile(f"{path} is no calibration; give a file that 'stillpedal meter' stored")
        if document.get("schema") != SCHEMA_VERSION:
            raise BadFile(f"{path}: calibration schema {document.get('schema')!r} is not known "
                          f"(known: {SCHEMA_VERSION}); update this program")
        if _SUM in document and document[_SUM] != check_sum(document):
            raise BadFile(f"{path} was changed after it was stored (its check sum is "
                          f"{check_sum(document)[:8]}..., it says {document[_SUM]!s:.8}...); use "
                          "another copy, or calibrate again")
        with np.errstate(all="ignore"):  # numbers beyond reason are refused, not warned of
            stored = _stored(document, Path(path))
            _hold_together(document, stored)
        return stored
    except (LookupError, TypeError, ValueError, ArithmeticError, AttributeError, RecursionError,
            AnalysisError) as error:
        raise BadFile(f"{path} is damaged ({refused(error)}); use another copy") from None


def history(folder: str | Path, channel: str) -> tuple[StoredCalibration, ...]:
    """Return all calibrations of a channel, the oldest first; other files are passed over."""
    place = Path(folder)
    if not place.is_dir():
        return ()
    found = []
    for path in sorted(place.glob("*.json")):
        try:
            stored = load(path)
        except BadFile:
            if path.name.startswith(f"{_UNSAFE.sub('_', channel)}-"):
                raise
            continue
        if stored.channel == channel:
            found.append(stored)
    # Of one second, the file with the longer name (-2, -10) came later.
    return tuple(sorted(found, key=lambda s: (
        _moment(s.date, str(s.path)), len(str(s.path)), str(s.path))))


def valid_at(folder: str | Path, channel: str, date: str) -> StoredCalibration:
    """Return the channel's last calibration made at or before `date` (ISO 8601).

    Raises BadCall when there is none: a reading is not valued by a later calibration unasked.
    """
    known = history(folder, channel)
    moment = _moment(date, "the recording")
    before = [s for s in known if _moment(s.date, str(s.path)) <= moment]
    if before:
        return before[-1]
    when = f"; the first was made {known[0].date}" if known else ""
    raise BadCall(f"no calibration of channel {channel!r} by {date} in {folder}{when}; calibrate "
                  "it with 'stillpedal meter', or name one with --calibration")


def apply(stored: StoredCalibration, recording: Recording) -> tuple[Array, Array]:
    """Return the quantity and its standard uncertainty for every row, both (n,).

    The recording is not changed. NaN where the reading is missing or outside a table.
    """
    return stored.calibration.quantities(_shown(stored, recording))


def outside_share(stored: StoredCalibration, recording: Recording) -> float:
    """Return the share of rows, 0 to 1, that lie outside the calibrated range."""
    x = _shown(stored, recording)
    known = x[np.isfinite(x)]
    room = 0.02 * (stored.calibration.high - stored.calibration.low)
    if not known.size:
        return 0.0
    return float(np.mean((known < stored.calibration.low - room)
                         | (known > stored.calibration.high + room)))


def _shown(stored: StoredCalibration, recording: Recording) -> Array:
    volts = pin_volts(recording, recording.channel(stored.channel), stored.sender)
    return stored.sender.shown(stored.sender.by_row(recording.time_s, volts))


def pin_volts(recording: Recording, channel: Channel, sender: Sender) -> Array:
    """Return volts at the board's input, shape (n,), at the sender's stated supply.

    The readings as they came where the sender's channel holds no volts (`reads_volts`).

    A resistive sender fed from a recorded supply is a ratio of it, so the supply's own
    wandering is taken out.
    """
    if not sender.reads_volts:
        return channel.readings
    volts = channel.readings * channel.pin_volts_per_reading
    supply = recording.supply_volts()
    if supply is None or not isinstance(sender, Resistive) or channel.role == "supply":
        return volts
    result: Array = np.full(volts.shape, np.nan)
    np.divide(volts * sender.supply_volts, supply, out=result,
              where=supply > 0.1 * sender.supply_volts)
    return result


def compare(before: StoredCalibration, after: StoredCalibration) -> Change:
    """Return how far the channel moved between two calibrations, over the range of both.

    With the same meter its own scale and zero error are in both and drop out.
    """
    if before.calibration.unit != after.calibration.unit:
        raise BadCall(f"one calibration is in {before.calibration.unit}, the other in "
                      f"{after.calibration.unit}; compare calibrations of the same quantity")
    same = before.calibration.meter == after.calibration.meter and bool(
        after.calibration.meter.name)
    volts = [s.calibration.points.volts for s in (before, after)]
    low = max(float(np.min(v)) for v in volts)
    high = min(float(np.max(v)) for v in volts)
    return change_since(lambda v: before.predict_volts(v, not same),
                        lambda v: after.predict_volts(v, not same), low, high,
                        after.calibration.unit)


def calibration_object(stored: StoredCalibration) -> dict[str, Any]:
    """Return the calibration as plain dicts, lists, numbers and texts (docs/senders.md)."""
    found = stored.calibration
    curve, points = found.curve, found.points
    seen = found.spread
    read_as = READ_AS[stored.sender.input_unit]
    result = {
        "schema": SCHEMA_VERSION, "kind": KIND, "channel": stored.channel, "date": stored.date,
        "made_by": stored.made_by, "board": stored.board, "source": stored.source,
        "source_sha256": stored.source_sha256, "note": stored.note,
        "meter": {"name": found.meter.name, "percent_of_reading": found.meter.percent,
                  "absolute": found.meter.absolute,
                  "digits": found.meter.digits, "resolution": found.meter.resolution,
                  "text": meter_text(found.meter)},
        "sender": {"kind": stored.sender.kind, "equation": equation(stored.sender.kind),
                   "stated": {k: plain(v) for k, v in stored.sender.stated().items()}},
        "unit": found.unit, "x_unit": found.x_unit,
        "range": {"low": found.low, "high": found.high},
        "points": [
            {read_as: float(v), f"{read_as}_uncertainty": float(u), "shown": float(x),
             "shown_uncertainty": float(xu), "meter": float(m),
             "run": "up" if w > 0 else "down", "residual": float(r)}
            for v, u, x, xu, m, w, r in zip(
                points.volts, points.volts_uncertainty, found.x, found.x_uncertainty,
                points.meter, points.way, found.residuals, strict=True)],
        "curve": {
            "form": curve.form, "coefficients": curve.coefficients.tolist(),
            "uncertainties": np.sqrt(np.diagonal(found.full_covariance())).tolist(),
            "covariance": found.full_covariance().tolist(),
            "covariance_between_points": curve.covariance.tolist(),
            "chi_squared": curve.chi_squared, "chi_limit": curve.chi_limit,
            "freedom": curve.freedom, "from_scatter": curve.from_scatter,
            "degree": curve.degree, "centre": curve.centre, "scale": curve.scale,
            "scatter": curve.scatter, "shift": curve.shift, "knots_x": curve.knots_x.tolist(),
            "knots_y": curve.knots_y.tolist(), "knots_u": curve.knots_u.tolist()},
        "reason": in_words(found.reason),
        "tried": [{"form": f"{form} of degree {degree}" if form == "polynomial" else form,
                   "chi_squared": chi, "chi_limit": most}
                  for form, degree, chi, most in found.tried],
        "hysteresis": {"value": seen.hysteresis, "percent_of_span": seen.hysteresis_percent,
                       "at": seen.hysteresis_at, "pairs": seen.pairs},
        "repeatability": {"value": seen.repeatability,
                          "percent_of_span": seen.repeatability_percent},
    }
    document: dict[str, Any] = plain(result)
    return document


def check_sum(document: dict[str, Any]) -> str:
    """Return the SHA-256 of a calibration's content, however its file is laid out."""
    content = {k: v for k, v in document.items() if k != _SUM}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _hold_together(document: dict[str, Any], stored: StoredCalibration) -> None:
    """Raise BadFile when the curve does not leave its points the residuals that are written.

    Files of before there was a check sum have nothing else; so their curve is fitted again too.
    """
    found, path = stored.calibration, stored.path
    unknown = document.keys() - calibration_object(stored).keys() - {_SUM}
    if unknown:
        raise BadFile(f"{path} was changed: it holds {min(unknown)!r}; use another copy")
    points = found.points
    y = np.abs(points.meter).max()
    odd = np.abs(points.meter - found.curve.value(found.x) - found.residuals) > _SAME * y
    odd |= np.abs(stored.sender.shown(points.volts) - found.x) > _SAME * np.abs(found.x).max()
    if _SUM not in document:
        again = fit_curve(found.curve.form, found.x, points.meter, found.x_uncertainty,
                          np.full(points.count, found.meter.rounding_uncertainty),
                          found.curve.degree)
        odd |= np.abs(again.value(found.x) - found.curve.value(found.x)) > 1e-6 * y
    # A damaged number may be NaN, which compares with nothing.
    if odd.any() or not np.isfinite(found.residuals).all():
        raise BadFile(f"{path} was changed: its curve does not pass point "
                      f"{int(np.argmax(odd)) + 1} as it says; use another copy, or calibrate "
                      "again")


def _stored(document: dict[str, Any], path: Path) -> StoredCalibration:
    rows = document["points"]

    def column(name: str) -> Array:
        return np.array([row[name] for row in rows], dtype=float)

    stated = {k: _unplain(v) for k, v in document["sender"]["stated"].items()}
    sender = make_sender(str(document["sender"]["kind"]), stated)
    read_as = READ_AS[sender.input_unit]
    if rows and read_as not in rows[0]:
        read_as = "volts"  # a speed's file of before
    points = Points(column(read_as), column(f"{read_as}_uncertainty"), column("meter"),
                    np.array([1.0 if row["run"] == "up" else -1.0 for row in rows]))
    kept = document["curve"]
    size = len(kept["coefficients"])
    curve = Curve(
        str(kept["form"]), np.array(kept["coefficients"], dtype=float),
        np.array(kept["covariance_between_points"], dtype=float).reshape(size, size),
        _number(kept["chi_squared"]), _number(kept["chi_limit"]), int(kept["freedom"]),
        bool(kept["from_scatter"]), int(kept["degree"]), float(kept["centre"]),
        float(kept["scale"]), float(kept["scatter"]), float(kept.get("shift", 0.0)),
        *(np.array(kept[k], dtype=float) for k in ("knots_x", "knots_y", "knots_u")))
    spec = document["meter"]
    meter = MeterSpec(float(spec["percent_of_reading"]), float(spec["digits"]),
                      float(spec["resolution"]), str(spec["name"]),
                      float(spec.get("absolute", 0.0)))
    x = column("shown")
    found = Calibration(
        points, x, column("shown_uncertainty"), str(document["x_unit"]), str(document["unit"]),
        meter, curve, str(document["reason"]),
        tuple((str(t["form"]), 1, _number(t["chi_squared"]), _number(t["chi_limit"]))
              for t in document["tried"]),
        column("residual"), spread(points, curve.value(x)))
    date = str(document["date"])
    _moment(date, str(path))
    return StoredCalibration(
        str(document["channel"]), date, sender, found, str(document["board"]),
        str(document["source"]), str(document["source_sha256"]), str(document["note"]),
        str(document["made_by"]), path)


def plain(value: Any) -> Any:
    """Return the value for JSON: NaN becomes null, endless becomes the text "inf"."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None if math.isnan(value) else "inf"
    return value


def _unplain(value: Any) -> Any:
    return math.inf if value == "inf" else value


def _number(value: Any) -> float:
    return math.nan if value is None else float(_unplain(value))


def _moment(date: str, whose: str) -> datetime.datetime:
    try:
        moment = datetime.datetime.fromisoformat(date)
    except ValueError:
        raise BadCall(f"the date of {whose} is {date!r}; write it as 2026-05-02T09:14:03+02:00"
                      ) from None
    # A time without an offset is taken for this machine's.
    return moment.astimezone() if moment.tzinfo is None else moment
