"""What was done in a job's folder, and when: one line of JSON for each thing done, never changed.

Rules: a line is appended whole and on the disk before anything is told; a later line of the same
kind counts, the earlier ones stay. A line cut short by a power cut, or changed by hand, is skipped
and told: each carries the check sum of its own text. Files are named by name and SHA-256, so that
one that was changed since counts no more.
"""

import contextlib
import datetime
import json
import os
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from bench.errors import BadFile
from bench.files.new_file import sync_folder, write_all
from bench.files.read_limited import read_whole

NAME = "stillpedal-job.jsonl"
_MOST_BYTES = 10_000_000
# Of the usual file systems (NAME_MAX of POSIX's limits.h on them).
_LONGEST_NAME = 255
_SUM = "crc32"


@dataclass(frozen=True)
class Entry:
    """Hold one thing that was done: when (ISO 8601 with offset), what, and what it rests on.

    file: its name in the folder, "" for none; sha256: of that file then. values: of JSON's own
    kinds: numbers, texts, lists, mappings.
    """

    when: str
    what: str
    file: str = ""
    sha256: str = ""
    values: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class JobRecord:
    """Hold the entries in order; damaged: how many lines were skipped."""

    folder: Path
    entries: tuple[Entry, ...] = ()
    damaged: int = 0

    def last(self, what: str) -> Entry | None:
        """Return the newest entry of that kind, or None."""
        return next((e for e in reversed(self.entries) if e.what == what), None)


def read_job(folder: Path) -> JobRecord:
    """Return what was done in a folder; without entries where nothing was.

    Raise BadFile for a record that cannot be read at all.
    """
    path = folder / NAME
    if not path.exists():
        return JobRecord(folder)
    entries, damaged = [], 0
    for line in read_whole(path, _MOST_BYTES).split(b"\n"):
        if not line.strip():
            continue
        entry = _entry(line)
        if entry is None:
            damaged += 1
        else:
            entries.append(entry)
    return JobRecord(folder, tuple(entries), damaged)


def add_entry(folder: Path, what: str, file: Path | None = None,
              values: Mapping[str, object] | None = None, sha256: str = "",
              when: str = "") -> Entry:
    """Append an entry and return it once it is on the disk. when: "" for now.

    Raise BadFile when the folder cannot be written.
    """
    now = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
    entry = Entry(when or now, what, "" if file is None else file.name, sha256, dict(values or {}))
    path = folder / NAME
    try:
        new = not path.exists()
        handle = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0),
                         0o666)
        try:
            size = os.fstat(handle).st_size
            torn = b""
            if size:
                # A line that a power cut left without its end must not swallow this one.
                os.lseek(handle, size - 1, os.SEEK_SET)
                torn = b"" if os.read(handle, 1) == b"\n" else b"\n"
            _append(handle, size, torn + _line(entry))
        finally:
            os.close(handle)
        if new:
            sync_folder(path)
    except OSError as error:
        raise BadFile(f"cannot write {path} ({error.strerror or error}); free the disk or choose "
                      "another folder") from None
    return entry


def _append(handle: int, size: int, data: bytes) -> None:
    """Append the data to a file of that size and have it on the disk, or leave nothing of it.

    Raise OSError when it does not fit.
    """
    try:
        write_all(handle, data)
        os.fsync(handle)
    except OSError:
        # A torn line would be told as damaged ever after; what another program added stays.
        with contextlib.suppress(OSError):
            if os.fstat(handle).st_size < size + len(data):
                os.ftruncate(handle, size)
        raise


def _line(entry: Entry) -> bytes:
    plain = _plain({"when": entry.when, "what": entry.what, "file": entry.file,
                    "sha256": entry.sha256, "values": entry.values})
    return (_plain({**json.loads(plain), _SUM: f"{zlib.crc32(plain.encode()):08X}"}) + "\n"
            ).encode()


def _plain(content: object) -> str:
    return json.dumps(content, ensure_ascii=False, sort_keys=True, allow_nan=False)


def _may_be_here(name: str) -> bool:
    """Return whether a file of the job's own folder can have this name; "" for none does."""
    return name == "" or (name != ".." and Path(name).name == name
                          and len(os.fsencode(name)) <= _LONGEST_NAME)


def _entry(line: bytes) -> Entry | None:
    """Return a line's entry, None when it is cut short or was changed."""
    try:
        content = json.loads(line.decode("utf-8"))
        stated = content.pop(_SUM)
        if stated != f"{zlib.crc32(_plain(content).encode()):08X}":
            return None
        values = content["values"]
        if not isinstance(values, dict):
            return None
        when, what, file, sha256 = (content[key] for key in ("when", "what", "file", "sha256"))
        # They are shown, and a terminal obeys control signs.
        if not all(isinstance(text, str) and text.isprintable()
                   for text in (when, what, file, sha256)):
            return None
        return Entry(when, what, file, sha256, values) if _may_be_here(file) else None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
