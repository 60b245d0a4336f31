"""Lines that name every reading ("t=0.5 s, a:1.02, b:0.51", "A0=163 A1=859") -> a plain table.

Scripts on microcontrollers often print like this, for a plotter or a reader at the other end.
"""

import re
from collections import Counter

from bench.errors import BadFile

_CELL = re.compile(
    r"([A-Za-z_][\w .-]{0,30}?)\s*[:=]\s*([+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?|nan)"
    r"(?:\s*(mV|V|ms|us|µs|s|counts)(?!\w))?")
_BETWEEN = re.compile(r"[\s,;|]*")
# Lines looked at before a log is taken to be written this way.
SAMPLE = 200
# Fewer lines alike are settings above a table rather than readings.
FEWEST = 3


def unlabelled(lines: list[str]) -> tuple[tuple[str, ...], list[str]] | None:
    """Return the names and every line without them, cells parted by semicolons.

    A line that is written otherwise begins with "? ", which is no data. None when the log is not
    written this way. Raises BadFile when a name stands twice in a line, or when names or units
    change from line to line: which number is which track would be a guess.
    """
    sample = [(number, line) for number, line in enumerate(lines[:SAMPLE], 1) if line.strip()]
    hits = [(number, cells) for number, line in sample if (cells := named_cells(line))]
    if not hits or len(hits) < 0.8 * len(sample):
        return None
    names, alike = Counter(_names(cells) for _, cells in hits).most_common(1)[0]
    if alike < min(FEWEST, len(hits)):
        return None
    if alike < 0.8 * len(hits):
        _refuse_changing(names, hits)
    for name, times in Counter(names).items():
        if times > 1:
            number = next(n for n, cells in hits if _names(cells) == names)
            raise BadFile(f"line {number} names {name!r} {times} times; give each reading in the "
                          "line a name of its own")
    return _without_names(lines, names)


def _without_names(lines: list[str], names: tuple[str, ...]) -> tuple[tuple[str, ...], list[str]]:
    """Return the names with their units, and every line's values; raise BadFile on two units."""
    units = [""] * len(names)
    rows: list[str] = []
    for number, line in enumerate(lines, 1):
        cells = named_cells(line)
        if _names(cells) != names:
            rows.append(f"? {line}" if line.strip() else "")
            continue
        for place, (name, _, unit) in enumerate(cells):
            if unit and units[place] and unit != units[place]:
                raise BadFile(f"line {number} gives {name!r} in {unit}, the lines before it in "
                              f"{units[place]}; print one unit on every line")
            units[place] = units[place] or unit
        rows.append(";".join(cell[1] for cell in cells))
    return tuple(f"{name} ({unit})" if unit else name
                 for name, unit in zip(names, units, strict=True)), rows


def _names(cells: list[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(cell[0] for cell in cells)


def _refuse_changing(names: tuple[str, ...], hits: list[tuple[int, list[tuple[str, ...]]]]) -> None:
    first = next(n for n, cells in hits if _names(cells) == names)
    other, cells = next((n, cells) for n, cells in hits if _names(cells) != names)
    raise BadFile(f"line {other} names {_listed(_names(cells))}, but line {first} "
                  f"{_listed(names)}; print the same names in the same order on every line")


def _listed(names: tuple[str, ...]) -> str:
    shown = ", ".join(repr(name) for name in names[:6])
    return shown + (" ..." if len(names) > 6 else "")


def named_cells(line: str) -> list[tuple[str, ...]]:
    """Return (name, number, unit) of every cell; empty when anything else stands in the line.

    Cell by cell, not by one expression over the line: that could take for ever on odd lines.
    """
    result = []
    gap = _BETWEEN.match(line)
    place = gap.end() if gap else 0
    while place < len(line):
        cell = _CELL.match(line, place)
        if cell is None:
            return []
        result.append(cell.groups(""))
        gap = _BETWEEN.match(line, cell.end())
        assert gap is not None
        if gap.end() == cell.end() and gap.end() < len(line):
            return []
        place = gap.end()
    return result
