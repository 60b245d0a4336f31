"""Plain text lines of counts or of volts -> rows; the format anybody can write in ten lines.

Numbers are separated by commas, tabs or blanks; `name:value` and `name=value` are allowed, also
with blanks around the sign; a leading time is announced by `time=us` or `time=ms` in a `#` line,
or by the names us, ms, time_us, time_ms. A line is taken whole or refused whole, with the reason.
Numbers with a decimal point are volts at the pin; a stream keeps to what it began with.
The first line is thrown away unless it begins with `#`: nobody can tell whether its first number
is torn.

Large pieces of clean lines are read at once; only a block with an odd line in it is read line
by line.
"""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench.acquisition.wire.blocks import read_block
from bench.acquisition.wire.clock import StreamClock
from bench.acquisition.wire.hello_text import (
    LONGEST_HELLO,
    TIME_NAMES,
    default_columns,
    named_columns,
    parse_hello,
)
from bench.acquisition.wire.lines import Refused, decode_words, is_words, read_line
from bench.acquisition.wire.samples import Batch, Hello, empty_batch
from bench.acquisition.wire.widths import LARGEST_READING

# The longest line: a hello with "# " and "\r\n". Longer ones are noise, thrown away.
LONGEST_LINE = LONGEST_HELLO + 4
_BLOCK = 1 << 16
_SMALL = 1 << 12  # below this many bytes reading line by line is quicker
_AGREEING = 3  # lines with a new number of fields, one after another, before it is believed
_MOST_PROBLEMS = 10
_CLOCK_ASKED = 200
# No converter board takes more at a pin; a number above it is no reading in volts.
MOST_VOLTS = 60.0
_LARGEST_TIME = (1 << 53) - 1

TICK_US = {"us": 1, "ms": 1000}


