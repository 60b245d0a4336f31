"""Check a channel against a meter: points in, calibration, diagnosis and verdict out."""

import csv
import datetime
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analysis.model.errors import AnalysisError, NoCalibration
from analysis.model.recording import MOST, Channel, Recording
from analysis.senders import Sender
from analysis.senders.calibration import (
    PASS,
    Change,
    Enough,
    MeterSpec,
    Points,
    Verdict,
    asked_first,
    calibrate,
    enough_points,
    judge_as_calibrated,
    judge_as_found,
    outlying_points,
    parse_meter_spec,
    points_from,
    resolution_of,
)
from bench.errors import BadCall, BadFile
from bench.files.calibration_store import (
    MeterResult,
    StoredCalibration,
    compare,
    history,
    pin_volts,
    save,
)
from bench.files.exports.calibration import calibration_json
from bench.files.exports.calibration_text import calibration_text
from bench.files.exports.export_document import file_sha256
from bench.files.read_limited import check_ordinary, read_whole
from bench.files.recording_file import read_recording
from bench.services.sender_check_asked import ASK, asked, counted, doubted, numbers_of
from bench.version import version
from bench.wording.reasons import in_words
from bench.wording.refusals import refused

__all__ = [
    "MeterResult", "SenderCheckOptions", "Taken", "calibrate_taken", "calibration_json",
    "calibration_text", "keep", "points_of_recording", "take_points",
]

WINDOW_S = 2.0
UNDO = "undo"
_MARK = re.compile(r"meter\s+(\S+)(?:\s+.*)?\Z", re.IGNORECASE)
_MOST_BYTES = 10_000_000
# A calibration works on the matrix of all its points; nobody takes a thousand by hand.
_MOST_POINTS = 1000
_READING_NAMES = ("reading", "volts", "v", "counts", "x", "shown", "channel")
METER_UNKNOWN = ("what the meter itself may be wrong by is not stated; state its limits as on its "
                 "leaflet")
_METER_NAMES = ("meter", "reference", "true", "y", "quantity")
_UNCERTAINTY_NAMES = ("uncertainty", "u", "reading_uncertainty", "noise")


@dataclass(frozen=True)
class SenderCheckOptions:
    """Hold what the user asked for.

    meter_limits: from the leaflet, such as "0.5% + 2 digits"; "" takes the meter for exact.
    meter_resolution: one step of its last place; 0: from the values as they were typed.
    channel: name; "" takes the only one there is. low, high: range of the quantity to be
    covered. tolerance: in the unit, or in % of the span when tolerance_percent. window_s:
    averaged for each point. unit: of the quantity, where the kind leaves it open.
    left_out: numbers (from 1) of points that do not count; confirmed: of those that were looked
    at again and count although they stand out.
    """

    sender: Sender
    meter_limits: str = ""
    meter_resolution: float = 0.0
    meter_name: str = ""
    channel: str = ""
    low: float | None = None
    high: float | None = None
    tolerance: float | None = None
    tolerance_percent: bool = False
    window_s: float = WINDOW_S
    unit: str = ""
    full_scale: float | None = None
    reference_volts: float | None = None
    note: str = ""
    pin_limit_stated: bool = False
    left_out: tuple[int, ...] = ()
    confirmed: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if not 0.05 <= self.window_s <= 600:
            raise BadCall(f"a window of {self.window_s:g} s; give 0.05 to 600")
        self.meter(())

    def meter(self, typed: Sequence[str]) -> MeterSpec:
        """Return the meter's limits; `typed`: its values as text, for the resolution."""
        resolution = self.meter_resolution or resolution_of(list(typed))
        if not self.meter_limits:
            return MeterSpec(0.0, 0.0, resolution, self.meter_name)
        return parse_meter_spec(self.meter_limits, resolution, self.meter_name)


@dataclass(frozen=True)
class Taken:
    """Hold points as they were taken, where from, and what was said on the way.

    typed: the meter's values as text, for the resolution they show.
    """

    points: Points
    typed: tuple[str, ...]
    channel: str
    date: str
    board: str = ""
    source: str = ""
    source_sha256: str = ""
    notes: tuple[str, ...] = ()


