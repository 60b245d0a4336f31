"""The time column of a log -> seconds from its first row.

Numbers with a unit, numbers whose unit follows from what is plausible for a pedal's log, seconds
since 1970, days of a spreadsheet, times of day (also past midnight), dates with times.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadCall, BadFile
from bench.files.imports.cells import clean, is_clock, is_missing, numbers
from bench.files.imports.questions import ImportQuestion, ImportRefusal

Array = NDArray[np.float64]

SECONDS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "min": 60.0, "h": 3600.0, "days": 86400.0}
SPELLINGS = {
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
    "ms": "ms", "msec": "ms", "msecs": "ms", "millis": "ms", "millisecond": "ms",
    "milliseconds": "ms", "us": "us", "µs": "us", "μs": "us", "usec": "us", "micros": "us",
    "microsecond": "us", "microseconds": "us", "min": "min", "minutes": "min", "h": "h",
    "hours": "h", "days": "days", "d": "days",
}
# A log of a pedal has 5 to 20 000 rows a second and lasts one second to a day; common practice,
# no source.
FEWEST_HZ, MOST_HZ = 5.0, 20_000.0
SHORTEST_S, LONGEST_S = 1.0, 86_400.0
# A 32-bit counter of milli- or microseconds starts again after so many.
ROLLOVER = 2.0 ** 32

_CLOCK = re.compile(
    r"(?:(?P<date>[0-9]{1,4}[-./][0-9]{1,2}[-./][0-9]{1,4})[T ,;]*\s*)?"
    r"(?P<h>[0-9]{1,3}):(?P<m>[0-9]{2})(?::(?P<s>[0-9]{1,2})(?:[.,:](?P<f>[0-9]{1,9}))?)?"
    r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<zone>Z|[+-][0-9]{2}:?[0-9]{2})?")


@dataclass(frozen=True)
class Times:
    """Hold the times of a log.

    seconds: shape (n,), from the first row, NaN where the cell was missing. unit: what the
    numbers were taken for. started: ISO 8601 when the log gives a date, else "". notes: what was
    assumed, one sentence each.
    """

    seconds: Array
    unit: str
    started: str
    notes: tuple[str, ...]


def unit_in_name(name: str, among: dict[str, str]) -> str | None:
    """Return the unit a column's name ends in, such as "Time (ms)", "t [s]", "time_us"."""
    # A unit is short: only the end of a long heading is looked at.
    name = name.strip()[-64:]
    match = re.search(r"[(\[{]\s*([^()\[\]{}]+?)\s*[)\]}]$", name)
    if match:
        return among.get(match[1].lower())
    match = re.search(r"(?:^|[\s_/,-])([a-zA-Zµμ]+)\s*$", name)
    word = match[1].lower() if match else ""
    # The whole name may be the unit, but "s" and "d" alone are too little to go by... except as
    # the second word of a name.
    return among.get(word) if word != name.strip().lower() or len(word) > 1 else None


def read_times(cells: Sequence[str], name: str, unit_row: str, decimal: str,
               unit: str | None = None) -> Times:
    """Return the times in a column; raise BadCall naming --time-unit or --rate where it must ask.

    Raises BadFile when the times run backwards in a way that no midnight or counter explains.
    """
    if unit is not None and unit not in SECONDS:
        raise BadCall(f"--time-unit {unit!r} is not known; use {', '.join(SECONDS)}")
    filled = [c for c in cells if not is_missing(c)]
    if filled and sum(map(is_clock, filled[:200])) > 0.5 * len(filled[:200]):
        return _clock(cells)
    values, bad = numbers(list(cells), decimal)
    if len(bad) > 0.01 * len(values):
        raise ImportRefusal("column no time", name=name, cell=cells[bad[0]].strip())
    raw = np.array(values)
    told = unit or unit_in_name(name, SPELLINGS) or SPELLINGS.get(
        re.sub(r"[()\[\]{}\s]", "", unit_row).lower())
    epoch = _epoch(raw)
    notes: list[str] = []
    if told is None:
        told, note = _guessed(raw, epoch, name)
        notes.append(note)
    raw, more = _unrolled(raw, told)
    notes += more
    seen = raw[np.isfinite(raw)]
    zero = float(seen[0]) if seen.size else 0.0
    # Differences first: 1.7e9 s since 1970 in a double leave 0.2 us, times 1e-3 leave less.
    return Times((raw - zero) * SECONDS[told], told,
                 _started(raw, zero, told, epoch) if seen.size else "", tuple(notes))


