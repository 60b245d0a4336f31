"""The words by which a board says what it is; the same in a `#` line and in a hello frame.

    full_scale=1024 reference_volts=5.0 rate_hz=200 time=us columns=a,b,supply name="my board"
"""

import math
import re
from dataclasses import dataclass, field

from analysis.model.recording import ROLES
from bench.acquisition.wire.lines import decode_words
from bench.acquisition.wire.samples import Hello
from bench.acquisition.wire.widths import LARGEST_READING, MOST_CHANNELS

LONGEST_HELLO = 1000
_PAIR = re.compile(r'([A-Za-z_]\w*)=("[^"]*"|\S+)')
_COLUMN = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,31}\Z")
_KNOWN = {"name", "columns", "roles", "full_scale", "reference_volts", "rate_hz", "usable_low",
          "usable_high", "time"}
# Names by which a first column says that it is the board's clock.
TIME_NAMES = {"us": "us", "time_us": "us", "t_us": "us", "ms": "ms", "time_ms": "ms",
              "t_ms": "ms"}
_TAKEN = ("time_s", "mark")  # column names of the recording file itself


@dataclass(frozen=True)
class HelloWords:
    """Hold a parsed hello: what the board is, its clock's unit ("us", "ms", None), the rest."""

    hello: Hello
    time_unit: str | None
    others: dict[str, str] = field(default_factory=dict)


def default_columns(count: int) -> tuple[str, ...]:
    """Return names for channels nobody named: a, b, c, ..."""
    return tuple("abcdefghijklmnop"[:count])


def parse_hello(text: str) -> HelloWords | None:
    """Return what the words say, None when none is known; raise ValueError with what is wrong.

    `columns` is () when the board named none.
    """
    words = {key: value.strip('"') for key, value in _PAIR.findall(text)}
    if not _KNOWN & words.keys():
        return None
    columns, roles, unit = _columns_said(words)
    full_scale = _number(words, "full_scale", 2, LARGEST_READING + 1)
    low = _number(words, "usable_low", -LARGEST_READING - 1, LARGEST_READING)
    high = _number(words, "usable_high", 0, LARGEST_READING)
    return HelloWords(
        Hello(
            name=words.get("name", ""), columns=columns,
            full_scale=None if full_scale is None else int(full_scale),
            reference_volts=_number(words, "reference_volts", 1e-3, 1000.0),
            rate_hz=_number(words, "rate_hz", 1e-3, 1e6),
            usable_low=None if low is None else int(low),
            usable_high=None if high is None else int(high),
            roles=roles),
        None if unit == "none" else unit,
        {key: value for key, value in words.items() if key not in _KNOWN})


def _columns_said(words: dict[str, str]) -> tuple[
        tuple[str, ...], tuple[str, ...] | None, str | None]:
    """Return the columns without that of the clock, their roles, and the clock's unit."""
    columns = tuple(words["columns"].split(",")) if "columns" in words else ()
    roles = tuple(words["roles"].split(",")) if "roles" in words else None
    unit = words.get("time")
    named = TIME_NAMES.get(columns[0].lower()) if columns else None
    if named is not None and unit in (None, named):
        # The clock's column is named and its unit with it; it is no reading.
        unit = named
        if roles is not None and len(roles) == len(columns):
            roles = roles[1:]
        columns = columns[1:]
    for column in columns:
        if not _COLUMN.match(column) or column in _TAKEN:
            raise ValueError(f"column name {column!r} cannot be used; take letters a to z, "
                             "digits and _")
    if len(columns) > MOST_CHANNELS or len(set(columns)) != len(columns):
        raise ValueError(f"columns {words['columns']!r}: at most {MOST_CHANNELS}, all different")
    if roles is not None and (len(roles) != len(columns) or not set(roles) <= set(ROLES)):
        raise ValueError(f"roles {words['roles']!r}: one of {', '.join(ROLES)} per column")
    if unit not in (None, "us", "ms", "none"):
        raise ValueError(f"time {unit!r} is not us, ms or none")
    return columns, roles, unit


def _number(words: dict[str, str], key: str, low: float, high: float) -> float | None:
    if key not in words:
        return None
    try:
        value = float(words[key])
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise ValueError(f"{key} {words[key]!r} is not a number from {low:g} to {high:g}")
    return value


def hello_words(hello: Hello, time_unit: str | None = None) -> str:
    """Return the words that say this hello; `parse_hello` reads them back."""
    words = [f'name="{_plain(hello.name)}"'] if hello.name else []
    for key in ("full_scale", "reference_volts", "rate_hz", "usable_low", "usable_high"):
        value = getattr(hello, key)
        if value is not None:
            words.append(f"{key}={value!r}")
    if time_unit:
        words.append(f"time={time_unit}")
    if hello.columns:
        words.append("columns=" + ",".join(hello.columns))
    if hello.roles:
        words.append("roles=" + ",".join(hello.roles))
    return " ".join(words)


def _plain(name: str) -> str:
    return "".join(c if " " <= c <= "~" and c != '"' else "?" for c in name)


def named_columns(line: bytes) -> str | None:
    """Return a table's head, such as t_ms,a,b, as the words that a # line would say; else None."""
    first, comma, rest = line.partition(b",")
    if not comma or first.strip().lower().decode("latin-1") not in TIME_NAMES:
        return None
    names = [name.strip() for name in (first, *rest.split(b","))]
    return "columns=" + b",".join(names).decode("latin-1") if all(
        name.isidentifier() for name in map(decode_words, names)) else None
