"""A measurement file (MDF 4) -> a table, through the optional library that writes it, too."""

import gc
import importlib
import math
import sys
from pathlib import Path
from typing import Any

import numpy as np

from bench.errors import BadFile
from bench.files.imports.table import Table

_INSTALL = "install the option: pip install 'stillpedal[mdf]', or export its channels as CSV"


def mdf_table(path: Path) -> tuple[Table, str]:
    """Return (table, when it was started, ISO 8601) of an MDF file; raise BadFile.

    Values are those of the file's own conversions. Groups with times of their own are joined by
    time; where a group has no reading the cell is blank.
    """
    try:
        library: Any = importlib.import_module("asammdf")
    except ImportError:
        raise BadFile(f"{path} is an MDF file, and no reader for it is installed; {_INSTALL}"
                      ) from None
    signals, started, trouble = measured_in(library, path)
    if trouble:
        raise BadFile(f"{path} cannot be read as MDF ({trouble}); export its channels as CSV")
    usable = _usable(signals, path)
    rows = _rows(usable)
    table = Table("MDF", ".", ("time (s)", *(str(s.name) for s in usable)),
                  ("", *(str(s.unit or "") for s in usable)), rows,
                  list(range(1, len(rows) + 1)), (), (), True)
    known = started is not None and started.timestamp() != 0
    return table, started.isoformat(timespec="milliseconds") if known else ""


def _usable(signals: list[Any], path: Path) -> list[Any]:
    """Return the channels of numbers; raise BadFile where there is none, or none with times."""
    usable = [s for s in signals if s.samples.ndim == 1 and s.samples.dtype.kind in "iufb"
              and s.samples.size > 1]
    if not usable:
        raise BadFile(f"{path} holds no channel of numbers; export the log again")
    for signal in usable:
        if not (np.isfinite(signal.timestamps).all() and (np.diff(signal.timestamps) >= 0).all()):
            raise BadFile(f"the times of channel {signal.name[:100]!r} in {path} are no numbers or "
                          "run backwards; export the log again")
    return usable


def _rows(usable: list[Any]) -> list[list[str]]:
    """Return the cells of each row, the time first; blank where a channel has no reading then."""
    times = usable[0].timestamps
    for signal in usable[1:]:
        if signal.timestamps.size != times.size or np.any(signal.timestamps != times):
            times = np.union1d(times, signal.timestamps)
    columns = [[repr(float(t)) for t in times]]
    for signal in usable:
        cells = [""] * times.size
        places = np.searchsorted(times, signal.timestamps)
        for place, value in zip(places.tolist(), signal.samples.tolist(), strict=True):
            cells[place] = repr(float(value)) if math.isfinite(value) else ""
        columns.append(cells)
    return [list(row) for row in zip(*columns, strict=True)]


def measured_in(library: Any, path: Path) -> tuple[list[Any], Any, str]:
    """Return (signals, time of start, what went wrong or "")."""
    hook = sys.unraisablehook
    # A reader that stopped half-way complains once more when it is cleared away.
    sys.unraisablehook = lambda _: None
    try:
        try:
            with library.MDF(path) as measured:
                return ([measured.get(group=g, index=i)
                         for g, group in enumerate(measured.groups)
                         for i in range(len(group.channels))
                         if i != measured.masters_db.get(g)], measured.header.start_time, "")
        # The library raises whatever its parts raise on a damaged file.
        except Exception as error:
            trouble = " ".join(str(error).split())[:80] or type(error).__name__
            error.__traceback__ = None
        gc.collect()
        return [], None, trouble
    finally:
        sys.unraisablehook = hook
