"""A log on disk, in one file or several -> one table: text, workbook or measurement file."""

import re
from dataclasses import dataclass, replace
from pathlib import Path

from bench.errors import BadCall, BadFile
from bench.files.imports.cells import number
from bench.files.imports.long_format import widened
from bench.files.imports.mdf import mdf_table
from bench.files.imports.options import ImportOptions
from bench.files.imports.table import Table, read_table
from bench.files.imports.text import decode, read_bytes, starts_with
from bench.files.imports.workbook import sheet_text
from bench.wording.shell_quote import reader_of


@dataclass(frozen=True)
class Loaded:
    """Hold the bytes of a log, its table, and what was found on the way."""

    data: bytes
    table: Table
    encoding: str
    started: str
    notes: tuple[str, ...]


def load(path: Path, options: ImportOptions) -> Loaded:
    """Return the table of a log; raise BadFile or BadCall when there is none."""
    first = _one(path, options)
    if not options.more:
        return first
    parts = [(path, first), *((more, _one(more, options)) for more in options.more)]
    for other, part in parts[1:]:
        if part.table.names != first.table.names or part.table.units != first.table.units:
            raise BadFile(f"{other} has columns {', '.join(part.table.names)}, {path} has "
                          f"{', '.join(first.table.names)}; import them one by one")
        if part.table.decimal not in (first.table.decimal, None) and first.table.decimal:
            raise BadFile(f"{other} writes decimals with {part.table.decimal}, {path} with "
                          f"{first.table.decimal}; import them one by one")
    parts.sort(key=lambda p: _first_time(p[1].table))
    table = replace(first.table, rows=[r for _, p in parts for r in p.table.rows],
                    lines=[n for _, p in parts for n in p.table.lines],
                    left_out=tuple(x for _, p in parts for x in p.table.left_out))
    note = f"Joined in the order of their times: {', '.join(p.name for p, _ in parts)}."
    started = min((p.started for _, p in parts if p.started), default="")
    return replace(first, data=b"".join(p.data for _, p in parts), table=table, started=started,
                   notes=(*(n for _, p in parts for n in p.notes), note))


def _one(path: Path, options: ImportOptions) -> Loaded:
    if starts_with(path, b"MDF     "):
        data = path.read_bytes()
        table, started = mdf_table(path)
        return Loaded(data, table, "MDF", started, ())
    if starts_with(path, b"PK\x03\x04"):
        data = path.read_bytes()
        text, sheet = sheet_text(data, path)
        # A workbook keeps its numbers with a point, whatever the screen shows.
        table = _table(path, text, replace(options, delimiter="tab", decimal="."))
        table, note = widened(table)
        notes = (f"The first sheet, {sheet!r}, was read.", *([note] if note else []))
        return Loaded(data, table, "workbook", "", notes)
    data = read_bytes(path)
    text, encoding = decode(data, path, options.encoding)
    table, note = widened(_table(path, text, options))
    return Loaded(data, table, encoding, "", (note,) if note else ())


def _first_time(table: Table) -> tuple[int, float, str]:
    """Return what the first rows' cells sort by: a number, else their text."""
    cell = table.rows[0][0] if table.rows else ""
    try:
        return 0, number(cell, table.decimal or "."), ""
    except ValueError:
        return 1, 0.0, cell.strip()


def _table(path: Path, text: str, options: ImportOptions) -> Table:
    if text.startswith("# stillpedal_recording"):
        purpose = re.search(r'^# purpose = "([a-z-]+)"', text, re.MULTILINE)
        raise BadCall(f"{path} is a recording already; use it as it is: "
                      f"{reader_of(purpose[1] if purpose else 'sweep', path)}")
    delimiter = {"tab": "\t", "\\t": "\t", "space": "spaces", " ": "spaces"}.get(
        options.delimiter or "", options.delimiter)
    if options.decimal not in (None, ".", ","):
        raise BadCall(f"--decimal {options.decimal!r} is not known; use . or ,")
    try:
        return read_table(text, delimiter, options.decimal)
    except BadFile as error:
        raise BadFile(str(error), str(path)) from None
