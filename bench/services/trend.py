"""Summarise a folder of recordings into one table, on all cores.

Each process takes a chunk of files and hands back lines of the table, never readings, and only
a few chunks wait at a time: memory grows by about a kilobyte a file. A file that cannot be used
becomes a line with its reason; the others go on.
"""

import csv
import io
import json
import math
import multiprocessing
import os
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path

from analysis.model.errors import AnalysisError
from analysis.parameters import Parameters
from bench.errors import BadFile, BenchError
from bench.files.exports.brief_trend import brief_trend
from bench.files.exports.trend_csv import header_text, row_text, trend_row
from bench.files.recording_file import free_path
from bench.wording.refusals import refused

# Long enough to make handing over cheap, short enough for the progress to move.
CHUNK = 8
# Chunks that wait for each process; more would only fill memory.
AHEAD = 4


@dataclass(frozen=True)
class Line:
    """Hold one file's line of the table, as text. error: why the file is not used, or ""."""

    file: str
    started: str
    error: str
    text: str


def table_text(lines: list[Line]) -> str:
    """Return the whole table."""
    return header_text() + "".join(line.text for line in lines)


def table_json(lines: list[Line]) -> str:
    """Return the whole table as JSON: a list of files, each with the table's columns.

    A cell without a value is null; what is a number in the table is one here.
    """
    rows = [{name: _cell(cell) for name, cell in row.items()}
            for row in csv.DictReader(io.StringIO(table_text(lines)))]
    return json.dumps({"schema": 1, "recordings": rows}, indent=1, ensure_ascii=False) + "\n"


def table_brief(lines: list[Line], folder: Path) -> str:
    """Return the newest sweeps of the table on one screen, with the next command."""
    rows = list(csv.DictReader(io.StringIO(table_text(lines))))
    return brief_trend(rows, folder, free_path(Path("trend.csv")))


def _cell(text: str) -> str | float | None:
    try:
        number = float(text)
    except ValueError:
        return text or None
    return number if math.isfinite(number) else None


def recordings_in(folder: Path, pattern: str = "*.csv") -> list[Path]:
    """Return the files of that pattern below a folder, sorted by name.

    Raises BadFile when there is no such folder or no such file.
    """
    if not folder.is_dir():
        raise BadFile(f"{folder} is no folder; name the folder that holds the recordings")
    found = sorted(path for path in folder.rglob(pattern) if path.is_file())
    if not found:
        raise BadFile(f"{folder} holds no {pattern}; name the folder that holds the recordings")
    return found


def summarise(paths: list[Path], folder: Path, parameters: Parameters | None = None,
              processes: int | None = None,
              progress: Callable[[int, int], None] | None = None) -> list[Line]:
    """Return one line per file, in order of start, then of name.

    processes: default all cores, or none but this for a single chunk, which is read before another
        process has started. progress: called with (done, all) in this process.
    """
    count = processes or (1 if len(paths) <= CHUNK else usable_cores())
    lines: list[Line] = []
    chunks = (_one_process if count == 1 else _many_processes)(paths, folder, parameters, count)
    for chunk in chunks:
        lines += chunk
        if progress is not None:
            progress(len(lines), len(paths))
    return sorted(lines, key=lambda line: (line.started or "~", line.file))


def usable_cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def summarise_file(path: Path, name: str, parameters: Parameters | None = None) -> Line:
    """Return the line of one file; a file that cannot be used gives its reason as `error`."""
    from bench.services.findings import open_findings

    try:
        row = trend_row(name, open_findings(path, parameters))
        return Line(name, str(row["started"]), "", row_text(row))
    except (AnalysisError, BenchError) as error:
        # The line names the file already.
        plain = error.plain if isinstance(error, BenchError) else None
        reason = " ".join((refused(error) if plain is None else plain).split())
    except Exception as error:
        # One odd file must not end a night's work; the line says that the fault is ours.
        reason = f"internal error {type(error).__name__}: {error}"
    return Line(name, "", reason, row_text({"file": name, "error": reason}))


def _chunk(paths: list[Path], folder: Path, parameters: Parameters | None) -> list[Line]:
    return [summarise_file(path, path.relative_to(folder).as_posix(), parameters) for path in paths]


def _cut(paths: list[Path]) -> Iterator[list[Path]]:
    for start in range(0, len(paths), CHUNK):
        yield paths[start: start + CHUNK]


def _one_process(paths: list[Path], folder: Path, parameters: Parameters | None,
                 _count: int) -> Iterator[list[Line]]:
    for part in _cut(paths):
        yield _chunk(part, folder, parameters)


def _many_processes(paths: list[Path], folder: Path, parameters: Parameters | None,
                    count: int) -> Iterator[list[Line]]:
    # Spawned, not forked: a fork inherits locks of threads it does not have.
    context = multiprocessing.get_context("spawn")
    parts = _cut(paths)
    waiting: dict[Future[list[Line]], list[Path]] = {}
    with ProcessPoolExecutor(count, mp_context=context, initializer=_settle) as pool:
        try:
            while True:
                for part in parts:
                    waiting[pool.submit(_chunk, part, folder, parameters)] = part
                    if len(waiting) >= AHEAD * count:
                        break
                if not waiting:
                    return
                done, _ = wait(waiting, return_when=FIRST_COMPLETED)
                for future in done:
                    del waiting[future]
                    yield future.result()
        except BrokenProcessPool:
            raise BadFile("a process was ended from outside (out of memory?); try again with "
                          "--processes 1") from None
        finally:
            for future in waiting:
                future.cancel()


def _settle() -> None:
    """Leave Ctrl-C in a new process to the parent."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
