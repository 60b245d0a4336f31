"""Columns of plain numbers out of a block of text, all rows at once, four digits at a time.

Plain are whole numbers, `digits.digits` and empty cells; a value is exactly Python's float of its
text. Which rows are not plain is said, and `table_text` reads those in other ways.
"""

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array

Bytes = NDArray[np.uint8]
Groups = NDArray[np.uint16]
Places = NDArray[np.int64]

DOT, ZERO = b".0"
_POWERS = 10.0 ** np.arange(9)
# Whole numbers below this are exact in a float, so one division rounds as float(text) does.
_EXACT = 2.0**53
# Digits of a cell, or of either side of its dot, that are decoded in bulk.
_WIDEST = 8
# The first cell of a block looks back as far.
LEAD = b"0" * _WIDEST


def numbers_only(line_ends: Places, counts: Places, usual: int) -> list[tuple[int, int]]:
    """Return the stretches of signs, without lines that have too few and without the marks'.

    line_ends, counts: shape (lines,), which sign ends each line, and how many it has.
    """
    kept, at = [], 0
    for line in np.flatnonzero(counts != usual).tolist():
        end, count = int(line_ends[line]), int(counts[line])
        first = end + 1 - count
        if count > usual:
            kept.append((at, first + usual - 1))
            at = end
        else:
            kept.append((at, first))
            at = end + 1
    return [*kept, (at, int(line_ends[-1]) + 1)]


def all_like(kinds: Bytes, template: Bytes) -> bool:
    """Say whether these signs are the template's, line after line."""
    rows, more = divmod(kinds.size, template.size)
    return not more and kinds.tobytes() == template.tobytes() * rows


def decode(whole: Bytes, starts: Places, signs: Places, kinds: Bytes, template: Bytes,
            cells: list[Array]) -> tuple[NDArray[np.bool_], Places]:
    """Write values to `cells`, each (rows,); return which rows are plain, and which have a mark.

    whole: the block behind `LEAD`. starts (rows,): where in the block the rows begin.
    signs, kinds (rows * signs in a row,): where the signs stand and which they are. Only rows whose
    signs are the template's, and that hold but digits between them, are decoded rightly.
    """
    rows = starts.size
    ends = np.ascontiguousarray(signs.reshape(rows, template.size).T)
    lengths = np.empty_like(ends)
    np.subtract(ends[0], starts, out=lengths[0])
    np.subtract(ends[1:], ends[:-1], out=lengths[1:])
    lengths[1:] -= 1
    marked = np.flatnonzero(lengths[-1] > 0)
    fine = np.ones(rows, bool)
    if not all_like(kinds, template):
        fine &= (kinds.reshape(rows, template.size) == template).all(axis=1)
    digits = whole - ZERO
    digits *= (whole >= ZERO).view(np.uint8)
    for row in marked.tolist():
        digits[_WIDEST + ends[-2, row]: _WIDEST + ends[-1, row]] = 0
    if digits.max() > 9:
        letters = np.flatnonzero(digits > 9) - _WIDEST
        held = np.searchsorted(ends[-1], letters)  # one in a line left out counts for the next row
        inside = held < rows
        inside[inside] = letters[inside] >= starts[held[inside]]
        fine[held[inside]] = False
    groups = _groups(digits)
    shortest, longest = lengths.min(axis=1, initial=_WIDEST), lengths.max(axis=1, initial=0)
    before: Array | None = None
    to = iter(cells)
    for k in range(template.size - 1):
        least, most = int(shortest[k]), int(longest[k])
        if most > _WIDEST:
            fine &= lengths[k] <= _WIDEST
        if before is None:
            cell = next(to)
        if template[k] == DOT:
            before = _number_before(groups, ends[k], lengths[k], least, most, np.empty(rows))
            if not least:
                fine &= lengths[k] > 0
        elif before is not None:
            _number_before(groups, ends[k], lengths[k], least, most, cell)
            power = _POWERS[least] if least == most else _POWERS.take(lengths[k], mode="clip")
            before *= power
            cell += before
            fine &= cell < _EXACT
            if not least:
                fine &= lengths[k] > 0
            cell /= power
            before = None
        else:
            _number_before(groups, ends[k], lengths[k], least, most, cell)
            if not least:
                empty = lengths[k] == 0
                if cell is cells[0]:
                    fine &= ~empty
                else:
                    cell[empty] = np.nan
    return fine, marked


def _groups(digits: Bytes) -> tuple[Groups, Groups]:
    """Return the values of each two and of each four digits that stand together, a sign being 0."""
    tens = digits[:-1] * np.uint8(10)
    tens += digits[1:]
    pairs = tens.astype(np.uint16)
    fours = pairs[:-2] * np.uint16(100)
    fours += pairs[2:]
    return pairs, fours


def _number_before(groups: tuple[Groups, Groups], ends: Places, lengths: Places, least: int,
                   most: int, out: Array) -> Array:
    """Write the whole numbers (n,) whose digits end before `ends`, at most `_WIDEST`, to `out`.

    Of the cell that ends before byte e of the block, the last group of g digits has the index
    e + _WIDEST - g. A cell of an odd number of digits takes the sign before it as its first; what
    would reach further back is left out. No digit at all gives 0.
    """
    pairs, fours = groups
    read, most = 0, min(most, _WIDEST)
    if not most:
        out[:] = 0
    while read < most:
        if read + 3 <= least:
            wide, group = 4, fours[_WIDEST - 4 - read:].take(ends)
        else:
            wide, group = 2, pairs[_WIDEST - 2 - read:].take(ends)
            if least <= read:
                group *= lengths > read
        if read:
            out += group * 10.0**read
        else:
            out[:] = group
        read += wide
    return out
