"""Settings as a CSV table (RFC 4180), safe to open in a spreadsheet."""

import csv
import io
import math
import re
from collections.abc import Iterable
from pathlib import Path

from bench.files.exports.export_document import Sheet, What, sheet_of
from bench.files.exports.units import convert
from bench.wording.reasons import in_words

COLUMNS = ("name", "channel", "value", "unit", "percent_of_supply", "why")

# A spreadsheet runs a cell that begins with one of these, also after white space, and also in
# the middle of a text when it splits lines at another separator than the comma.
_STARTS_FORMULA = re.compile(r"(^|[,;:|\"'\t])(\s*)(?=[=+\-@＝＋－＠])")
_CONTROL = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]")


def safe_cell(text: str) -> str:
    """Return text that no spreadsheet takes for a formula; control signs become spaces.

    An apostrophe is put before a sign that could start a formula. Numbers are not passed
    through here: they are written by us and begin with a digit or one minus.
    """
    plain = _CONTROL.sub(" ", text)
    return _STARTS_FORMULA.sub(r"\1\2'", plain)


def csv_text(header: Iterable[str], rows: Iterable[Iterable[str | float | int | None]]) -> str:
    """Return an RFC 4180 table: CRLF, quotes doubled; None and NaN become empty cells."""
    return csv_rows([header]) + csv_rows(rows)


def csv_rows(rows: Iterable[Iterable[str | float | int | None]]) -> str:
    """Return rows of an RFC 4180 table, as `csv_text` writes them."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return out.getvalue()


def _cell(value: str | float | int | None) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return safe_cell(value)
    return repr(value) if math.isfinite(value) else ""


def settings_csv(what: What, path: Path | None = None) -> str:
    """Return one line per setting; an undetermined value is an empty cell."""
    sheet = sheet_of(what, path)
    return csv_text(COLUMNS, _rows(sheet))


def _rows(sheet: Sheet) -> Iterable[tuple[str | float | None, ...]]:
    for setting in sheet.settings:
        known = math.isfinite(setting.value)
        share = (convert(setting, "percent_of_supply", sheet).rounded(2)
                 if known and setting.unit in ("V", "ohm") else None)
        value = (convert(setting, "", sheet).rounded() if setting.unit == "ohm" else
                 round(float(setting.value), 6)) if known else None
        yield (setting.name, setting.channel or "", value, setting.unit, share,
               in_words(setting.why, sheet.face))
    if sheet.state:
        yield ("state", "", None, "", None, sheet.state)
    for warning in sheet.warnings:
        yield ("warning", "", None, "", None, warning)
