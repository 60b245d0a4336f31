"""The recording file, version 1: a TOML header behind `#`, one CSV table, a checked trailer.

Rules: rows are only ever appended; a file that exists is never written over; what was handed
to the system is on disk within a second; a file without its trailer was cut short and opens
with every whole row; a file whose check sum is wrong is damaged and is refused.
"""

import os
import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import BinaryIO

from analysis.model.between import Between, go_on
from analysis.model.errors import BadRecording
from analysis.model.recording import Recording
from bench.errors import BadFile, NoRecording
from bench.files.read_limited import check_ordinary
from bench.files.recording_header import LONGEST_HEADER, RecordingHeader, header_of, parse_header
from bench.files.recording_writer import RecordingWriter, free_path, is_taken, write_recording
from bench.files.table_text import Table, split_line
from bench.wording.refusals import refused

__all__ = ["RecordingHeader", "RecordingWriter", "free_path", "header_of", "is_taken",
           "read_recording", "write_recording"]

# Small enough for the processor's cache: four times as large is half as fast.
BLOCK = 1 << 18
LONGEST_LINE = 1 << 16
_TRAILER = re.compile(rb"\n# end rows=(\d{1,15}) crc32=([0-9A-Fa-f]{8})\s*\Z")


def read_recording(path: str | os.PathLike[str], between: Between = go_on) -> Recording:
    """Return the recording in a file; complete is False when it had been cut short.

    between: called between two pieces of the file; what it raises ends the reading there.
    Raise BadFile, with the reason and where it is known the row, when the file is damaged,
    of another version, or no recording.
    """
    check_ordinary(path)
    try:
        with open(path, "rb") as file:
            return _read(file, between)
    except BadFile as error:
        # It may quote a damaged line, and a terminal obeys control signs.
        words = "".join(c if c.isprintable() else "?" for c in str(error))
        raise type(error)(words, os.fspath(path)) from None
    except OSError as error:
        raise BadFile(f"cannot read {os.fspath(path)}: {error.strerror or error}") from None


