"""One cell of a log -> a number: decimal comma, thousands marks, units behind, missing."""

import math
import re
from collections.abc import Iterable

# What loggers write where there is no reading ("OL": a meter's overload).
MISSING = frozenset({
    "", "nan", "-nan", "n/a", "na", "#n/a", "null", "none", "nil", "-", "--", "---", "----",
    "ol", "overload", "inf", "+inf", "-inf", "invalid", "missing", "error", "err", "?", "*",
})
# Signs used to set off thousands: spaces of three kinds and apostrophes.
_GROUP = "  \u202f'’"
_NUMBER = re.compile(
    r"[+-]?(?:[0-9][0-9.,]*|[.,][0-9]+"
    r"|[1-9][0-9]{0,2}(?:[" + _GROUP + r"][0-9]{3})+(?:[.,][0-9]+)?)"
    r"(?:[eE][+-]?[0-9]{1,3})?")
UNIT_BEHIND = re.compile(r"(?<=[0-9.,])\s*(mV|V|ms|us|µs|μs|s)$")
LONGEST_CLOCK = 64
_CLOCKISH = re.compile(r".*[0-9]{1,2}:[0-9]{2}.*|[0-9]{1,4}[-./][0-9]{1,2}[-./][0-9]{1,4}.*")


def clean(cell: str) -> str:
    """Return a cell without white space, quotes, units behind it and odd minus signs."""
    text = cell.strip(" \t\r\n\"\u00a0\ufeff").replace("\u2212", "-")
    return UNIT_BEHIND.sub("", text)


def is_missing(cell: str) -> bool:
    """Return whether a cell is one of the ways to say that there is no reading."""
    return clean(cell).lower() in MISSING


def is_number(cell: str) -> bool:
    """Return whether a cell can be a number, with either decimal sign."""
    try:
        # The usual cell passes here, several times faster than by the expression.
        if math.isfinite(float(cell.replace(",", "."))) and "_" not in cell:
            return True
    except ValueError:
        pass
    return _NUMBER.fullmatch(clean(cell)) is not None


def is_clock(cell: str) -> bool:
    """Return whether a cell looks like a time of day or a date."""
    return (len(cell) < LONGEST_CLOCK and _CLOCKISH.fullmatch(cell.strip()) is not None
            and not is_number(cell))


def decimal_sign(cells: Iterable[str]) -> str | None:
    """Return "." or "," as the cells show, or None when they leave it open.

    Of two different signs in one cell the last is the decimal sign; a sign twice in a cell sets
    off thousands; a comma not followed by three digits, or after a lone 0, is a decimal comma.
    """
    votes = {".": 0, ",": 0}
    open_commas = 0
    for cell in cells:
        text = clean(cell)
        dots, commas = text.count("."), text.count(",")
        if not dots and not commas:
            continue
        if dots and commas:
            votes["," if text.rfind(",") > text.rfind(".") else "."] += 1
        elif dots > 1:
            votes[","] += 1
        elif commas > 1 or dots == 1:
            votes["."] += 1
        else:
            whole, _, rest = text.partition(",")
            digits = re.match(r"[0-9]*", rest)
            grouped = (digits is not None and len(digits[0]) == 3
                       and whole.lstrip("+-") not in ("", "0"))
            if grouped:
                open_commas += 1
            else:
                votes[","] += 1
    if votes["."] or votes[","]:
        return "." if votes["."] >= votes[","] else ","
    return None if open_commas else "."


def number(cell: str, decimal: str) -> float:
    """Return a cell as a number, NaN when it is missing; raise ValueError when it is neither."""
    text = clean(cell)
    if text.lower() in MISSING:
        return math.nan
    if not _NUMBER.fullmatch(text):
        raise ValueError(text)
    for sign in _GROUP:
        text = text.replace(sign, "")
    other = "," if decimal == "." else "."
    text = text.replace(other, "")
    return float(text.replace(",", "."))


def numbers(cells: list[str], decimal: str) -> tuple[list[float], list[int]]:
    """Return the cells as numbers and the places of those that were neither number nor missing."""
    values: list[float] = []
    bad: list[int] = []
    other = "," if decimal == "." else "."
    for place, cell in enumerate(cells):
        try:
            # The usual cell is plain; float() alone is five times faster than the whole care.
            if "_" in cell or other in cell:
                raise ValueError
            value = float(cell.replace(",", "."))
            values.append(value if math.isfinite(value) else math.nan)
        except ValueError:
            try:
                values.append(number(cell, decimal))
            except ValueError:
                values.append(math.nan)
                bad.append(place)
    return values, bad
