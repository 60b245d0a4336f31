"""Which sign parts decimals and which thousands: decided column by column.

"740" followed by "1.023" is 1023 in a column that climbs, not 1.023: cells in which the sign may
set off thousands prove nothing by themselves; how the column runs on does, and else it is asked.
"""

import itertools
import math
import re

from bench.files.imports.cells import clean, decimal_sign, is_missing, number

GROUPED = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:[.,][0-9]{3})+")
_GROUPED = {sign: re.compile(rf"[+-]?[1-9][0-9]{{0,2}}(?:\{sign}[0-9]{{3}})+") for sign in ".,"}
# One way of reading must leave this many times smaller jumps than the other.
_SMOOTHER = 3.0
# Units whose readings are whole, or large enough that thousands are usual.
_WHOLE = ("counts",)
_LARGE = ("mV",)


def sign_of_columns(columns: list[list[str]], units: list[str | None]) -> str | None:
    """Return "." or ",", or None when two careful readers would differ.

    columns: cells of the numeric columns, clocks left out. units: of each, "V", "mV", "counts"
    or None as its heading says.
    """
    plain: list[str] = []
    open_columns: list[tuple[list[str], str, str | None]] = []
    for cells, unit in zip(columns, units, strict=True):
        sign = _grouped_by(cells)
        if sign is None:
            plain += cells
        else:
            open_columns.append((cells, sign, unit))
    has_sign = any(_signed(c) for c in plain)
    known = decimal_sign(plain) if has_sign else None
    said = {_of_open(cells, sign, unit) for cells, sign, unit in open_columns}
    if known is not None:
        # A column that mixes whole cells and such of three decimals must bear the others out.
        mixed = {_of_open(cells, sign, unit) for cells, sign, unit in open_columns
                 if sign == known and not all(sign in c for c in cells if not is_missing(c))}
        return known if mixed <= {known} else None
    if has_sign or None in said:
        return None
    if len(said) > 1:
        return None
    return said.pop() if said else "."


def _signed(cell: str) -> bool:
    return "." in cell or "," in cell


def _grouped_by(cells: list[str]) -> str | None:
    """Return the sign that may part thousands in every cell that has one; None where it cannot."""
    signed = [c for c in (clean(c) for c in cells if _signed(c)) if _signed(c)]
    return next((s for s in ".," if signed and all(
        _GROUPED[s].fullmatch(c) for c in signed)), None)


def _of_open(cells: list[str], sign: str, unit: str | None) -> str | None:
    other = "," if sign == "." else "."
    if any(clean(c).count(sign) > 1 for c in cells):
        return other
    if unit in _WHOLE:
        return other
    kept = [c for c in cells if not is_missing(c)]
    if all(sign in c for c in kept):
        # Three decimals throughout: as a rule a decimal point; a comma has always been asked.
        return None if sign == "," or unit in _LARGE else sign
    as_decimal, as_thousands = _jump(kept, sign), _jump(kept, other)
    if as_decimal > _SMOOTHER * as_thousands:
        return other
    return sign if as_thousands > _SMOOTHER * as_decimal else None


def _jump(cells: list[str], decimal: str) -> float:
    """Return the largest step between neighbours as a share of the range, so read."""
    try:
        values = [number(cell, decimal) for cell in cells]
    except ValueError:
        return math.inf
    values = [v for v in values if math.isfinite(v)]
    if len(values) < 2:
        return 0.0
    span = max(values) - min(values)
    steps = [abs(b - a) for a, b in itertools.pairwise(values)]
    return max(steps) / span if span > 0 else 0.0
