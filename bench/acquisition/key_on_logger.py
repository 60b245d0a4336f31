"""The in-car log: wait for the key with the last seconds in hand, then log and mark every turn.

Rules: what was seen before the start is kept for `before_s` only, so that waiting for hours costs
no memory; once started, every row goes to the file; a turn of the key is marked at its own row.
"""

import collections
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import CONTACTOR, Array, Channel
from bench.acquisition.listener import Rows, Source
from bench.acquisition.recorder_file import FileListener
from bench.errors import BadCall

# Three times 25 s less the settling leave the 60 s of rest that the proof needs
# (docs/method_keyon.md, "Proof"); ten seconds off are rest enough before a key-on.
ON_S, OFF_S = 25.0, 10.0
HOW = (f"Key on for {ON_S:g} s, off for {OFF_S:g} s, at least three times; ten say more.")
STARTS = ("auto", "key", "supply", "enter", "now")
_LONGEST_BEFORE_S = 600.0
# Contact bounce of a key switch lies below this (common practice, no source).
_BOUNCE_S = 0.05
# Shares of nominal at which a supply has gone and has come; a key line falls by half.
_SUPPLY_GONE, _SUPPLY_CAME, _KEY_GONE = 0.3, 0.6, 0.5


@dataclass(frozen=True)
class LoggerOptions:
    """Hold when a log starts and ends.

    start_on: "key" (a channel of that role), "supply", "enter" (only the user), "now", or
    "auto": the first of key and supply that there is, else now. The user's Enter always starts.
    before_s: kept from before the start, 0 to 600 s. key_volts: above it the key is on.
    cycles, seconds: the log ends after so many key cycles, or so much time; None: never.
    contactor: what the user states of it at these key-ons, "open" or "closed"; None: nothing.
    """

    start_on: str = "auto"
    before_s: float = 10.0
    key_volts: float = 2.0
    cycles: int | None = None
    seconds: float | None = None
    contactor: str | None = None

    def __post_init__(self) -> None:
        if self.start_on not in STARTS:
            raise BadCall(f"--start-on {self.start_on!r}; use one of {', '.join(STARTS)}")
        if self.contactor not in (None, *CONTACTOR):
            raise BadCall(f"--contactor {self.contactor!r}; use one of {', '.join(CONTACTOR)}")
        for option, value, low, high in (
                ("--before-s", self.before_s, 0.0, _LONGEST_BEFORE_S),
                ("--key-volts", self.key_volts, 0.05, 1000.0),
                ("--cycles", 1 if self.cycles is None else self.cycles, 1, 100_000),
                ("--minutes", 1.0 if self.seconds is None else self.seconds / 60, 0.01, 1e6)):
            if not low <= value <= high:
                raise BadCall(f"{option} is {value:g}; use {low:g} to {high:g}")


class Switch:
    """Follow a line that is on or off, through noise between two levels and contact bounce."""

    def __init__(self, channel: Channel, index: int, off_volts: float, on_volts: float) -> None:
        self.index = index
        self.state: bool | None = None
        self._factor = channel.pin_volts_per_reading * channel.scale
        self._offset = channel.offset_volts
        self._off, self._on = off_volts, on_volts
        self._turned_s = -np.inf

    def edges(self, time_s: Array, readings: NDArray[np.int64] | Array) -> list[tuple[int, bool]]:
        """Return (row, on or off) of each turn; the first state ever seen is no turn."""
        volts = readings[:, self.index] * self._factor + self._offset
        level = np.where(volts >= self._on, 1, np.where(volts <= self._off, 0, -1))
        sure = np.flatnonzero(level >= 0)
        if not sure.size:
            return []
        if self.state is None:
            self.state = bool(level[sure[0]])
        found: list[tuple[int, bool]] = []
        # Looked at where the level changes, and once more when the bounce must be over.
        changes = np.flatnonzero(np.diff(level[sure], prepend=int(self.state)))
        for row in [*sure[changes].tolist(), int(sure[-1])]:
            now = bool(level[row])
            if now != self.state and time_s[row] - self._turned_s > _BOUNCE_S:
                self.state = now
                self._turned_s = float(time_s[row])
                found.append((row, now))
        return found


def switch_of(channels: Sequence[Channel], key_volts: float) -> Switch | None:
    """Return what follows the key: a key line, else the supply; None where neither is logged."""
    for k, channel in enumerate(channels):
        if channel.role == "key":
            return Switch(channel, k, _KEY_GONE * key_volts, key_volts)
    for k, channel in enumerate(channels):
        if channel.role == "supply":
            nominal = channel.nominal_volts or 5.0
            return Switch(channel, k, _SUPPLY_GONE * nominal, _SUPPLY_CAME * nominal)
    return None


