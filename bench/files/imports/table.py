"""Text of a log -> a table: which delimiter, where the header, where the numbers.

The delimiter is the one that makes the most lines agree in their number of cells and the most
columns numeric. Lines before the table are preamble; lines inside it that are no data (a header
repeated, a comment, a footer) are left out and counted.
"""

import csv
import re
from collections import Counter
from dataclasses import dataclass, replace

from bench.errors import BadCall, BadFile
from bench.files.imports.cells import clean, is_clock, is_missing, is_number
from bench.files.imports.labelled_lines import unlabelled
from bench.files.imports.monitor_timestamps import unstamped
from bench.files.imports.signs import sign_of_columns
from bench.files.imports.units import VOLTS, heading_unit

SPACES = "spaces"
DELIMITERS = ("\t", ";", ",", "|", SPACES)
# Lines looked at to find the shape; longer preambles than this have not been seen.
SAMPLE = 2000
# A column's name is cut here: what finds units in names is not to be kept busy by megabytes.
LONGEST_NAME = 200
# A sign that is not followed by three digits can only be a decimal one.
_FEW_DECIMALS = re.compile(r"[.,](?:[0-9]{1,2}|[0-9]{4,})(?:[eE][+-]?[0-9]+)?$")
_COMMENT = re.compile(r"\s*(#|//|%)")
_UNIT_CELL = re.compile(
    r"[(\[{]?\s*(s|sec|secs|second|seconds|ms|msec|us|µs|μs|usec|min|h|v|volt|volts|mv|millivolt|"
    r"millivolts|counts?|raw|lsb|%|a|ma|-|)\s*[)\]}]?", re.IGNORECASE)


@dataclass(frozen=True)
class Table:
    """Hold a log cut into cells.

    names: of the columns, "column 1" and so on where the log has none. units: from a row of
    units below the names, "" where there is none. rows: cells, all of len(names). lines: line of
    each row in the file, from 1. preamble: lines before the table. left_out: (line, text) of
    lines inside or below the table that hold no data. decimal: "." or ",", None when open.
    stamped: the first column is the time that a serial monitor put before each line.
    """

    delimiter: str
    decimal: str | None
    names: tuple[str, ...]
    units: tuple[str, ...]
    rows: list[list[str]]
    lines: list[int]
    preamble: tuple[str, ...]
    left_out: tuple[tuple[int, str], ...]
    has_header: bool
    stamped: bool = False

    def cells(self, column: int) -> list[str]:
        """Return all cells of a column."""
        return [row[column] for row in self.rows]


# A column that the heading leaves without a name.
_UNNAMED = re.compile(r"column \d+")


def split(line: str, delimiter: str) -> list[str]:
    """Return the cells of one line; quotes hold a delimiter together."""
    if delimiter == SPACES:
        return line.split()
    if '"' in line:
        try:
            return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        except csv.Error as error:
            raise BadFile(f"a line that begins {line[:40]!r} cannot be cut into cells ({error}); "
                          "repair or delete it") from None
    return line.split(delimiter)


def read_table(text: str, delimiter: str | None = None, decimal: str | None = None) -> Table:
    """Return the table in a text; raise BadFile when there is none, BadCall on odd options."""
    if delimiter is not None and delimiter not in DELIMITERS:
        raise BadCall(f"--delimiter {delimiter!r} is not known; use , ; | tab or spaces")
    lines = text.splitlines()
    stamps, lines = unstamped(lines) or (None, lines)
    table = _unstamped(lines, delimiter, decimal)
    if lines and text[-1:] not in "\r\n":
        table = _without_torn(table, lines)
    if stamps is None:
        return table
    # Columns without names are numbered as --a and --b number them.
    names = table.names if table.has_header else tuple(
        f"column {i + 2}" for i in range(len(table.names)))
    return replace(
        table, names=("time stamp", *names), units=("", *table.units), stamped=True,
        rows=[[stamps[n - 1], *row] for n, row in zip(table.lines, table.rows, strict=True)])


def _without_torn(table: Table, lines: list[str]) -> Table:
    """Return the table without a last row that was cut off: no line end, and cells are missing.

    Its last cell may have lost digits; 0.61 is then no 0.612.
    """
    if len(table.lines) < 2 or table.lines[-1] != len(lines):
        return table
    cells, before = (len(split(lines[n - 1], table.delimiter)) for n in (
        len(lines), table.lines[-2]))
    if cells >= before:
        return table
    return replace(table, rows=table.rows[:-1], lines=table.lines[:-1],
                   left_out=(*table.left_out, (len(lines), lines[-1].strip()[:80])))


