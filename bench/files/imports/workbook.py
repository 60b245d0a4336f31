"""The first sheet of a workbook (.xlsx) -> lines of text, cells parted by tabs.

Read as ECMA-376 part 1 describes it: a zip of XML, with shared strings and styles. Dates are
numbers of days since 1899-12-30 and stay so; the reader of times knows them.
"""

import io
import re
import zipfile
import zlib
from pathlib import Path
from xml.etree import ElementTree

from bench.errors import BadFile

_SHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
# A number with a comma in it, as a person types it.
_COMMA = re.compile(r"[+-]?[0-9]{1,15}(?:,[0-9]{1,15}){1,5}")
# A sheet has a million rows at the most; this is far more text than such a sheet of numbers.
MOST_BYTES = 800_000_000


def sheet_text(data: bytes, path: Path) -> tuple[str, str]:
    """Return (text, name of the sheet); raise BadFile when it is no readable workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            names = set(book.namelist())
            if "xl/workbook.xml" not in names:
                raise BadFile(f"{path} is a packed file but no workbook; save the sheet as CSV")
            root = _parsed(book, "xl/workbook.xml", path)
            first = root.find(f"{_SHEET}sheets/{_SHEET}sheet")
            if first is None:
                raise BadFile(f"{path} has no sheet; save the log again")
            target = "worksheets/sheet1.xml"
            if "xl/_rels/workbook.xml.rels" in names:
                for link in _parsed(book, "xl/_rels/workbook.xml.rels", path):
                    if link.get("Id") == first.get(_RELATION):
                        target = str(link.get("Target"))
            target = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            shared = _shared(book, path) if "xl/sharedStrings.xml" in names else []
            sheet = _parsed(book, target, path)
            rows = _rows(sheet, shared)
            _refuse_typed(sheet, shared, path)
    except (zipfile.BadZipFile, zlib.error, KeyError, ValueError, IndexError, EOFError,
            NotImplementedError, RuntimeError, OSError) as error:
        raise BadFile(f"{path} cannot be read as a workbook ({error}); save the sheet as CSV"
                      ) from None
    return "\n".join("\t".join(row) for row in rows) + "\n", str(first.get("name"))


def _parsed(book: zipfile.ZipFile, name: str, path: Path) -> ElementTree.Element:
    if book.getinfo(name).file_size > MOST_BYTES:
        raise BadFile(f"{path} unpacks to more than {MOST_BYTES / 1e6:.0f} MB; save the sheet as "
                      "CSV")
    data = book.read(name)
    if b"<!DOCTYPE" in data[:2000]:
        raise BadFile(f"{path} holds definitions that no workbook has; save the sheet as CSV")
    try:
        return ElementTree.fromstring(data)
    except ElementTree.ParseError as error:
        raise BadFile(f"{path} is damaged ({name}: {error}); save the sheet as CSV") from None


def _shared(book: zipfile.ZipFile, path: Path) -> list[str]:
    return ["".join(t.text or "" for t in item.iter(f"{_SHEET}t"))
            for item in _parsed(book, "xl/sharedStrings.xml", path)]


def _rows(sheet: ElementTree.Element, shared: list[str]) -> list[list[str]]:
    rows = []
    for row in sheet.iter(f"{_SHEET}row"):
        cells: list[str] = []
        for cell in row.iter(f"{_SHEET}c"):
            place = _column(cell.get("r") or "", len(cells))
            cells += [""] * (place - len(cells))
            cells.append(_text(cell, shared))
        rows.append(cells)
    return rows


def _refuse_typed(sheet: ElementTree.Element, shared: list[str], path: Path) -> None:
    """Raise BadFile on numbers that were typed as text with a comma.

    A workbook keeps its numbers with a point; in a text a comma may part decimals or thousands.
    """
    for cell in sheet.iter(f"{_SHEET}c"):
        if cell.get("t") in ("s", "inlineStr", "str"):
            text = _text(cell, shared).strip()
            if _COMMA.fullmatch(text):
                raise BadFile(f"{path} holds numbers as text, such as {text!r} in "
                              f"{cell.get('r') or 'a cell'}; turn these cells into numbers, or "
                              "save the sheet as CSV")


def _column(reference: str, otherwise: int) -> int:
    letters = re.match(r"[A-Z]{1,3}", reference)
    if letters is None:
        return otherwise
    place = 0
    for letter in letters[0]:
        place = 26 * place + ord(letter) - 64
    return max(place - 1, otherwise)


def _text(cell: ElementTree.Element, shared: list[str]) -> str:
    kind = cell.get("t")
    if kind == "inlineStr":
        text = "".join(t.text or "" for t in cell.iter(f"{_SHEET}t"))
    else:
        value = cell.findtext(f"{_SHEET}v") or ""
        text = shared[int(value)] if kind == "s" and value else value
    return re.sub(r"[\t\r\n]+", " ", text)
