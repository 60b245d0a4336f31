"""Rows of a recording -> their text, as they stand in its file."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array
from bench.errors import BadFile


def rows_text(time_s: Array, columns: Sequence[NDArray[Any]] | NDArray[Any],
              units: Sequence[str], marks: Mapping[int, str]) -> bytes:
    """Return rows as they stand in the file; time_s (n,), columns: one (n,) array per channel.

    Times have six decimals, or as many as they need to come back exactly.
    """
    cells = [[f"{t:.6f}" for t in time_s.tolist()]]
    for row in np.flatnonzero(np.round(time_s, 6) != time_s).tolist():
        cells[0][row] = repr(float(time_s[row]))
    cells += [_cells(column, unit) for column, unit in zip(columns, units, strict=True)]
    lines = [",".join(row) for row in zip(*cells, strict=True)]
    for row, text in marks.items():
        lines[row] += "," + csv_cell(text)
    plain = ",\n"
    if not marks:
        return (plain.join(lines) + plain).encode() if lines else b""
    return "".join(line + ("\n" if row in marks else plain)
                   for row, line in enumerate(lines)).encode()


def csv_cell(text: str) -> str:
    """Return a text as one RFC 4180 cell on one line."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    return '"' + clean.replace('"', '""') + '"' if any(c in clean for c in ',"') else clean


def _cells(column: NDArray[Any], unit: str) -> list[str]:
    if column.dtype.kind in "iu":
        return list(map(str, column.tolist()))
    if unit == "counts" and np.all(np.isfinite(column)) and np.all(column == np.rint(column)):
        return list(map(str, column.astype(np.int64).tolist()))
    if np.isinf(column).any():
        raise BadFile("a reading is infinite; leave the cell empty where nothing was measured")
    texts = [repr(value) for value in column.tolist()]
    if unit == "counts":
        texts = [t.removesuffix(".0") for t in texts]
    return ["" if t == "nan" else t for t in texts]