class TextDecoder:
    """Turn bytes of text lines into batches; `hello` is the last one heard or made up."""

    def __init__(self, clock: StreamClock, unit: str | None = None,
                 full_scale: float | None = None) -> None:
        self._clock = clock
        self._stated_unit, self._full_scale = unit, full_scale
        # Lines in a row that were refused for a reading beyond full scale, and what the last was.
        self.beyond, self.beyond_words = 0, ""
        self._rest = b""
        self._line = 0
        self._skip_first = True
        self._overlong = self._overlong_comment = False
        self.hello: Hello | None = None
        self._told = False  # the board named its columns
        self._made_up: Hello | None = None
        self._unit = None if unit == "none" else unit
        self._width = 0  # numbers per line, the time included; 0 = not settled
        self._names: tuple[str, ...] | None = None
        self._candidates: list[tuple[int, tuple[str, ...] | None, list[float]]] = []
        self._volts = False
        self._held_decimals: tuple[tuple[str, ...] | None, list[float]] | None = None
        self._refused = 0  # since the last row
        self._rows: list[list[float]] = []
        self._before: list[int] = []
        self._out: list[Batch] = []
        self._problems: list[str] = []
        self._more_problems = 0
        self.board_says: dict[str, str] = {}
        self.good = 0
        self.bad = 0
        self.idle_bytes = 0  # thrown away since the last good line

    def restart(self) -> None:
        """Forget unfinished bytes; the stream may go on in the middle of a line."""
        self._rest = b""
        self._skip_first, self._overlong = True, False
        self._candidates = []
        self._rows, self._before = [], []
        self._refused = 0
        self.idle_bytes = 0

    @property
    def unread_bytes(self) -> int:
        """Return how many bytes came since the last good line."""
        return self.idle_bytes + len(self._rest)

    def feed(self, data: bytes, last: bool = False) -> list[Batch]:
        """Return the batches these bytes complete; `last`: no more will come."""
        buffer = self._rest + data
        if last and buffer:
            buffer += b"\n"
        cut = buffer.rfind(b"\n") + 1
        whole, self._rest = buffer[:cut], buffer[cut:]
        position = 0
        while position < len(whole):
            end = whole.find(b"\n", min(position + _BLOCK, len(whole) - 1)) + 1
            block = whole[position:end]
            position = end
            if len(block) < _SMALL or not self._read_block(block):
                for line in block.split(b"\n")[:-1]:
                    self._read_one(line)
        # Behind the whole lines: what is too long is not the first of them.
        if len(self._rest) > LONGEST_LINE:
            if not self._overlong:
                self._overlong_comment = self._rest.lstrip().startswith(b"#")
            if not self._overlong_comment:
                self.idle_bytes += len(self._rest)
            self._rest, self._overlong = b"", True
        if last and self._candidates:
            self._settle()
        self._emit(more=not last)
        if self._problems:
            if self._more_problems:
                self._problems.append(f"{self._more_problems} more lines refused in this piece")
            self._out.insert(0, empty_batch(self._channels, None, tuple(self._problems)))
        out, self._out, self._problems, self._more_problems = self._out, [], [], 0
        return out

    def let_go(self) -> list[Batch]:
        """Return the rows that wait for what comes behind them."""
        self._emit()
        out, self._out = self._out, []
        return out

    @property
    def has_clock(self) -> bool:
        """Say whether the lines begin with the board's time."""
        return self._unit is not None

    @property
    def _channels(self) -> int:
        return max(0, self._width - (self._unit is not None))

    def _read_one(self, raw: bytes) -> None:
        self._line += 1
        if self._overlong or len(raw) > LONGEST_LINE:
            comment = self._overlong_comment if self._overlong else raw.lstrip().startswith(b"#")
            self._overlong = False
            self._refuse("is longer than any line may be", raw, lost=not comment)
            if comment:
                self.idle_bytes = 0
            return
        text = raw.strip()
        comment = text.startswith(b"#")
        words = decode_words(text[1:]) if comment else named_columns(text)
        if self._skip_first and words is None:
            self._skip_first = False
            return
        self._skip_first = False
        if not text:
            return
        try:
            if words is not None:
                self._comment(words)
                self.idle_bytes = 0
                return
            names, values = read_line(text.decode("ascii"))
            self._take(names, values)
            self.idle_bytes = 0
        except UnicodeDecodeError:
            self._refuse("holds bytes that are no text", raw,
                         lost=not is_words(text, bool(self._names)))
        except Refused as reason:
            self._refuse(str(reason), raw,
                         lost=words is None and not is_words(text, bool(self._names)))

    def _refuse(self, why: str, raw: bytes = b"", lost: bool = True) -> None:
        """Count and tell a line that is no row; lost: it may have been one."""
        self.bad += 1
        self._refused += lost
        self.idle_bytes += len(raw) + 1
        if len(self._problems) < _MOST_PROBLEMS:
            self._problems.append(f"line {self._line} {why}; thrown away")
        else:
            self._more_problems += 1

    def _comment(self, text: str) -> None:
        try:
            words = parse_hello(text)
        except ValueError as error:
            raise Refused(f"is a hello we cannot use: {error}") from None
        if words is None:
            return
        self.board_says.update(words.others)
        hello, unit = replace(words.hello, volts=self._volts), words.time_unit
        if self._stated_unit is not None:
            unit = None if self._stated_unit == "none" else self._stated_unit
        if not hello.columns and self._names is None:
            count = self._width - (unit is not None) if self._width else 0
            hello = _with_columns(hello, default_columns(max(0, count)))
        elif not hello.columns:
            hello = _with_columns(hello, self.hello.columns if self.hello else ())
        if hello == self.hello and unit == self._unit:
            return
        self._emit()
        self._told = bool(words.hello.columns)
        self._unit = unit
        self.hello = hello
        if self._told:
            self._width = len(hello.columns) + (self._unit is not None)
            self._names = None
            self._candidates = []
        if hello.columns:
            self._out.append(empty_batch(self._channels, hello))

    def _take(self, names: tuple[str, ...] | None, values: list[float]) -> None:
        if not (self.good or self._volts) and not self._decide_decimals(names, values):
            return
        if self._told:
            if self._stated_unit in TICK_US and len(values) == self._width - 1 > 1 \
                    and not self.good and self.hello:
                # The user says that the first of the columns is the clock.
                self._width -= 1
                self.hello = _with_columns(self.hello, self.hello.columns[1:])
                self._out.append(empty_batch(self._channels, self.hello))
            if len(values) != self._width:
                raise Refused(f"has {len(values)} numbers, {self._width} are expected")
            columns = self.hello.columns if self.hello else ()
            if (names and set(columns) <= set(names)
                    and names[len(values) - len(columns):] != columns):
                raise Refused("names its numbers in another order than the board's columns")
            self._keep(values)
        elif len(values) == self._width and names == self._names:
            self._drop_candidates()
            self._keep(values)
        else:
            self._consider(names, values)

    def _decide_decimals(self, names: tuple[str, ...] | None, values: list[float]) -> bool:
        """Return whether a line is to be taken now: the first with a decimal waits for a second.

        Two in a row are volts, unless the board says that it sends counts.
        """
        held, self._held_decimals = self._held_decimals, None
        decimal = any(isinstance(v, float) for v in values)
        if not decimal or (self.hello is not None and self.hello.full_scale is not None):
            if held is not None:
                self._refuse("has a decimal point, unlike its neighbours")
            return True
        if held is None:
            self._held_decimals = (names, values)
            return False
        self._volts = True
        if self.hello is not None and self.hello.columns:
            self.hello = replace(self.hello, volts=True)
            self._out.append(empty_batch(self._channels, self.hello))
        self._take(*held)
        return True

    def _consider(self, names: tuple[str, ...] | None, values: list[float]) -> None:
        """Hold a line of a new shape until enough like it follow one another."""
        if self._candidates and (self._candidates[-1][1] != names
                                 or len(self._candidates[-1][2]) != len(values)):
            self._drop_candidates()
        self._candidates.append((self._line, names, values))
        if len(self._candidates) >= (_AGREEING if self._width else 2):
            self._settle()

    def _drop_candidates(self) -> None:
        now = self._line
        dropped, self._candidates = self._candidates, []
        for self._line, _, values in dropped:
            self._refuse(f"has {len(values)} numbers, unlike its neighbours")
        self._line = now

    def _settle(self) -> None:
        """Believe the shape of the held lines, and name the channels after it."""
        held, self._candidates = self._candidates, []
        self._emit()
        _, names, values = held[-1]
        columns: tuple[str, ...]
        if names is not None:
            self._unit = TIME_NAMES.get(names[0].lower(), self._unit)
            columns = names[1:] if self._unit else names
        else:
            known = self.hello.columns if self.hello else ()
            if known and self.hello != self._made_up and len(values) == len(known) + 1:
                # The board said in frames what it is, and went over to text: our own boards
                # then begin a line with their clock.
                self._unit = "us"
            count = len(values) - (self._unit is not None)
            columns = known if len(known) == count else default_columns(count)
        self._width, self._names = len(values), names
        base = self.hello or Hello("", (), None, None, None)
        hello = replace(_with_columns(base, columns), volts=self._volts)
        if hello != self.hello:
            self.hello = self._made_up = hello
            self._out.append(empty_batch(self._channels, hello))
        now = self._line
        for self._line, _, numbers in held:
            try:
                self._keep(numbers)
            except Refused as reason:
                self._refuse(str(reason))
        self._line = now

    def _keep(self, values: list[float]) -> None:
        readings = values[1:] if self._unit else values
        top = self._top
        if not readings:
            raise Refused("has a time and no reading")
        decimals = next((v for v in (values if not self._volts else values[:1] if self._unit
                                     else ()) if isinstance(v, float)), None)
        if decimals is not None:
            raise Refused(f"'{decimals:g}' is not a whole number from 0 on")
        least = self._least
        if not self._volts and (min(values) < least or (self._unit and values[0] < 0)):
            raise Refused(f"'{min(values):.16g}' is not a whole number from "
                          + (f"{least} on" if least else "0 on, and no usable_low says below"))
        # A clock that nobody announced is asked about first, and then no reading any more.
        bare_clock = self._volts and isinstance(readings[0], int) and self.good < _CLOCK_ASKED
        if max(readings[1:] if bare_clock and len(readings) > 1 else readings) > top:
            self._beyond(readings, top)
            raise Refused(f"has the reading {max(readings):.16g}, the largest possible is "
                          f"{top:.16g}")
        if self._unit and values[0] > _LARGEST_TIME:
            raise Refused(f"has the time {values[0]}, too large")
        self._rows.append(values)
        self._before.append(self._refused)
        self._refused = self.beyond = 0
        self.good += 1

    @property
    def _top(self) -> float:
        if self._volts:
            return MOST_VOLTS
        scale = self._full_scale or (self.hello.full_scale if self.hello else None)
        return LARGEST_READING if scale is None else min(int(scale), LARGEST_READING)

    @property
    def _least(self) -> int:
        """Return the lowest count that the board states: below 0 where it reads both ways."""
        return int(self.hello.codes.least) if self.hello and self.hello.codes.signed else 0

    def _beyond(self, readings: list[float], top: float) -> None:
        self.beyond += 1
        columns = self.hello.columns if self.hello else ()
        place = readings.index(max(readings))
        name = columns[place] if place < len(columns) else f"number {place + 1}"
        most = f"no board reads more than {top:g} V" if self._volts else \
            f"its full scale is {top}"
        self.beyond_words = f"{name} reads {max(readings):.16g}, and {most}"

    def _emit(self, more: bool = False) -> None:
        """Close the rows read so far into a batch, but for those that wait for more to come."""
        if not self._rows:
            return
        table = np.array(self._rows, np.float64 if self._volts else np.int64)
        before = np.array(self._before, np.int64)
        self._place(table, before, more)

    def _place(self, table: NDArray[Any], before: NDArray[np.int64], more: bool) -> None:
        ticks = table[:, 0].astype(np.int64) if self._unit else None
        placed = self._clock.place_lines(
            ticks, TICK_US.get(self._unit or "", 1), before,
            self.hello.rate_hz if self.hello else None, more)
        count = placed.time_s.size
        self._rows, self._before = table[count:].tolist(), before[count:].tolist()
        if count:
            self._out.append(Batch(placed.time_s, table[:count, int(self._unit is not None):],
                                   placed.lost_before, None, (), placed.restarts))

    def _read_block(self, block: bytes) -> bool:
        """Read a block of clean, settled lines at once; False leaves it to the slow way."""
        if self._skip_first or self._overlong or not self._width or self._names \
                or self._candidates or self._volts:
            return False
        table = read_block(block, self._width)
        if table is None:
            return False
        readings = table[:, 1:] if self._unit else table
        if not readings.shape[1] or readings.max() > self._top \
                or (self._unit and table[:, 0].max() > _LARGEST_TIME):
            return False
        self._line += len(table)
        self.good += len(table)
        self.beyond = 0
        before = np.zeros(len(table), np.int64)
        before[0], self._refused = self._refused, 0
        waiting = np.array(self._rows, np.int64).reshape(-1, self._width)
        self._place(np.concatenate([waiting, table]),
                    np.concatenate([np.array(self._before, np.int64), before]), more=True)
        self.idle_bytes = 0
        return True


def _with_columns(hello: Hello, columns: tuple[str, ...]) -> Hello:
    same = len(columns) == len(hello.roles or ())
    return replace(hello, columns=columns, roles=hello.roles if same else None)