def _unstamped(lines: list[str], delimiter: str | None, decimal: str | None) -> Table:
    named = unlabelled(lines) if delimiter is None else None
    if named is None:
        return _read(lines, delimiter, decimal)
    names, plain = named
    table = _read(plain, ";", decimal)
    return replace(
        table, names=names, units=("",) * len(names), has_header=True,
        preamble=tuple(line.removeprefix("? ") for line in table.preamble),
        left_out=tuple((n, shown.removeprefix("? ")) for n, shown in table.left_out))


def _read(lines: list[str], delimiter: str | None, decimal: str | None) -> Table:
    told = re.fullmatch(r'"?sep=(.)"?', lines[0].strip(), re.IGNORECASE) if lines else None
    first = 1 if told else 0
    if told and delimiter is None and told[1] in DELIMITERS:
        delimiter = told[1]
    sample = [line for line in lines[first: first + SAMPLE]
              if line.strip() and not _COMMENT.match(line)]
    # Where every line has a tab, a blank is part of a date and parts nothing.
    usual = DELIMITERS[:-1] if sample and all("\t" in line for line in sample) else DELIMITERS
    shapes = [_shape(sample, d) for d in ([delimiter] if delimiter else usual)]
    best = max(shapes, key=lambda shape: shape.score)
    if best.score <= 0:
        raise BadFile("no table of numbers was found in it; say how its cells are parted "
                      "(--delimiter) or export the log as CSV")
    return _cut(lines, first, best, decimal)


@dataclass(frozen=True)
class _Shape:
    delimiter: str
    width: int
    numeric: tuple[int, ...]
    score: float


def _shape(sample: list[str], delimiter: str) -> _Shape:
    rows = [split(line, delimiter) for line in sample]
    rows = [row for row in rows if any(map(_is_value, row))]
    widths = Counter(map(len, rows))
    if not widths:
        return _Shape(delimiter, 0, (), 0.0)
    width = max(widths, key=lambda w: (widths[w] * min(w, 4), w))
    block = [row for row in map(_trimmed, rows) if len(row) <= width]
    numeric, filled = [], 0
    for column in range(width):
        cells = [row[column] for row in block if column < len(row) and not is_missing(row[column])]
        good = sum(map(_is_value, cells))
        filled += bool(cells)
        if cells and good > 0.8 * len(cells) and good > 0.02 * len(block):
            numeric.append(column)
    if not numeric:
        return _Shape(delimiter, width, (), 0.0)
    share = len(numeric) / max(filled, 1)
    return _Shape(delimiter, width, tuple(numeric), widths[width] * len(numeric) * share ** 2)


def _is_value(cell: str) -> bool:
    return is_number(cell) or is_clock(cell)


def _trimmed(row: list[str]) -> list[str]:
    """Return a row without the empty cells that a trailing delimiter leaves."""
    end = len(row)
    while end and not row[end - 1].strip():
        end -= 1
    return row[:end]


def _cut(lines: list[str], first: int, shape: _Shape, decimal: str | None) -> Table:
    width = shape.width

    def fits(row: list[str]) -> bool:
        return len(row) <= width and all(
            _is_value(row[column]) or is_missing(row[column])
            for column in shape.numeric if column < len(row))

    def data(row: list[str]) -> bool:
        return fits(row) and any(
            _is_value(row[column]) for column in shape.numeric if column < len(row))

    def cells(line: str) -> list[str]:
        return _trimmed(split(line, shape.delimiter))

    start, found = None, 0
    for number in range(first, len(lines)):
        if not lines[number].strip() or _COMMENT.match(lines[number]):
            continue
        row = cells(lines[number])
        # Three in a row, or all that is left: a lone number in the preamble is not the table.
        if not data(row):
            start, found = None, 0
            continue
        start = number if start is None else start
        found += 1
        if found == 3:
            break
    if start is None:
        raise BadFile("no table of numbers was found in it; say how its cells are parted "
                      "(--delimiter) or export the log as CSV")
    names, units, above = _header(lines, first, start, shape)
    # A header may name more columns than any row fills.
    most = max(width, len(names))
    units = (*units, *[""] * (len(names) - len(units)))
    rows, places, left_out = [], [], []
    for number in range(start, len(lines)):
        line = lines[number]
        if not line.strip():
            continue
        row = cells(line)
        # A row of empty cells stays: every reading is missing, but its time passed.
        if _COMMENT.match(line) or not fits(row):
            left_out.append((number + 1, line.strip()[:80]))
            continue
        rows.append(row + [""] * (most - len(row)))
        places.append(number + 1)
    if shape.delimiter == "," and above < start:
        _refuse_split_decimals(names, rows[:SAMPLE])
    sign = decimal or _sign(rows, shape, names, units)
    return Table(shape.delimiter, sign, names, units, rows, places,
                 tuple(lines[first: above]), tuple(left_out), above < start)