def _guessed(raw: Array, epoch: str | None, name: str) -> tuple[str, str]:
    """Return the unit of times that nobody told, and a note on it; raise BadCall if open."""
    if epoch is not None:
        return epoch, f"Time is taken as {epoch} since 1970."
    if _is_workbook_days(raw):
        return "days", "Time is taken as days of a spreadsheet."
    unit = _plausible(raw, name)
    return unit, f"Time has no unit; {unit} is the only one plausible for a pedal's log."


def _started(raw: Array, zero: float, unit: str, epoch: str | None) -> str:
    """Return when the first row was taken, ISO 8601, where its number says it; else ""."""
    if unit == "days" and _is_workbook_days(raw):
        return (datetime(1899, 12, 30) + timedelta(days=zero)).isoformat(timespec="seconds")
    if epoch is not None and unit == epoch:
        return datetime.fromtimestamp(zero * SECONDS[unit], UTC).isoformat(timespec="seconds")
    return ""


def _epoch(raw: Array) -> str | None:
    seen = raw[np.isfinite(raw)]
    if not seen.size:
        return None
    for unit, factor in (("s", 1.0), ("ms", 1e3), ("us", 1e6)):
        # From 2001 to 2065, all of them.
        if 1e9 * factor <= seen.min() and seen.max() <= 3e9 * factor:
            return unit
    return None


def _is_workbook_days(raw: Array) -> bool:
    seen = raw[np.isfinite(raw)]
    return bool(seen.size > 1 and seen.min() > 25_569 and seen.max() < 80_000
                and 0 < np.ptp(seen) < 1.0 and np.median(np.diff(seen)) < 1e-5)


def _plausible(raw: Array, name: str) -> str:
    seen = raw[np.isfinite(raw)]
    if seen.size < 2:
        raise BadCall(f"column {name!r} has {seen.size} times; a log needs at least 2")
    step = float(np.ptp(seen)) / (seen.size - 1)
    fitting = [
        unit for unit in ("s", "ms", "us")
        if step > 0 and FEWEST_HZ <= 1.0 / (step * SECONDS[unit]) <= MOST_HZ
        and SHORTEST_S <= float(np.ptp(seen)) * SECONDS[unit] <= LONGEST_S]
    whole = bool(np.all(seen == np.round(seen)))
    if whole and abs(step - 1.0) < 1e-6:
        raise ImportQuestion("time counts rows", name=name)
    if len(fitting) != 1:
        which = " and ".join(fitting) if fitting else "none of s, ms and us"
        raise ImportQuestion("time without unit", name=name, which=which, step=step)
    return fitting[0]


def _unrolled(raw: Array, unit: str) -> tuple[Array, list[str]]:
    """Undo a 32-bit counter that started again; refuse any other way back."""
    seen = np.flatnonzero(np.isfinite(raw))
    steps = np.diff(raw[seen])
    back = np.flatnonzero(steps < 0)
    if not back.size:
        return raw, []
    if unit in ("ms", "us") and np.all(steps[back] < -0.99 * ROLLOVER):
        turns = np.zeros(raw.size)
        turns[seen[back + 1]] = 1.0
        return raw + ROLLOVER * np.cumsum(turns), [
            f"The counter of {unit} started again {back.size} times; the times were joined."]
    raise Backwards(int(seen[back[0] + 1]))


class Backwards(Exception):
    """Time runs backwards at this row; the caller knows the line in the file."""

    def __init__(self, row: int) -> None:
        super().__init__(row)
        self.row = row