def take_points(path: str | Path, options: SenderCheckOptions) -> Taken:
    """Return the points of a file: a recording with `meter VALUE` marks, or a CSV of points."""
    file = Path(path)
    if is_recording(file):
        taken = points_of_recording(read_recording(file), options)
        return replace(taken, source=file.name, source_sha256=file_sha256(file))
    return _points_of_csv(file, options)


def is_recording(file: Path) -> bool:
    """Return whether a file begins as a recording; raise BadFile when it cannot be read."""
    check_ordinary(file)
    try:
        with file.open("rb") as opened:
            start = opened.read(64)
    except OSError as error:
        raise BadFile(f"cannot read {file}: {error.strerror or error}") from None
    return start.lstrip(b"\xef\xbb\xbf").startswith(b"# stillpedal_recording")


def meter_marks(recording: Recording) -> list[tuple[int, str, float]]:
    """Return row, text and value of every mark `meter VALUE` that was not taken back."""
    marks: list[tuple[int, str, float]] = []
    for mark in recording.marks:
        match = _MARK.match(mark.text.strip())
        if match is not None and match[1] == UNDO:
            marks = marks[:-1]
        elif match is not None:
            marks.append((mark.row, match[1], _meter_value(match[1], mark.text)))
    return marks


def points_of_recording(recording: Recording, options: SenderCheckOptions) -> Taken:
    """Return one point for every mark `meter VALUE`: the mean of the channel before the mark.

    A mark `meter undo` takes the point before it back. When the very first mark has nothing
    before it, each mark is taken to stand at the start of its point, and what follows is
    averaged. A point at which the channel drifts is left out and named in the notes.
    """
    channel = channel_of(recording, options)
    marks = meter_marks(recording)
    if not marks:
        raise BadFile("the recording has no mark 'meter VALUE', so nothing says what the meter "
                      "showed; write one at each point")
    volts = pin_volts(recording, channel, options.sender)
    step = channel.pin_volts_per_reading if channel.unit == "counts" else 0.0
    rows = [row for row, _, _ in marks]
    after = int(np.searchsorted(recording.time_s, recording.time_s[rows[0]])) < 8
    kept: list[tuple[float, float, float]] = []
    notes, typed = [], []
    for k, (row, text, value) in enumerate(marks):
        if after:
            last = rows[k + 1] if k + 1 < len(rows) else recording.rows
            stop = int(np.searchsorted(recording.time_s, recording.time_s[row] + options.window_s))
            window = slice(row, min(last, stop))
        else:
            first = rows[k - 1] + 1 if k else 0
            begin = int(np.searchsorted(recording.time_s, recording.time_s[row] - options.window_s))
            window = slice(max(first, begin), row + 1)
        where = f"point {k + 1} (meter {text}, at {recording.time_s[row]:.1f} s)"
        try:
            steady = options.sender.level(recording.time_s[window], volts[window], step)
        except NoCalibration as error:
            notes.append(f"{where} left out: {refused(error)}")
            continue
        if not steady.steady:
            notes.append(f"{where} left out: it {steady.text(options.sender.input_unit)}")
            continue
        kept.append((steady.mean, value, steady.uncertainty))
        typed.append(text)
    if len(kept) < 2:
        raise NoCalibration(f"{len(kept)} usable points of {len(marks)}: " + "; ".join(notes))
    points = points_from(*(list(column) for column in zip(*kept, strict=True)))
    return Taken(points, tuple(typed), channel.column, recording.started or _now(),
                 recording.board_name, notes=tuple(notes))


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


def channel_of(recording: Recording, options: SenderCheckOptions) -> Channel:
    """Return the channel that is asked for, or the only one that is no supply; raise BadCall."""
    if options.channel:
        return recording.channel(options.channel)
    usable = [c for c in recording.channels if c.role != "supply"] or list(recording.channels)
    if len(usable) > 1:
        raise BadCall(f"the recording has channels {', '.join(c.column for c in usable)}; say "
                      "which with --channel")
    return usable[0]