class Capture(FileListener):
    """Write a key-on log: nothing until its start, then everything.

    said: further keys of its header, such as the kind of pedal.
    """

    def __init__(self, path: Path, title: str, options: LoggerOptions,
                 say: Callable[[str], None] = lambda text: None,
                 check: Callable[[Source], None] = lambda source: None,
                 number: bool = False, said: Mapping[str, object] | None = None) -> None:
        contactor = {} if options.contactor is None else {"contactor": options.contactor}
        super().__init__(path, "key-on", title, {**(said or {}), **contactor}, number)
        self.logging = False
        self.key_ons = 0
        self.key_offs = 0
        self.waits_for = "the board"
        self._options = options
        self._say = say
        self._check = check
        self._source: Source | None = None
        self._switch: Switch | None = None
        self._ring: collections.deque[Rows] = collections.deque()
        self._typed: collections.deque[str] = collections.deque()
        self._start_on = options.start_on
        self._zero = 0.0

    @property
    def nothing(self) -> str:
        """Return why there is no log."""
        return (f"nothing was logged: waited for {self.waits_for}; start the log with Enter or "
                "--start-on now")

    def enter(self, text: str = "") -> None:
        """Take what the user typed: it starts the log, or marks it; safe from any thread."""
        self._typed.append(text)

    def started(self, source: Source) -> None:
        """Choose what starts the log; `check` may refuse the board's channels before that."""
        self._check(source)
        self._source = source
        option = self._options.start_on
        keys = [k for k, c in enumerate(source.channels) if c.role == "key"]
        supplies = [k for k, c in enumerate(source.channels) if c.role == "supply"]
        if option == "auto":
            option = "key" if keys else "supply" if supplies else "now"
        if (option == "key" and not keys) or (option == "supply" and not supplies):
            raise BadCall(f"--start-on {option}, but no channel has that role; add --role "
                          f"COLUMN={option}, or use --start-on enter")
        self._switch = switch_of(source.channels, self._options.key_volts)
        self.waits_for = {"key": "the key", "supply": "the supply to appear", "enter": "Enter",
                          "now": "nothing"}[option]
        self._start_on = option

    def rows(self, rows: Rows) -> None:
        """Keep or write rows; mark the key's turns at their rows."""
        known = self._switch is None or self._switch.state is not None
        edges = [] if self._switch is None else self._switch.edges(rows.time_s, rows.readings)
        if not self.logging:
            why = self._why_start(edges, first=not known)
            if why is None:
                self._keep(rows)
                return
            self._begin(rows, why)
        while self._typed:
            self.marked(self._word(self._typed.popleft()))
        self._write(rows, edges)
        self._end_when_due()

    def marked(self, text: str) -> None:
        """Mark the next row of the log."""
        if self.writer is not None:
            super().marked(text)

    def _why_start(self, edges: list[tuple[int, bool]], first: bool) -> str | None:
        if self._typed:
            if not self._typed[0].strip():
                self._typed.popleft()
            return "started by you"
        if self._start_on == "now":
            return "started at once"
        if self._start_on == "enter" or self._switch is None:
            return None
        if any(on for _, on in edges):
            return "the key was turned on" if self._start_on == "key" else "the supply appeared"
        if first and self._switch.state:
            what = "key" if self._start_on == "key" else "supply"
            return (f"the {what} is on already, so rest with the key off is missing: turn it off, "
                    "wait ten seconds, turn it on again")
        return None

    def _keep(self, rows: Rows) -> None:
        self._ring.append(rows)
        oldest = float(rows.time_s[-1]) - self._options.before_s
        while self._ring and self._ring[0].time_s[-1] < oldest:
            self._ring.popleft()

    def _begin(self, rows: Rows, why: str) -> None:
        assert self._source is not None
        super().started(self._source)
        self.logging = True
        kept, self._ring = list(self._ring), collections.deque()
        self._zero = float((kept[0] if kept else rows).time_s[0])
        self._say(f"logging to {self.path}: {why}; "
                  f"{float(rows.time_s[0]) - self._zero:.1f} s from before are in it")
        for number, early in enumerate(kept):
            lost = early.lost_before
            if number == 0:
                # What was lost before the log's first row is no loss of the log.
                lost = lost.copy()
                lost[0] = 0
            self._append(Rows(early.time_s, early.readings, lost))

    def _append(self, rows: Rows) -> None:
        super().rows(Rows(np.round(rows.time_s - self._zero, 6), rows.readings, rows.lost_before))

    def _write(self, rows: Rows, edges: list[tuple[int, bool]]) -> None:
        at = 0
        for row, on in [*edges, (rows.time_s.size, None)]:
            if row > at:
                self._append(Rows(rows.time_s[at:row], rows.readings[at:row],
                                  rows.lost_before[at:row]))
            at = row
            if on is not None:
                self._turned(on)

    def _turned(self, on: bool) -> None:
        super().marked("key on" if on else "key off")
        if on:
            self.key_ons += 1
        else:
            self.key_offs += 1
        self._say(f"key {'on' if on else 'off'} ({self.last_s:.1f} s, key-on number "
                  f"{self.key_ons})")

    def _word(self, text: str) -> str:
        """Return the mark for a typed line; an empty one is the key where nothing else tells."""
        if text.strip():
            return text
        if self._switch is not None:
            return "noted"
        on = self.key_ons == self.key_offs
        self.key_ons, self.key_offs = self.key_ons + on, self.key_offs + (not on)
        return "key on" if on else "key off"

    def _end_when_due(self) -> None:
        options = self._options
        done = options.cycles is not None and self.key_offs >= options.cycles
        late = options.seconds is not None and self.last_s >= options.seconds
        if (done or late) and self.recorder is not None:
            self.recorder.stop()
