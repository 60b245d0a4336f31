"""A table with one row for each reading of each channel -> one row for each time."""

import math
import re
from collections.abc import Callable
from dataclasses import replace

from bench.errors import BadFile
from bench.files.imports.cells import is_clock, is_missing, is_number
from bench.files.imports.table import Table
from bench.files.imports.times import SPELLINGS, unit_in_name

_CHANNEL = re.compile(
    r"(channel|signal|variable|sensor|name|parameter|tag|quantity|measurement|kanal)"
    r"([\s_]?(name|id))?", re.IGNORECASE)
_VALUE = re.compile(r"(value|reading|val|wert|data|measure)([\s_(\[].*)?", re.IGNORECASE)
_UNIT = re.compile(r"units?|einheit", re.IGNORECASE)
_TIME = re.compile(r"(time|t|timestamp|date|datetime|elapsed|zeit)([\s_(\[].*)?", re.IGNORECASE)
# More names than this are remarks, not channels.
_MOST_CHANNELS = 32
_LEAST_ROWS = 4


def widened(table: Table) -> tuple[Table, str]:
    """Return the table turned, with a note; unchanged, with "", when it is not in long format.

    Raises BadFile when a channel has two readings at one time.
    """
    places = _places(table)
    if places is None:
        return table, ""
    time, channel, value, unit = places
    names: dict[str, int] = {}
    units: dict[str, str] = {}
    at: dict[str, int] = {}
    rows: list[list[str | None]] = []
    lines: list[int] = []
    for line, row in zip(table.lines, table.rows, strict=True):
        name = row[channel].strip().strip('"')
        if not name:
            continue
        column = names.setdefault(name, len(names) + 1)
        if unit is not None and row[unit].strip():
            told = units.setdefault(name, row[unit].strip())
            if told != row[unit].strip():
                raise BadFile(f"line {line} gives {name!r} in {row[unit].strip()}, the lines "
                              f"before it in {told}; export the log with one unit")
        when = row[time].strip()
        place = at.setdefault(when, len(rows))
        if place == len(rows):
            rows.append([when])
            lines.append(line)
        cells = rows[place]
        cells += [None] * (column + 1 - len(cells))
        if cells[column] is not None:
            raise BadFile(f"line {line} gives a second reading of {name!r} at {when}; the times "
                          "are too coarse: export the log with finer ones")
        cells[column] = row[value]
    width = len(names) + 1
    full = [[cell or "" for cell in cells] + [""] * (width - len(cells)) for cells in rows]
    order = _in_time(full)
    return replace(
        table, names=(table.names[time], *names),
        units=(table.units[time], *(units.get(n, table.units[value]) for n in names)),
        rows=[full[k] for k in order], lines=[lines[k] for k in order], has_header=True), (
        f"The log has a row for each reading; it was turned into columns {', '.join(names)}.")


def _places(table: Table) -> tuple[int, int, int, int | None] | None:
    """Return the columns of time, channel, value and unit, or None."""
    if not table.has_header or len(table.names) < 3 or len(table.rows) < _LEAST_ROWS:
        return None
    names = [n.strip() for n in table.names]
    words = _columns_of(table, _is_word, 0.95)
    digits = _columns_of(table, is_number, 0.8)
    clocks = _columns_of(table, is_clock, 0.9)
    unit = next((i for i in words if _UNIT.fullmatch(names[i])), None)
    channels = [i for i in (*words, *digits) if _CHANNEL.fullmatch(names[i])]
    values = [i for i in digits if _VALUE.fullmatch(names[i]) and i not in channels]
    times = [i for i, name in enumerate(names) if i not in (*channels, *values)
             and (i in clocks or _names_time(name))]
    if len(channels) != 1 or len(values) != 1 or not times or not _names_channels(
            table, channels[0]):
        return None
    return times[0], channels[0], values[0], unit


def _names_channels(table: Table, column: int) -> bool:
    """Return whether a column names a channel in each row: two or more, and not one for each row.

    All rows are looked at: a log may hold one channel after the other.
    """
    seen = {row[column].strip() for row in table.rows}
    return 1 < len(seen) <= min(_MOST_CHANNELS, len(table.rows) // 2)


def _names_time(name: str) -> bool:
    return bool(_TIME.fullmatch(name) or unit_in_name(name, SPELLINGS))


def _columns_of(table: Table, kind: Callable[[str], bool], share: float) -> list[int]:
    """Return the columns of which more than a share of the first cells are of that kind."""
    sample = table.rows[:500]
    return [i for i in range(len(table.names)) if _share(sample, i, kind) > share]


def _is_word(cell: str) -> bool:
    return bool(cell.strip()) and not is_number(cell) and not is_clock(cell)


def _share(rows: list[list[str]], column: int, test: Callable[[str], object]) -> float:
    cells = [row[column] for row in rows if not is_missing(row[column])]
    return sum(1 for cell in cells if test(cell)) / len(cells) if cells else 0.0


def _in_time(rows: list[list[str]]) -> list[int]:
    """Return the order of the times, where all are plain numbers; else the order they came in."""
    try:
        times = [float(row[0].replace(",", ".")) for row in rows]
    except ValueError:
        return list(range(len(rows)))
    if not all(map(math.isfinite, times)):
        return list(range(len(rows)))
    return sorted(range(len(rows)), key=times.__getitem__)
