"""A recording sent out again as checked frames: the body of the replay and simulated boards."""

import re
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from analysis.model.recording import Channel, Recording
from bench.acquisition.boards.board import WAIT_S, Board
from bench.acquisition.wire import Hello, encode_frames, encode_hello
from bench.acquisition.wire.widths import MOST_CHANNELS, width_for
from bench.errors import BoardTrouble

_CLOCK_US = 1 << 32
# Names that a hello can carry (docs/wire.md); others go as a, b, c.
_SAYABLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,31}\Z")
# Rows that leave together, in seconds of the recording.
PIECE_S = 0.02
# And where nobody waits for them: most of what a row costs is the piece's.
_FAST_PIECE_S = 0.04
# Bytes after which what else is due waits for the next read. Where rows are not made as fast as
# they fall due, all that is due would never be together, and no question be heard meanwhile.
_MOST_BYTES = 1 << 12
# The same where nothing is waited for. A read costs what some ten rows cost: at 100 Hz, where two
# rows leave together, it would be most of the work.
_FAST_BYTES = 1 << 8
# A board faster than real time is read no more often than this while it keeps up, else for every
# piece: at 60 times the usual speed three thousand times a second, for a few rows each.
_TURN_S = 0.01


class StreamedBoard(Board):
    """Send a recording's rows as frames, in its own time, faster, or as fast as they are read.

    speed: seconds of recording per second; None for no waiting at all. Lost samples of the
    recording are lost here as well: the sequence numbers jump as they did.
    """

    def __init__(self, name: str, recording: Recording | Callable[[], Recording],
                 speed: float | None = 1.0) -> None:
        self.name = name
        self._make = recording
        self._recording: Recording | None = None
        self._speed = speed
        self.real_time = speed is not None
        self._pieces: Iterator[tuple[float, bytes]] = iter(())
        self._next: tuple[float, bytes] | None = None
        self._said = b""
        self._wake = threading.Event()
        self._opened = self._turned = 0.0
        self._open = False

    @property
    def recording(self) -> Recording:
        """Return the recording that is sent."""
        if self._recording is None:
            self._recording = self._make() if callable(self._make) else self._make
            _check(self._recording, self.name)
        return self._recording

    # Worked out here where other boards hold it: a property over a plain attribute.
    @property
    def known(self) -> tuple[Channel, ...]:  # type: ignore[override]
        """Return the recording's channels without their readings."""
        return tuple(_empty(c) for c in self.recording.channels)

    @property
    def hello(self) -> Hello:
        """Return what this board says it is."""
        first = self.recording.channels[0]
        full_scale = int(max(c.full_scale or 1 for c in self.recording.channels))
        columns = tuple(c.column for c in self.recording.channels)
        if not all(_SAYABLE.match(c) for c in columns):
            columns = tuple("abcdefghijklmnop"[: len(columns)])
        return Hello(
            self.recording.board_name or self.name, columns,
            full_scale, first.reference_volts, self.recording.rate_hz,
            -full_scale if _signed(self.recording) else None, None,
            tuple(c.role for c in self.recording.channels))

    def open(self) -> None:
        """Start from the first row."""
        self._pieces = _frames(self.recording, _FAST_PIECE_S if self._speed is None else PIECE_S)
        self._next = next(self._pieces, None)
        self._said = encode_hello(self.hello)
        self._opened = time.monotonic()
        self._turned = float("-inf")
        self._open = True
        self._wake.clear()

    def read(self) -> bytes:
        """Return the frames that are due."""
        if not self._open:
            raise BoardTrouble(f"{self.name} is not open; open it first")
        data, self._said = self._said, b""
        if self._next is None or self._wake.is_set():
            if not data:
                self._pause(WAIT_S)
            return data
        if self._speed is not None and not data:
            due = max(self._next[0] / self._speed, self._turned + _TURN_S)
            self._pause(min(WAIT_S, due - self._elapsed()))
            self._turned = self._elapsed()
        pieces, size = [data], 0
        most = _FAST_BYTES if self._speed is None else _MOST_BYTES
        while self._next is not None and size < most and (
                self._speed is None or self._next[0] <= self._elapsed() * self._speed):
            pieces.append(self._next[1])
            size += len(self._next[1])
            self._next = next(self._pieces, None)
        if size >= most:
            # There is more: it has not kept up.
            self._turned = float("-inf")
        return b"".join(pieces)

    def write(self, data: bytes) -> None:
        """Answer `?` with a hello; every other command is for boards with a converter."""
        if b"?" in data:
            self._said += encode_hello(self.hello)

    def stop(self) -> None:
        """Wake a waiting read."""
        self._wake.set()

    def close(self) -> None:
        """Forget the place in the recording."""
        self._open = False
        self._pieces, self._next = iter(()), None

    @property
    def ended(self) -> bool:
        """Say whether the last row was sent."""
        return self._open and self._next is None and not self._said

    def _elapsed(self) -> float:
        return time.monotonic() - self._opened

    def _pause(self, seconds: float) -> None:
        if seconds > 0:
            self._wake.wait(seconds)


def _check(recording: Recording, name: str) -> None:
    """Raise BoardTrouble when frames cannot carry this recording."""
    if not 1 <= len(recording.channels) <= MOST_CHANNELS:
        raise BoardTrouble(f"{name} has {len(recording.channels)} channels; a board sends "
                           f"1 to {MOST_CHANNELS}")
    for channel in recording.channels:
        values = channel.readings[np.isfinite(channel.readings)]
        if channel.unit != "counts" or np.any(values != np.rint(values)) or (
                values.size and width_for(values.min(), values.max(), _signed(recording)) is None):
            raise BoardTrouble(f"{name}: channel {channel.column!r} is not in whole counts, so no "
                               "board could send it; replay a recording in counts")


def _signed(recording: Recording) -> bool:
    """Return whether frames must carry a sign: it holds for all channels of a board."""
    return any(c.codes.below_zero for c in recording.channels)


def _frames(recording: Recording, piece_s: float) -> Iterator[tuple[float, bytes]]:
    """Yield when a piece is due, in seconds from the first row, and its frames."""
    whole = np.ones(recording.rows, bool)
    for channel in recording.channels:
        whole &= np.isfinite(channel.readings)
    lost = np.zeros(recording.rows, np.int64)
    for mark in recording.marks:
        lost[mark.row] += mark.lost_samples
    # A row with an empty cell cannot be sent: to the reader it is one lost sample.
    sequence = (np.arange(recording.rows) + np.cumsum(lost))[whole]
    if not sequence.size:
        return
    time_s = recording.time_s[whole] - recording.time_s[0]
    rows = np.flatnonzero(whole)
    step = recording.step_s if recording.step_s > 0 else piece_s
    most = max(1, round(piece_s / step))
    signed = _signed(recording)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(sequence) != 1) + 1, [sequence.size]])
    for start, stop in zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True):
        for begin in range(start, stop, most):
            end = min(begin + most, stop)
            values = np.stack([c.readings[rows[begin:end]] for c in recording.channels], axis=1)
            ticks = np.rint(time_s[begin:end] * 1e6).astype(np.int64) % _CLOCK_US
            due = float(time_s[end - 1])
            data = encode_frames(int(sequence[begin]), ticks, values.astype(np.int64), signed)
            yield due, data


def _empty(channel: Channel) -> Channel:
    return replace(channel, readings=np.empty(0))