def _read(file: BinaryIO, between: Between) -> Recording:
    head = _read_head(file)
    end, promised = _find_end(file, head.first_row)
    if promised is None:
        # Cut short: nobody says how many rows there are.
        table = Table(len(head.columns), _count_lines(file, head.first_row, end), head.line)
        _read_rows(file, head, end, table, between)
    else:
        least = len(head.columns) + 3
        table = Table(len(head.columns), min(promised[0], (end - head.first_row) // least),
                      head.line)
        try:
            crc = _read_rows(file, head, end, table, between)
        except BadFile as error:
            crc = _check_sum(file, head, end)
            if crc == promised[1]:
                raise
            raise BadFile(_damage(file, head, end, promised[1], crc, f" ({error})")) from None
        if crc != promised[1]:
            raise BadFile(_damage(file, head, end, promised[1], crc, ""))
        if table.rows != promised[0]:
            raise BadFile(f"damaged: the trailer promises {promised[0]} rows, there are "
                          f"{table.rows}; use another copy")
    header = head.header
    channels = tuple(replace(c, readings=table.values[head.columns.index(c.column), : table.rows])
                     for c in header.channels)
    try:
        return Recording(
            table.time_s[: table.rows], channels, tuple(table.marks), header.title,
            header.purpose, header.started, header.rate_hz, promised is not None,
            header.board_name, header.extra)
    except BadRecording as error:
        raise BadFile(refused(error)) from None


@dataclass(frozen=True)
class _Head:
    """Hold what stands before the rows; table_start, first_row: offsets in bytes of the column
    line and of the first row; line: number of the column line."""

    header: RecordingHeader
    columns: tuple[str, ...]
    table_start: int
    first_row: int
    line: int
    crlf: bool


def _read_head(file: BinaryIO) -> _Head:
    start = file.read(LONGEST_HEADER + LONGEST_LINE)
    at = 3 if start.startswith(b"\xef\xbb\xbf") else 0
    lines: list[str] = []
    while start[at: at + 1] == b"#":
        newline = start.find(b"\n", at)
        if at > LONGEST_HEADER or (newline < 0 and len(start) > LONGEST_HEADER):
            raise BadFile(f"the header is longer than {LONGEST_HEADER} bytes; "
                          "this is no recording, or it is damaged")
        if newline < 0:
            raise BadFile("cut short within its header; nothing was recorded")
        try:
            text = start[at: newline].decode("utf-8").rstrip("\r")
        except UnicodeDecodeError:
            raise BadFile(f"line {len(lines) + 1} is not UTF-8 text; save the file as UTF-8"
                          ) from None
        lines.append("" if text == "#" else text.removeprefix("# "))
        at = newline + 1
    if not start:
        raise BadFile("the file is empty; nothing was recorded")
    if not lines:
        raise NoRecording("no '# stillpedal_recording = 1' on top, so it is not a recording; "
                      "bring logs of other origin in with 'stillpedal import'")
    newline = start.find(b"\n", at)
    header = parse_header(lines) if newline >= 0 or at < len(start) else None
    if header is None or newline < 0:
        raise BadFile("cut short before its first row; nothing was recorded" if
                      len(start) - at < LONGEST_LINE else "the column line is endless; damaged")
    line = len(lines) + 1
    columns = split_line(start[at: newline + 1], f"line {line} (column names)")
    if len(columns) < 3 or columns[0] != "time_s" or columns[-1] != "mark":
        raise BadFile(f"line {line} must name the columns 'time_s', the channels, 'mark'; "
                      f"it names {', '.join(columns)[:200]}")
    columns = columns[1:-1]
    if sorted(columns) != sorted(header.columns):
        raise BadFile(f"the table has the channels {', '.join(columns)[:200]} but the header "
                      f"describes {', '.join(header.columns)[:200]}; they must agree")
    return _Head(header, tuple(columns), at, newline + 1, line,
                 start[at: newline + 1].endswith(b"\r\n"))


def _find_end(file: BinaryIO, first_row: int) -> tuple[int, tuple[int, int] | None]:
    """Return where the last whole row ends, and rows and check sum if there is a trailer."""
    size = file.seek(0, os.SEEK_END)
    tail_start = max(first_row - 1, size - 4096)
    file.seek(tail_start)
    found = _TRAILER.search(file.read())
    if found:
        return tail_start + found.start() + 1, (int(found[1]), int(found[2], 16))
    # A disk that lost power may leave NUL bytes where the last rows should have come.
    end = size
    while end > first_row:
        start = max(first_row, end - BLOCK)
        file.seek(start)
        newline = file.read(end - start).rstrip(b"\0").rfind(b"\n")
        if newline >= 0:
            return start + newline + 1, None
        end = start
    return first_row, None


def _blocks(file: BinaryIO, start: int, end: int) -> Iterator[bytes]:
    file.seek(start)
    while start < end:
        block = file.read(min(BLOCK, end - start))
        if not block:
            raise BadFile("the file became shorter while it was read; try again")
        start += len(block)
        yield block


def _count_lines(file: BinaryIO, start: int, end: int) -> int:
    return sum(block.count(b"\n") for block in _blocks(file, start, end))


def _check_sum(file: BinaryIO, head: _Head, end: int) -> int:
    crc = 0
    for block in _blocks(file, head.table_start, end):
        crc = zlib.crc32(block, crc)
    return crc


def _read_rows(file: BinaryIO, head: _Head, end: int, table: Table, between: Between) -> int:
    """Decode the rows up to `end` and return the check sum of the table so far."""
    file.seek(head.table_start)
    crc = zlib.crc32(file.read(head.first_row - head.table_start))
    rest = b""
    for block in _blocks(file, head.first_row, end):
        between(file.tell() / end)
        crc = zlib.crc32(block, crc)
        whole = block.rfind(b"\n") + 1
        if not whole:
            rest += block
            if len(rest) > LONGEST_LINE:
                raise BadFile(f"row {table.rows + 1} is longer than {LONGEST_LINE} bytes; damaged")
            continue
        if head.crlf:
            lines = rest + block[:whole]
            left = table.add_block(lines.replace(b"\r\n", b"\n"))
        else:
            left = table.add_block(rest, memoryview(block)[:whole])
        rest = left + block[whole:]
    if rest:
        raise table.never_ends()
    return crc


def _damage(file: BinaryIO, head: _Head, end: int, promised: int, found: int, where: str) -> str:
    """Return why a check sum is wrong, as far as it can be told."""
    crc, rest = 0, b""
    for block in _blocks(file, head.table_start, end):
        block = rest + block
        rest = block[-1:] if block.endswith(b"\r") else b""
        crc = zlib.crc32(block[: len(block) - len(rest)].replace(b"\r\n", b"\n"), crc)
    if zlib.crc32(rest, crc) == promised:
        return ("its line ends were converted to CRLF by an editor or a mail program, so its "
                "check sum is wrong; convert them back to LF, the readings are as recorded")
    return (f"damaged: its check sum is {found:08X} but the trailer promises {promised:08X}{where}"
            "; use another copy")
