"""The text of a recording's rows -> numbers.

Plain rows (whole numbers, `digits.digits` or empty cells) are decoded at once (`plain_numbers`).
Rows of longer or negative numbers go through `numpy.loadtxt` where a block has many. Every other
row (an exponent, a quoted mark) goes through `csv` and `float`, which also find the words for what
is wrong with it. A cell's value is exactly Python's float of its text: all paths round once.
"""

import csv
import io
import re
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import MOST, Array, Mark
from bench.errors import BadFile
from bench.files.plain_numbers import DOT, LEAD, ZERO, Bytes, Places, all_like, decode, numbers_only

_COMMA, _NEWLINE = b",\n"
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,4})?\Z", re.ASCII)
# These are blanks to str.strip() and none to float().
_NO_BLANKS = frozenset("\x1c\x1d\x1e\x1f")
# A mark with one of these is left to csv, and to the words for what is wrong with it.
_NEEDS_CSV = frozenset('"\r\0')
# No row is as long: csv takes no cell above 128 KiB. What runs on is decoded again with each block.
_LONGEST_ROW = 1 << 18
# From so many odd lines in a block on they are worth reading together.
_MANY = 64
# Lines tried for one without a mark; a block where all of these have one is rare and only slower.
_LOOK_AT = 64


@dataclass
class Table:
    """Collect rows as blocks are decoded.

    time_s (most,), values (channels, most): filled up to `rows`; the rest is room.
    line: number of the last line taken, for messages.
    plain: the signs of a plain line, as last seen.
    """

    channels: int
    most: int
    line: int
    rows: int = 0
    marks: list[Mark] = field(default_factory=list)
    plain: Bytes | None = None

    def __post_init__(self) -> None:
        self.time_s: Array = np.empty(self.most)
        self.values: Array = np.empty((self.channels, self.most))

    def add_block(self, *pieces: bytes | memoryview) -> bytes:
        """Decode lines that each end in a newline; return what must stand before the next block.

        pieces: what together are those lines. Bytes come back when a quoted cell runs on past them.
        """
        whole = np.frombuffer(b"".join([LEAD, *pieces]), np.uint8)
        text = whole[len(LEAD):]
        signs = np.flatnonzero(text < ZERO)
        kinds = text.take(signs)
        usual = self.plain
        alike = usual is not None and all_like(kinds, usual)
        if alike and usual is not None:
            ends = signs[usual.size - 1:: usual.size]
        else:
            line_ends = np.flatnonzero(kinds == _NEWLINE)
            ends = signs[line_ends]
            self.plain = self._plain_template(kinds, line_ends)
        starts = np.zeros_like(ends)
        np.add(ends[:-1], 1, out=starts[1:])
        odd = np.full(ends.size, self.plain is None)
        decoded: list[Array] = [np.empty(0)] * (self.channels + 1)
        if self.plain is not None:
            rows = starts
            if not alike:
                counts = np.ediff1d(line_ends, to_begin=line_ends[:1] + 1)
                odd = counts < self.plain.size
                rows = starts[~odd]
                kept = numbers_only(line_ends, counts, self.plain.size)
                signs, kinds = (np.concatenate([a[low:high] for low, high in kept])
                                for a in (signs, kinds))
            # Lines of a quoted mark may look like rows: more of them than there can be rows.
            fits = self.rows + rows.size <= self.most
            decoded = (self._room(rows.size) if fits
                       else [np.empty(rows.size) for _ in range(self.channels + 1)])
            fine, marked = decode(whole, rows, signs, kinds, self.plain, decoded)
            if (fits and fine.all() and not odd.any()
                    and self._take_marks(text, marked, starts, ends)):
                self.rows += rows.size
                self.line += ends.size
                return b""
            fine[marked] = False
            decoded = [cell[fine] for cell in decoded]
            odd[~odd] = ~fine
        return self._add_mixed(text.tobytes(), starts, ends, odd, decoded)

    def _take_marks(self, text: Bytes, lines: Places, starts: Places, ends: Places) -> bool:
        """Keep the marks of these lines, when all are plain text; else keep none."""
        marks = []
        for line in lines.tolist():
            cells = text[starts[line]: ends[line]].tobytes().split(b",")
            try:
                mark = cells[-1].decode()
            except UnicodeDecodeError:
                return False
            if len(cells) != self.channels + 2 or not _NEEDS_CSV.isdisjoint(mark):
                return False
            marks.append(Mark(self.rows + line, mark))
        self.marks += marks
        return True

    def _plain_template(self, kinds: Bytes, line_ends: Places) -> Bytes | None:
        """Return the signs of the first plain line, looking at the block's first few lines."""
        at = 0
        for end in line_ends[:_LOOK_AT].tolist():
            if self._is_plain(kinds[at: end + 1].tobytes()):
                return kinds[at: end + 1]
            at = end + 1
        return None

    def _is_plain(self, pattern: bytes) -> bool:
        """Say whether these signs are number cells (with or without a dot) and an empty mark."""
        return (pattern.endswith(b",\n") and pattern.count(b",") == self.channels + 1
                and set(pattern[:-1]) <= {_COMMA, DOT} and b".." not in pattern
                and b".\n" not in pattern)

    def _room(self, rows: int) -> list[Array]:
        """Return the next so many places of time_s and of each channel, to be written to."""
        self._need(self.rows + rows)
        place = slice(self.rows, self.rows + rows)
        return [self.time_s[place], *self.values[:, place]]

    def _store(self, decoded: list[Array], start: int = 0, stop: int | None = None) -> None:
        rows = decoded[0][start:stop].size
        for room, column in zip(self._room(rows), decoded, strict=True):
            room[:] = column[start:stop]
        self.rows += rows

    def _need(self, rows: int) -> None:
        if rows > self.most:
            raise BadFile(f"damaged: more rows than the {self.most} there can be; use another copy")

    def _add_mixed(self, block: bytes, starts: Places, ends: Places, odd: NDArray[np.bool_],
                   decoded: list[Array]) -> bytes:
        """Store plain rows in runs and decode the odd lines between them one by one."""
        lines = np.flatnonzero(odd)
        if lines.size >= _MANY and self._add_long(block, starts, ends, odd, decoded):
            self.line += ends.size
            return b""
        first_line = self.line + 1
        used = at = k = 0
        while k < lines.size:
            line = int(lines[k])
            if line > at:
                self._store(decoded, used, used + line - at)
                used += line - at
            last = line
            quotes = block.count(b'"', starts[line], ends[line])
            while quotes % 2:
                last += 1
                if last >= ends.size:
                    self.line += line
                    return self._run_on(block[starts[line]:])
                quotes += block.count(b'"', starts[last], ends[last])
            raw = block[starts[line]: ends[last] + 1]
            used += int(np.count_nonzero(~odd[line: last + 1]))
            self._add_line(raw, first_line + line)
            at = last + 1
            k = int(np.searchsorted(lines, at))
        self._store(decoded, used)
        self.line += ends.size
        return b""

    def _add_long(self, block: bytes, starts: Places, ends: Places, odd: NDArray[np.bool_],
                  decoded: list[Array]) -> bool:
        """Store all rows of a block whose odd lines are long or negative numbers; else nothing."""
        lines = np.flatnonzero(odd).tolist()
        text = b"".join([block[starts[k]: ends[k] + 1] for k in lines])
        # No letter, blank, quote, mark or empty cell: these need csv, or words.
        if (text.translate(None, b"0123456789.,-\n") or text.count(b",\n") != len(lines)
                or b",," in text or b"\n," in text or text.startswith(b",")):
            return False
        try:
            # Its numbers are exactly Python's floats too.
            table = np.loadtxt(io.BytesIO(text.replace(b",\n", b"\n")), delimiter=",", ndmin=2,
                               comments=None)
        except ValueError:
            return False
        if table.shape != (len(lines), self.channels + 1) or not (np.abs(table) <= MOST).all():
            return False
        columns = []
        for plain, long in zip(decoded, table.T, strict=True):
            column = np.empty(odd.size)
            column[~odd], column[odd] = plain, long
            columns.append(column)
        self._store(columns)
        return True

    def _run_on(self, rest: bytes) -> bytes:
        if len(rest) > _LONGEST_ROW:
            raise self.never_ends()
        return rest

    def never_ends(self) -> BadFile:
        """Return the refusal of the next row, whose quotes are not closed."""
        return BadFile(f"row {self.rows + 1} (line {self.line + 1}): a quoted cell never ends; "
                       "repair or delete that row")

    def _add_line(self, raw: bytes, line: int) -> None:
        place = f"row {self.rows + 1} (line {line})"
        cells = split_line(raw, place)
        if len(cells) != self.channels + 2:
            raise BadFile(f"{place} has {len(cells)} cells where {self.channels + 2} belong; "
                          "repair or delete that row")
        if not cells[0].strip():
            raise BadFile(f"{place} has no time; repair or delete that row")
        self._need(self.rows + 1)
        self.time_s[self.rows] = _number(cells[0], place, "time_s")
        for k, cell in enumerate(cells[1:-1]):
            self.values[k, self.rows] = (
                _number(cell, place, f"channel {k + 1}") if cell.strip() else np.nan)
        if cells[-1]:
            self.marks.append(Mark(self.rows, cells[-1]))
        self.rows += 1


def split_line(raw: bytes, place: str) -> list[str]:
    """Return the cells of one RFC 4180 line; raise BadFile when it is no text."""
    if b"\0" in raw:
        raise BadFile(f"{place} holds NUL bytes; the disk or a copy lost that part of the file")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        raise BadFile(f"{place} is not UTF-8 text; repair or delete that row") from None
    if text.startswith("#"):
        raise BadFile(f"{place} is a comment inside the table ({text.strip()[:40]!r}); delete it")
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as error:
        raise BadFile(f"{place} is not CSV ({error}); repair or delete that row") from None
    if len(rows) != 1 or not rows[0]:
        raise BadFile(f"{place} is empty; delete that line")
    return rows[0]


def _number(cell: str, place: str, column: str) -> float:
    if not _NUMBER.match(cell.strip()) or not _NO_BLANKS.isdisjoint(cell):
        raise BadFile(f"{place}, {column}: {cell[:40]!r} is not a number; repair or delete it")
    value = float(cell)
    # Rows of plain digits cannot be as large as this: they have eight at most.
    if not abs(value) <= MOST:
        raise BadFile(f"{place}, {column}: {cell[:40]!r} is too large; repair or delete it")
    return value
