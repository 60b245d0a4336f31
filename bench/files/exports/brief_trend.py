"""A folder of recordings on one screen: the newest sweeps, a line each, and what is next."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from bench.files.exports.text_layout import many
from bench.wording.shell_quote import pasted

# With the heads, what is not used and what is next, 24 lines.
MOST_ROWS = 14
_NAME = 28


def brief_trend(rows: Sequence[Mapping[str, str]], folder: Path, table: Path) -> str:
    """Return the newest sweeps and the next command in at most 24 lines of 80 signs.

    rows: of the whole table, in its order, each a mapping of its columns to text. table: a free
    name for the whole table.
    """
    used = [row for row in rows if not row["error"]]
    unused = [row for row in rows if row["error"]]
    shown = used[-MOST_ROWS:]
    earlier = len(used) - len(shown)
    lines = [f"{many(len(used), 'sweep')} summarised, the newest last"
             + (f"; {earlier} earlier ones are not shown" if earlier else ""), "",
             f"{'started':<12}{'file':<{_NAME}}{'state':<7}{'faults':>6}"
             f"{'rest 1':>9}{'rest 2':>9}"]
    for row in shown:
        lines.append(f"{row['started'][:10]:<12}{_end_of(row['file']):<{_NAME}}{row['state']:<7}"
                     f"{row['faults']:>6}{_rest(row, 1):>9}"
                     f"{_rest(row, 2):>9}")
    lines.append("")
    if unused:
        lines.append(f"not used: {many(len(unused), 'file')}, such as "
                     f"{_end_of(unused[0]['file'])}; the table says why")
    paths = [pasted(folder / row["file"]) for row in used[-2:]]
    if paths:
        verb = "compare" if len(paths) > 1 else "findings"
        lines.append(f"next: stillpedal {verb} {' '.join(paths)}")
    lines.append(f"more: stillpedal trend {pasted(folder)} --out {pasted(table)}")
    return "\n".join(lines) + "\n"


def _end_of(name: str) -> str:
    """Return a file's name, of a long one its end: what tells it from the others stands there."""
    return name if len(name) < _NAME else f"...{name[4 - _NAME:]}"


def _rest(row: Mapping[str, str], track: int) -> str:
    volts, ohms = row[f"track{track}_rest_volts"], row[f"track{track}_rest_ohms"]
    return f"{float(volts):.3f} V" if volts else f"{float(ohms):.0f} ohm" if ohms else "-"
