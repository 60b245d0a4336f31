"""Write a recording file: append, keep, close with a check sum.

Rules: rows are only ever appended; a file that exists is never written over; when the disk
fails, what was written stays a good file.
"""

import collections
import contextlib
import errno
import os
import re
import threading
import zlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array, Mark, Recording
from bench.errors import BadCall, BadFile
from bench.files.new_file import create_new, numbered, sync_folder, write_all
from bench.files.recording_header import LONGEST_HEADER, RecordingHeader, header_of, header_text
from bench.files.rows_text import csv_cell, rows_text

# Half the second that a crash may cost, so that a slow disk still keeps the promise.
SYNC_SECONDS = 0.5
_LONGEST_MARK = 1000
_GAP = re.compile(r"\s*gap\s+\d+\s*\Z")


class RecordingWriter:
    """Append rows to a new recording file.

    path: must not exist yet; number: or the next free name (-2, -3 ...) is taken.
    What `add` was given is with the operating system when it returns
    and on the disk within a second. One thread calls `add` and `close`; `mark` may be called
    from any.
    """

    def __init__(self, path: str | os.PathLike[str], header: RecordingHeader,
                 number: bool = False) -> None:
        self.path = Path(path)
        self.header = header
        self.rows = 0
        self._last_time = -np.inf
        self._marks: collections.deque[str] = collections.deque()
        self._units = tuple(c.unit for c in header.channels)
        head = header_text(header).encode()
        column_line = (",".join(map(csv_cell, ("time_s", *header.columns, "mark"))) + "\n").encode()
        if len(head) > LONGEST_HEADER:
            raise BadFile(f"the header would be {len(head)} bytes; at most {LONGEST_HEADER}")
        self._file: int | None
        self._file, self.path = _create(self.path, number)
        self._end = 0
        self._crc = 0
        self._syncer = _Syncer(self._file)
        try:
            self._write(head)
            self._write(column_line)
        except BadFile:
            # Without a single row it is no recording, and the name stays free.
            self._remove()
            raise
        self._crc = zlib.crc32(column_line)
        sync_folder(self.path)

    @property
    def bytes_written(self) -> int:
        """Return the size of the file so far."""
        return self._end

    @property
    def closed(self) -> bool:
        """Say whether the file was closed, by `close` or by a failure to write."""
        return self._file is None

    @property
    def gone(self) -> bool:
        """Say whether the name no longer leads to the file: deleted, moved or put over."""
        if self._file is None:
            return False
        try:
            there = os.stat(self.path)
        except FileNotFoundError:
            return True
        except OSError:
            return False  # a network drive that is away for a moment
        return not os.path.samestat(there, os.fstat(self._file))

    def again(self) -> Path:
        """Go on in a new file, with all that was written so far; return its path.

        The system keeps a deleted file for as long as it is open. Raise BadFile when no other can
        be written; then the old one is still written to.
        """
        assert self._file is not None
        with contextlib.suppress(OSError):
            self.path.parent.mkdir(parents=True, exist_ok=True)
        new, path = _create(self.path, number=True)
        try:
            at = 0
            while at < self._end:
                os.lseek(self._file, at, os.SEEK_SET)
                piece = os.read(self._file, min(1 << 20, self._end - at))
                if not piece:
                    raise OSError(errno.EIO, "the deleted file became shorter")
                write_all(new, piece)
                at += len(piece)
        except OSError as error:
            os.close(new)
            with contextlib.suppress(OSError):
                path.unlink()
            raise BadFile(f"cannot write {path}: {error.strerror}") from None
        old, self._file, self.path = self._file, new, path
        self._syncer.stop()
        os.close(old)
        self._syncer = _Syncer(new)
        self._syncer.dirty = True
        sync_folder(path)
        return path

    def add(self, time_s: Array, readings: NDArray[np.int64] | Array,
            lost_before: NDArray[np.int64] | None = None) -> None:
        """Append rows: time_s (n,) never decreasing, readings (n, channels), lost_before (n,).

        Raise BadFile when the disk is full or gone; the rows written before stay good.
        """
        if self._file is None:
            raise BadFile(f"{self.path} is closed; start a new recording")
        if time_s.size == 0:
            return
        if readings.shape != (time_s.size, len(self._units)):
            raise BadCall(f"readings of shape {readings.shape} do not fit {time_s.size} times and "
                          f"{len(self._units)} channels")
        if not (np.isfinite(time_s).all() and time_s[0] >= self._last_time
                and (np.diff(time_s) >= 0).all()):
            raise BadCall(f"time must not run backwards (after {self._last_time:.6f} s); "
                          "stamp the rows again")
        self._last_time = float(time_s[-1])
        self._append(time_s, readings.T, self._marks_for(time_s.size, lost_before))

    def _append(self, time_s: Array, columns: Sequence[NDArray[Any]] | NDArray[Any],
                marks: Mapping[int, str]) -> None:
        data = rows_text(time_s, columns, self._units, marks)
        self._write(data)
        self._crc = zlib.crc32(data, self._crc)
        self.rows += int(time_s.size)

    def mark(self, text: str) -> None:
        """Write a text beside the next row that has none yet."""
        clean = "".join(c if c.isprintable() else " " for c in text).strip()[:_LONGEST_MARK]
        if clean:
            # Only the recorder counts lost samples; a typed "gap 5" must not look like one.
            self._marks.append(f"note: {clean}" if _GAP.match(clean) else clean)

    def close(self) -> None:
        """Write the trailer and close; calling again does nothing."""
        if self._file is None:
            return
        self._write(f"# end rows={self.rows} crc32={self._crc:08X}\n".encode())
        self._release(sync=True)

    def abandon(self) -> None:
        """Close without a trailer, as after a power cut; calling again does nothing."""
        self._release(sync=False)

    def _remove(self) -> None:
        """Close and delete the file that this writer made."""
        with contextlib.suppress(BadFile):
            self._release(sync=False)
        with contextlib.suppress(OSError):
            self.path.unlink()

    def __enter__(self) -> "RecordingWriter":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _marks_for(self, rows: int, lost_before: NDArray[np.int64] | None) -> dict[int, str]:
        marks: dict[int, str] = {}
        if lost_before is not None:
            for row in np.flatnonzero(lost_before > 0).tolist():
                marks[row] = f"gap {int(lost_before[row])}"
        row = 0
        while self._marks and row < rows:
            if row not in marks:
                marks[row] = self._marks.popleft()
            row += 1
        return marks

    def _write(self, data: bytes) -> None:
        assert self._file is not None
        self._syncer.check(self.path)
        done = 0
        try:
            while done < len(data):
                done += os.write(self._file, data[done:])
        except OSError as error:
            # Take the torn row back; a reader would drop it anyway.
            with contextlib.suppress(OSError):
                os.ftruncate(self._file, self._end)
            self._release(sync=True)
            raise BadFile(_full(error, self.path, self.rows)) from None
        self._end += len(data)
        self._syncer.dirty = True

    def _release(self, sync: bool) -> None:
        file, self._file = self._file, None
        if file is None:
            return
        self._syncer.stop()
        try:
            if sync:
                os.fsync(file)
        except OSError as error:
            raise BadFile(_full(error, self.path, self.rows)) from None
        finally:
            os.close(file)


