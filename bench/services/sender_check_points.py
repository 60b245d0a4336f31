"""Points of a check against a meter: what was asked, and what a file or a recording holds."""

import csv
import datetime
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analysis.model.errors import NoCalibration
from analysis.model.finding import Reason, Value
from analysis.model.recording import MOST, Channel, Recording
from analysis.senders import Sender
from analysis.senders.calibration import (
    MeterSpec,
    Points,
    parse_meter_spec,
    points_from,
    resolution_of,
)
from bench.errors import BadCall, BadFile
from bench.files.calibration_store import (
    pin_volts,
)
from bench.files.exports.export_document import file_sha256
from bench.files.read_limited import check_ordinary, read_whole
from bench.files.recording_file import read_recording

WINDOW_S = 2.0
UNDO = "undo"
_MARK = re.compile(r"meter\s+(\S+)(?:\s+.*)?\Z", re.IGNORECASE)
_MOST_BYTES = 10_000_000
# A calibration works on the matrix of all its points; nobody takes a thousand by hand.
_MOST_POINTS = 1000
_READING_NAMES = ("reading", "volts", "hertz", "v", "counts", "x", "shown", "channel")
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
    notes: tuple[Reason, ...] = ()


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
    notes: list[Reason] = []
    typed = []
    for k, (row, text, value) in enumerate(marks):
        if after:
            last = rows[k + 1] if k + 1 < len(rows) else recording.rows
            stop = int(np.searchsorted(recording.time_s, recording.time_s[row] + options.window_s))
            window = slice(row, min(last, stop))
        else:
            first = rows[k - 1] + 1 if k else 0
            begin = int(np.searchsorted(recording.time_s, recording.time_s[row] - options.window_s))
            window = slice(max(first, begin), row + 1)
        where: dict[str, Value] = {"point": k + 1, "meter": text,
                                   "time_s": float(recording.time_s[row])}
        try:
            steady = options.sender.level(recording.time_s[window], volts[window], step)
        except NoCalibration as error:
            notes.append(Reason("point left out", {**where, "why": error.reason}))
            continue
        if not steady.steady:
            notes.append(Reason("point not steady", {
                **where, "why": steady.told(options.sender.input_unit)}))
            continue
        kept.append((steady.mean, value, steady.uncertainty))
        typed.append(text)
    if len(kept) < 2:
        raise NoCalibration("too few usable points", usable=len(kept), points=len(marks),
                            why=tuple(notes))
    points = points_from(*(list(column) for column in zip(*kept, strict=True)))
    return Taken(points, tuple(typed), channel.column, recording.started or _now(),
                 recording.board_name, notes=tuple(notes))


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
    _refuse_split_decimals(file, rows[skip:], delimiter, len(rows[0]) if skip else 0)
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


def _refuse_split_decimals(file: Path, rows: list[list[str]], delimiter: str, named: int) -> None:
    """Raise BadFile where a decimal comma may have parted a number in two.

    named: how many columns the header names, 0 without one. A third column without a header is the
    uncertainty of the reading, which is no whole number where the meter's value is none either.
    """
    if delimiter != ",":
        return
    most = named or 3
    split = next((row for row in rows if len(row) > most), None)
    if split is None and not named and rows and all(
            len(row) == 3 and all(cell.strip().isdigit() for cell in row[1:]) for row in rows):
        split = rows[0]
    if split is not None:
        raise BadFile(f"{file}: {','.join(split)!r} may hold a decimal comma between commas; part "
                      "the columns by semicolons, or write 'reading,meter' above them and decimal "
                      "points")


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
