"""Lines that name every reading ("t=0.5 s, a:1.02, b:0.51") -> lines of a plain table.

Scripts on microcontrollers often print like this, for a plotter on the other end of the line.
"""

import re

_CELL = re.compile(
    r"([A-Za-z_][\w .-]{0,30}?)\s*[:=]\s*([+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?|nan)"
    r"\s*(mV|V|ms|us|µs|s|counts)?")
_BETWEEN = re.compile(r"[\s,;|]*")
# Lines looked at before a log is taken to be written this way.
SAMPLE = 200


def unlabelled(lines: list[str]) -> list[str] | None:
    """Return a line of names and then every line, cells parted by semicolons.

    A line that is written otherwise begins with "? ", which is no data. None when the log is not
    written this way.
    """
    sample = [line for line in lines[:SAMPLE] if line.strip()]
    hits = [cells for line in sample if (cells := _cells(line))]
    if not hits or len(hits) < 0.8 * len(sample):
        return None
    names = [f"{name} ({unit})" if unit else name for name, _, unit in hits[-1]]
    if len(set(names)) != len(names):
        return None
    bare = [cell[0] for cell in hits[-1]]
    result = []
    for line in lines:
        found = _cells(line)
        fits = [cell[0] for cell in found] == bare
        result.append(";".join(cell[1] for cell in found) if fits else f"? {line}")
    return [";".join(names), *result]


def _cells(line: str) -> list[tuple[str, ...]]:
    """Return (name, number, unit) of every cell; empty when anything else stands in the line.

    Cell by cell, not by one expression over the line: that could take for ever on odd lines.
    """
    result = []
    place = _BETWEEN.match(line).end()  # type: ignore[union-attr]
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