class _Syncer:
    """Ask the disk twice a second to keep what was written, in a thread of its own.

    A slow disk would otherwise stall the recorder until the serial port overflows.
    """

    def __init__(self, file: int) -> None:
        self.dirty = False
        self._file = file
        self._error: OSError | None = None
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="recording to disk", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._stopped.wait(SYNC_SECONDS):
            if self.dirty:
                self.dirty = False
                try:
                    os.fsync(self._file)
                except OSError as error:
                    self._error = error

    def check(self, path: Path) -> None:
        """Raise BadFile when the disk refused what was written before."""
        if self._error is not None and self._error.errno not in (errno.EINVAL, errno.ENOSYS):
            error, self._error = self._error, None
            raise BadFile(f"the disk did not keep all of {path}: {error.strerror or error}; "
                          "copy the file elsewhere and start a new recording")

    def stop(self) -> None:
        self._stopped.set()
        self._thread.join()


def write_recording(path: str | os.PathLike[str], recording: Recording,
                    number: bool = False) -> Path:
    """Write a recording in memory to a new file; without a trailer when it is not complete.

    number: take the next free name when there is a file already. Return the file's path.
    Raise BadFile when the path exists or cannot be written; then no file of it is left.
    """
    writer = RecordingWriter(path, header_of(recording), number)
    marks = _one_per_row(recording.marks, recording.rows)
    try:
        for start in range(0, recording.rows, 1 << 16):
            stop = min(start + (1 << 16), recording.rows)
            inside = {r - start: marks[r] for r in range(start, stop) if r in marks}
            writer._append(recording.time_s[start:stop],
                           [c.readings[start:stop] for c in recording.channels], inside)
        if recording.complete:
            writer.close()
    except BaseException:
        # A part of a log that is there as a whole elsewhere would only be taken for all of it.
        writer._remove()
        raise
    finally:
        writer.abandon()
    return writer.path


def free_path(path: str | os.PathLike[str]) -> Path:
    """Return the path, or with -2, -3 ... before its suffix the first that does not exist.

    Another program may take it before it is used: create it with `number`.
    """
    return next(name for name in numbered(Path(path)) if not is_taken(name))


def is_taken(path: Path) -> bool:
    """Return whether a file of that name exists; raise BadFile when no file can have it."""
    try:
        # Not path.exists(), which from Python 3.14 on calls such a name free.
        os.stat(path)
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return False
    except OSError as error:
        if error.errno == errno.ELOOP:
            return False
        raise BadFile(f"cannot write {path}: {error.strerror or error}; choose another name"
                      ) from None
    return True


def _one_per_row(marks: Sequence[Mark], rows: int) -> dict[int, str]:
    """Return one text per row; a second one moves to the nearest free row, gaps stay put."""
    result: dict[int, str] = {}
    for mark in sorted(marks, key=lambda m: (not _GAP.match(m.text), m.row)):
        row = mark.row
        while row in result and row < rows - 1:
            row += 1
        while row in result and row > 0:
            row -= 1
        result[row] = mark.text
    return result


def _create(path: Path, number: bool) -> tuple[int, Path]:
    try:
        return create_new(path, number)
    except FileExistsError:
        raise BadFile(f"{path} exists and is not written over; choose another name") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise BadFile(f"cannot write {path}: {reason}; choose another place") from None


def _full(error: OSError, path: Path, rows: int) -> str:
    full = error.errno in (errno.ENOSPC, getattr(errno, "EDQUOT", None), errno.EFBIG)
    what = "the disk is full" if full else f"cannot write ({error.strerror or error})"
    return (f"{what}: {path} ends after {rows} rows, all of them kept; "
            "free some space and start a new recording")