def _meter_value(text: str, whole: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadFile(f"the mark {whole!r} holds no number; write 'meter 12.34'")
    return value


def _points_of_csv(file: Path, options: SenderCheckOptions) -> Taken:
    rows, delimiter = _rows_of_csv(file)
    reading, meter, uncertainty, skip = _columns(rows[0])
    values: list[tuple[float, float, float]] = []
    typed = []
    for number, row in enumerate(rows[skip:], start=skip + 1):
        try:
            cells = [cell.strip().replace(",", ".") if delimiter != "," else cell.strip()
                     for cell in row]
            value = (float(cells[reading]), float(cells[meter]),
                     0.0 if uncertainty is None else float(cells[uncertainty]))
            if not all(abs(v) <= MOST for v in value) or value[2] < 0:
                raise ValueError
        except (ValueError, IndexError):
            raise BadFile(f"{file}: line {number} of the points, {delimiter.join(row)!r}, has no "
                          "reading and meter value; write two numbers") from None
        values.append(value)
        typed.append(cells[meter])
    if not values:
        raise BadFile(f"{file} has a header but no point; add a line for each point")
    counted = rows[0][reading].strip().lower() == "counts" if skip else False
    per = _volts_per_reading(file, options, counted)
    # Of a count nothing more is known than that it was rounded; a mean would be better than this.
    floor = 0.0 if per is None or uncertainty is not None else per / math.sqrt(12.0)
    per = 1.0 if per is None else per
    volts, shown, errors = (np.array(column) for column in zip(*values, strict=True))
    points = points_from(volts * per, shown, np.hypot(errors * per, floor))
    date = datetime.datetime.fromtimestamp(file.stat().st_mtime).astimezone()
    return Taken(points, tuple(typed), options.channel or file.stem,
                 date.isoformat(timespec="seconds"), "", file.name, file_sha256(file))


def _rows_of_csv(file: Path) -> tuple[list[list[str]], str]:
    """Return the cells of every line that is no comment, and what parts them."""
    try:
        text = read_whole(file, _MOST_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadFile(f"cannot read {file} as text: {error}") from None
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if not lines:
        raise BadFile(f"{file} is empty; it needs a line 'reading,meter' and the points below it")
    delimiter = next((sign for sign in ("\t", ";", ",") if sign in lines[0]), ",")
    try:
        rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter))
    except csv.Error as error:
        raise BadFile(f"{file} is no list of points ({error}); write two numbers on each line"
                      ) from None
    if len(rows) > _MOST_POINTS:
        raise BadFile(f"{file} has {len(rows)} points; at most {_MOST_POINTS} are taken, so give "
                      "the mean of each level")
    return rows, delimiter


def _volts_per_reading(file: Path, options: SenderCheckOptions, counted: bool) -> float | None:
    """Return the volts of one count, or None where the readings are volts already."""
    if options.full_scale is None and not counted:
        return None
    if options.full_scale is None or options.reference_volts is None:
        raise BadCall(f"the readings in {file} are counts; add --full-scale (1024 for 10 "
                      "bits) and --reference-volts")
    return options.reference_volts / options.full_scale


def _columns(first: list[str]) -> tuple[int, int, int | None, int]:
    """Return the places of reading, meter and uncertainty, and how many header lines there are."""
    names = [cell.strip().lower() for cell in first]
    try:
        [float(name.replace(",", ".")) for name in names]
        return 0, 1, 2 if len(names) > 2 else None, 0
    except ValueError:
        pass

    def place(known: tuple[str, ...], otherwise: int | None) -> int | None:
        return next((names.index(n) for n in known if n in names), otherwise)

    reading, meter = place(_READING_NAMES, 0), place(_METER_NAMES, 1)
    if reading == meter:
        raise BadFile(f"the header {','.join(first)!r} does not say which column is the meter's; "
                      "write 'reading,meter'")
    assert reading is not None
    assert meter is not None
    return reading, meter, place(_UNCERTAINTY_NAMES, None), 1


def _now() -> str:
    return datetime.datetime.now().astimezone().isoformat(timespec="seconds")