def _refuse_split_decimals(names: tuple[str, ...], rows: list[list[str]]) -> None:
    """Raise BadFile where each named column fills two: a decimal comma between commas.

    All of them, or all but a first one of whole numbers; no cell has a point.
    """
    named = sum(not _UNNAMED.fullmatch(name) for name in names)
    # So few rows, or equal ones, may be anything.
    if len(names) not in (2 * named, 2 * named - 1) or named < 2 or len(rows) < 3:
        return
    if all(cell.strip().removeprefix("-").isdigit() for row in rows for cell in row):
        raise BadFile(f"its heading names {named} columns and its rows have {len(names)} whole "
                      f"numbers, as of decimal commas between commas ({','.join(rows[0])[:60]}); "
                      "export it with semicolons or decimal points, or name every column")


def _sign(rows: list[list[str]], shape: _Shape, names: tuple[str, ...],
          units: tuple[str, ...]) -> str | None:
    """Return the decimal sign; all rows are looked at while the first ones leave it open."""
    told = [VOLTS.get(heading_unit(names[c], units[c])) for c in shape.numeric]
    sample = [[row[c] for row in rows[:SAMPLE] if not is_clock(row[c])] for c in shape.numeric]
    proven = any(
        (text := clean(cell)).startswith(("0.", "0,", "-0.", "-0,")) or _FEW_DECIMALS.search(text)
        for column in sample for cell in column)
    if proven or len(rows) <= SAMPLE:
        return sign_of_columns(sample, told)
    # At rest a track may stay below a thousand for long; a log of whole numbers has no sign at all.
    if not any("." in row[c] or "," in row[c] for c in shape.numeric for row in rows):
        return "."
    return sign_of_columns(
        [[row[c] for row in rows if not is_clock(row[c])] for c in shape.numeric], told)


def _header(lines: list[str], first: int, start: int,
            shape: _Shape) -> tuple[tuple[str, ...], tuple[str, ...], int]:
    """Return (names, units, first line of the header); units may stand in a row of their own."""
    width = shape.width
    above = [n for n in range(first, start) if lines[n].strip()][-3:]
    units: tuple[str, ...] = ("",) * width
    place = start
    for number in reversed(above):
        comment = _COMMENT.match(lines[number])
        row = _header_cells(lines[number][comment.end() if comment else 0:], shape)
        if not 1 < len(row) <= width and width > 1:
            break
        if all(_is_value(cell) or is_missing(cell) for cell in row):
            break
        padded = tuple(_shortened(cell.strip().strip('"')) for cell in row)
        padded += ("",) * (width - len(row))
        if not any(units) and all(_UNIT_CELL.fullmatch(cell) for cell in padded):
            units, place = padded, number
            continue
        names = tuple(name or f"column {i + 1}" for i, name in enumerate(padded))
        return names, units, number
    return tuple(f"column {i + 1}" for i in range(width)), units, place


def _shortened(name: str) -> str:
    """Return a name of LONGEST_NAME at the most; its end stays, for there its unit stands."""
    return name if len(name) <= LONGEST_NAME else name[:LONGEST_NAME - 64] + name[-64:]


def _header_cells(line: str, shape: _Shape) -> list[str]:
    row = _trimmed(split(line, shape.delimiter))
    if shape.delimiter == SPACES and len(row) != shape.width:
        # Names with a space before their unit, or set apart by several spaces.
        wide = re.split(r"\s{2,}|\t", line.strip())
        row = wide if len(wide) == shape.width else re.findall(
            r"[^\s(\[]+(?:\s{0,8}[(\[][^()\[\]]*[)\]])?", line)
    return row
