"""The header of a recording file: TOML behind `# `, to and from a `RecordingHeader`.

Rules: a known key of the wrong type is refused, an unknown key is kept and written back.
"""

import datetime
import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analysis.model.errors import BadRecording
from analysis.model.recording import MOST, PURPOSES, Channel, Recording
from bench.errors import BadFile, NoRecording
from bench.wording.refusals import refused

VERSION = 1
# Room for hundreds of channels and long titles; a file that is all `#` lines is no recording.
LONGEST_HEADER = 1 << 20
MOST_CHANNELS = 1024
# No header of ours has more than two of either.
_MOST_DOTS, _DEEPEST = 16, 32
_STRINGS = re.compile(r""""(?:[^"\\]|\\.)*+"?|'[^']*+'?""")
_PARTS = re.compile(r"[=,{}\[\]]")
_BRACKETS = re.compile(r"[\[\]{}]")
_RESERVED = ("time_s", "mark")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+\Z")
_TEXTS = ("column", "role", "unit")
_NUMBERS = ("full_scale", "reference_volts", "scale", "offset_volts", "nominal_volts",
            "usable_low", "usable_high", "reading_step")


@dataclass(frozen=True)
class RecordingHeader:
    """Hold what a recording says of itself before its rows.

    channels: with readings of shape (0,), in column order. started: ISO 8601 with offset.
    extra: unknown keys; those of the board under "board", those of channels under "channel"
    by column name.
    """

    channels: tuple[Channel, ...]
    title: str = ""
    purpose: str = "sweep"
    started: str = ""
    rate_hz: float | None = None
    board_name: str = ""
    extra: dict[str, object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        columns = [c.column for c in self.channels]
        if not columns:
            raise BadFile("the header names no channel; add a [[channel]] with column and role")
        if len(columns) > MOST_CHANNELS:
            raise BadFile(f"the header names {len(columns)} channels; at most {MOST_CHANNELS}")
        for column in columns:
            if columns.count(column) > 1:
                raise BadFile(f"two channels are called {column!r}; rename one")
            if column in _RESERVED or not column.strip() or not column.isprintable() \
                    or column[0] in "#\ufeff":
                raise BadFile(f"a channel cannot be called {column!r}; choose another name")
        if self.purpose not in PURPOSES:
            raise BadFile(f"purpose {self.purpose!r}; use one of {', '.join(PURPOSES)}")
        if self.rate_hz is not None and not 1.0 / MOST <= self.rate_hz <= MOST:
            raise BadFile(f"rate_hz is {self.rate_hz}; state a number above 0 or leave it out")

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the names of the channels."""
        return tuple(c.column for c in self.channels)


def header_of(recording: Recording) -> RecordingHeader:
    """Return the header that a recording in memory would have in a file."""
    return RecordingHeader(
        tuple(_without_readings(c) for c in recording.channels), recording.title,
        recording.purpose, recording.started, recording.rate_hz, recording.board_name,
        dict(recording.extra))


def parse_header(lines: list[str]) -> RecordingHeader:
    """Return the header from its lines without `# `; raise BadFile with the reason."""
    _refuse_bombs(lines)
    try:
        document = tomllib.loads("\n".join(lines) + "\n")
    except (ValueError, RecursionError) as error:  # numbers of 5000 digits are a ValueError
        raise BadFile(f"the header is not TOML ({error}); repair that line") from None
    if "stillpedal_recording" not in document:
        raise NoRecording("no 'stillpedal_recording = 1' in the header, so it is not a recording; "
                      "bring logs of other origin in with 'stillpedal import'")
    version = document.pop("stillpedal_recording")
    if type(version) is not int or version != VERSION:
        raise BadFile(f"recording version {version!r} is not known here (known: {VERSION}); "
                      "read it with the program that wrote it, or update this one")
    board = _take(document, "board", dict, {})
    tables = _take(document, "channel", list, [])
    if not all(isinstance(t, dict) for t in tables):
        raise BadFile("'channel' in the header must be [[channel]] tables")
    channels, more = [], {}
    for table in tables:
        channel, unknown = _channel(dict(table))
        channels.append(channel)
        if unknown:
            more[channel.column] = unknown
    started = document.pop("started", "")
    if isinstance(started, datetime.datetime):
        started = started.isoformat()
    elif not isinstance(started, str):
        raise BadFile(f"started is {started!r} in the header; write an ISO 8601 time in quotes")
    known = {
        "title": _take(document, "title", str, ""),
        "purpose": _take(document, "purpose", str, "sweep"),
        "rate_hz": _number(document, "rate_hz"),
        "board_name": _take(board, "name", str, ""),
    }
    extra: dict[str, object] = dict(document)
    if board:
        extra["board"] = board
    if more:
        extra["channel"] = more
    return RecordingHeader(tuple(channels), started=started, extra=extra, **known)


def _refuse_bombs(lines: list[str]) -> None:
    """Raise BadFile for keys and nesting that a TOML reader takes quadratic time and memory for."""
    depth = 0
    for number, line in enumerate(lines, 1):
        # What begins or ends a text of several lines is taken as it stands.
        several = '"""' in line or "'''" in line
        plain = line if several else _STRINGS.sub("", line)
        parts = _PARTS.split(plain)
        if any(part.count(".") > _MOST_DOTS for part in parts):
            raise BadFile(f"line {number} of the header names a key of more than {_MOST_DOTS} "
                          "dots; repair that line")
        for sign in _BRACKETS.findall(plain):
            depth += 1 if sign in "[{" else -1
            if depth > _DEEPEST:
                raise BadFile(f"line {number} of the header nests deeper than {_DEEPEST} brackets; "
                              "repair that line")


def header_text(header: RecordingHeader) -> str:
    """Return the header as it stands in the file, every line with `# `, ending in a newline."""
    extra = dict(header.extra)
    board = extra.pop("board", {})
    per_channel = extra.pop("channel", {})
    board = dict(board) if isinstance(board, Mapping) else {}
    per_channel = per_channel if isinstance(per_channel, Mapping) else {}
    lines = [f"stillpedal_recording = {VERSION}"]
    if header.title:
        lines.append(_pair("title", header.title))
    if header.started:
        lines.append(_pair("started", header.started))
    lines.append(_pair("purpose", header.purpose))
    if header.rate_hz is not None:
        lines.append(_pair("rate_hz", float(header.rate_hz)))
    lines += [_pair(k, v) for k, v in extra.items()]
    if header.board_name or board:
        lines.append("[board]")
        lines += [_pair(k, v) for k, v in ({"name": header.board_name} | board).items()]
    for channel in header.channels:
        lines.append("[[channel]]")
        lines += [_pair(k, getattr(channel, k)) for k in _TEXTS]
        for name in _NUMBERS:
            value = getattr(channel, name)
            if value is not None and (name, value) not in (("scale", 1.0), ("offset_volts", 0.0)):
                whole = name == "full_scale" and float(value).is_integer()
                lines.append(_pair(name, int(value) if whole else float(value)))
        unknown = per_channel.get(channel.column, {})
        lines += [_pair(k, v) for k, v in unknown.items()]
    return "".join(f"# {line}\n" for line in lines)


def _channel(table: dict[str, Any]) -> tuple[Channel, dict[str, Any]]:
    column = _take(table, "column", str, None)
    if column is None:
        raise BadFile("a [[channel]] in the header has no column; add column = \"NAME\"")
    try:
        known: dict[str, Any] = {
            "role": _take(table, "role", str, "other"),
            "unit": _take(table, "unit", str, "counts"),
        }
        for name in _NUMBERS:
            value = _number(table, name)
            if value is not None:
                known[name] = value
        return Channel(column, readings=np.empty(0), **known), table
    except BadFile as error:
        raise BadFile(f"channel {column!r}: {error}") from None
    except BadRecording as error:
        raise BadFile(refused(error)) from None


def _take(table: dict[str, Any], key: str, kind: type, default: Any) -> Any:
    value = table.pop(key, default)
    if value is not default and not isinstance(value, kind):
        names: dict[type, str] = {
            str: "a text in quotes", dict: "a table", list: "an array of tables"}
        raise BadFile(f"{key} is {value!r} in the header; write {names[kind]}")
    return value


def _number(table: dict[str, Any], key: str) -> float | None:
    value = table.pop(key, None)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadFile(f"{key} is {value!r} in the header; write a number")
    try:
        return float(value)
    except OverflowError:
        raise BadFile(f"{key} in the header is too large a number") from None


def _without_readings(channel: Channel) -> Channel:
    values = {k: getattr(channel, k) for k in (*_TEXTS, *_NUMBERS)}
    return Channel(readings=np.empty(0), **values)


def _pair(key: str, value: object) -> str:
    return f"{_key(key)} = {_toml(value)}"


def _key(key: str) -> str:
    return key if _BARE_KEY.match(key) else toml_text(key)


def toml_text(text: str) -> str:
    """Return a text as a basic TOML string."""
    # A JSON string is a TOML basic string, but for DEL and for lone surrogates.
    clean = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(clean, ensure_ascii=False).replace("\x7f", "\\u007f")


def _toml(value: object) -> str:
    """Return a value as TOML on one line; what TOML cannot say becomes its text."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | np.integer):
        return str(int(value))
    if isinstance(value, float | np.floating):
        number = float(value)
        if number.is_integer() and abs(number) < 1e15:
            return f"{number:.1f}"
        return repr(number)
    if isinstance(value, datetime.datetime | datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, Mapping):
        inside = ", ".join(_pair(str(k), v) for k, v in value.items())
        return "{ " + inside + " }" if inside else "{}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return toml_text(str(value))