def _clock(cells: Sequence[str]) -> Times:
    order, sure = _date_order([c for c in cells if is_clock(c)])
    seconds, first_date, zone = _clock_seconds(cells, order)
    notes = [] if sure or first_date is None else [
        "The date may be day/month or month/day; the day was taken to stand first."]
    seen = np.flatnonzero(np.isfinite(seconds))
    if seen.size < 0.99 * sum(not is_missing(c) for c in cells):
        odd = next(c for c, s in zip(cells, seconds, strict=True)
                   if np.isnan(s) and not is_missing(c))
        raise BadFile(f"time {odd.strip()!r} cannot be read; write times as 12:34:56.789 or as "
                      "seconds")
    steps = np.diff(seconds[seen])
    back = np.flatnonzero(steps < 0)
    if back.size and first_date is None and np.all(steps[back] < -43_200.0):
        turns = np.zeros(seconds.size)
        turns[seen[back + 1]] = 1.0
        seconds = seconds + 86_400.0 * np.cumsum(turns)
        notes.append(f"The log passes midnight {back.size} times; the days were joined.")
    elif back.size:
        raise Backwards(int(seen[back[0] + 1]))
    zero = float(seconds[seen[0]]) if seen.size else 0.0
    started = "" if first_date is None else _stamp(first_date + timedelta(seconds=zero), zone)
    return Times(np.round(seconds - zero, 9), "time of day", started, tuple(notes))


def _clock_seconds(cells: Sequence[str], order: str) -> tuple[Array, datetime | None, str]:
    """Return seconds since the first date's midnight, NaN where none is told; date and zone."""
    seconds = np.full(len(cells), np.nan)
    first_date: datetime | None = None
    zone = ""
    for row, cell in enumerate(cells):
        match = _CLOCK.fullmatch(clean(cell).strip("'"))
        if match is None:
            continue
        hours = int(match["h"])
        half = (match["half"] or "").lower()
        if half:
            hours = hours % 12 + (12 if half.startswith("p") else 0)
        fraction = match["f"]
        value = (hours * 3600.0 + int(match["m"]) * 60.0 + float(match["s"] or 0)
                 + (int(fraction) / 10.0 ** len(fraction) if fraction else 0.0))
        if match["date"]:
            day = _date(match["date"], order)
            if first_date is None:
                first_date, zone = day, match["zone"] or ""
            value += (day - first_date).days * 86_400.0
        seconds[row] = value
    return seconds, first_date, zone


def _stamp(moment: datetime, zone: str) -> str:
    sign = "+00:00" if zone == "Z" else zone
    if len(sign) == 5:
        sign = f"{sign[:3]}:{sign[3:]}"
    return moment.isoformat(timespec="milliseconds") + sign


def _date_order(cells: Sequence[str]) -> tuple[str, bool]:
    """Return "ymd", "dmy" or "mdy", and whether that is sure.

    The day exceeds 12, or is the part that changes; points part a date day first.
    """
    seen = []
    for cell in (*cells[:1], *cells[-1:]):
        match = _CLOCK.fullmatch(clean(cell))
        if match and match["date"]:
            seen.append(re.split(r"[-./]", match["date"]))
            if len(seen[-1][0]) == 4:
                return "ymd", True
            if "." in match["date"]:
                return "dmy", True
    if any(int(parts[1]) > 12 for parts in seen):
        return "mdy", True
    if any(int(parts[0]) > 12 for parts in seen):
        return "dmy", True
    changes = [a != b for a, b in zip(*seen, strict=True)] if len(seen) == 2 else [False] * 3
    if changes[0] != changes[1]:
        return ("mdy" if changes[1] else "dmy"), True
    return "dmy", False


def _date(text: str, order: str) -> datetime:
    parts = [int(p) for p in re.split(r"[-./]", text)]
    year, month, day = (parts[order.index(letter)] for letter in "ymd")
    try:
        return datetime(year + (2000 if year < 100 else 0), month, day)
    except ValueError:
        raise BadFile(f"date {text!r} is no date; write it as 2026-05-02") from None
