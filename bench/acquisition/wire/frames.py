"""Checked binary frames -> rows, as `bench.acquisition.wire.layout` lays them out.

There is no slow path for a damaged stream: frames are found, checked and taken apart all at once.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bench.acquisition.wire.clock import StreamClock
from bench.acquisition.wire.hello_text import default_columns, parse_hello
from bench.acquisition.wire.layout import (
    DATA_HEAD,
    HELLO,
    HELLO_HEAD,
    LONGEST,
    SYNC,
    channels_of,
    frame_length,
    head_fields,
)
from bench.acquisition.wire.lines import decode_words
from bench.acquisition.wire.samples import Batch, Hello, empty_batch
from bench.acquisition.wire.search import find_frames, take_rows
from bench.acquisition.wire.widths import width_of

_MOST_PROBLEMS = 10
_SYNC = bytes([SYNC])


class FrameDecoder:
    """Turn bytes of frames into batches; `hello` is the last one heard."""

    has_clock = True

    def __init__(self, clock: StreamClock) -> None:
        self._clock = clock
        self._buffer = b""
        self._offset = 0  # of the buffer's first byte, in the stream
        self._needed = 0  # bytes in the buffer before the frame that it begins with is whole
        self._seen_frame = False
        self._channels = 0
        self.hello: Hello | None = None
        self.board_says: dict[str, str] = {}
        self.good = 0
        self.bad = 0
        self.idle_bytes = 0  # thrown away since the last good frame

    def restart(self) -> None:
        """Forget unfinished bytes; the stream may go on in the middle of a frame."""
        self._offset += len(self._buffer)
        self._buffer = b""
        self._needed = 0
        self._seen_frame = False
        self.idle_bytes = 0

    @property
    def unread_bytes(self) -> int:
        """Return how many bytes came since the last good frame."""
        return self.idle_bytes + len(self._buffer)

    def feed(self, data: bytes, last: bool = False) -> list[Batch]:
        """Return the batches these bytes complete; `last`: no more will come."""
        buffer = self._buffer + data
        # Bytes come by ones and twos: most of them complete nothing, and need no search.
        if not last and len(buffer) < self._needed:
            self._buffer = buffer
            return []
        if not last and _SYNC not in buffer:
            self._buffer, self._needed = b"", 0
            self._offset += len(buffer)
            self.idle_bytes += len(buffer)
            return []
        octets = np.frombuffer(buffer, np.uint8)
        found = find_frames(octets, last)
        starts, lengths = found.starts, found.lengths
        stop = len(buffer) if last else _tail(octets)
        for start in found.unfinished:  # the first one that no good frame covers holds up the rest
            before = np.searchsorted(starts, start, side="right")
            if before == 0 or starts[before - 1] + lengths[before - 1] <= start:
                stop = min(stop, int(start))
                starts, lengths = starts[:before], lengths[:before]
                break
        if starts.size:
            stop = max(stop, int(starts[-1] + lengths[-1]))
        problems = self._account(starts, lengths, stop, last)
        batches = self._decode(octets, buffer, starts, lengths)
        self._buffer = buffer[stop:]
        self._offset += stop
        self._needed = found.needed_at(stop)
        if problems:
            batches.append(empty_batch(self._channels, None, problems))
        return batches

    def _account(self, starts: NDArray[np.int64], lengths: NDArray[np.int64], stop: int,
                 last: bool) -> tuple[str, ...]:
        """Count what lies between good frames, and say where it was.

        A hole is counted once, when the next good frame ends it.
        """
        ends = np.empty(starts.size + 1, np.int64)
        ends[0], ends[1:] = -self.idle_bytes, starts + lengths
        sizes = np.append(starts, stop) - ends
        self.idle_bytes = 0 if last else int(sizes[-1])
        if not last:
            sizes[-1] = 0
        if not self._seen_frame:
            sizes[0] = 0  # joining in the middle of a frame is no fault of anybody
        self._seen_frame |= bool(starts.size)
        holes = np.flatnonzero(sizes)
        if not holes.size:
            return ()
        # As many frames as there was room for, of the length of the one before the hole.
        lost = sizes[holes] // (lengths[np.maximum(holes, 1) - 1] if starts.size else LONGEST)
        self.bad += int(np.maximum(1, lost).sum())
        texts = [
            f"bytes {self._offset + int(ends[hole])} to "
            f"{self._offset + int(ends[hole] + sizes[hole]) - 1} "
            "hold no valid frame: damaged or lost on the way; thrown away"
            for hole in holes[:_MOST_PROBLEMS]]
        if holes.size > _MOST_PROBLEMS:
            texts.append(f"{holes.size - _MOST_PROBLEMS} more damaged places in this piece")
        return tuple(texts)

    def _decode(self, octets: NDArray[np.uint8], buffer: bytes, starts: NDArray[np.int64],
                lengths: NDArray[np.int64]) -> list[Batch]:
        batches: list[Batch] = []
        kinds = octets[starts + 1]
        changes = np.flatnonzero(kinds[1:] != kinds[:-1]) + 1
        edges = [0, *changes.tolist(), starts.size] if starts.size else []
        for low, high in pairwise(edges):
            if kinds[low] == HELLO:
                for start, length in zip(starts[low:high], lengths[low:high], strict=True):
                    batches.extend(self._say_hello(buffer[start + HELLO_HEAD:start + length - 2]))
            else:
                batches.append(self._rows(octets, starts[low:high], int(kinds[low])))
        return batches

    def _say_hello(self, text: bytes) -> list[Batch]:
        try:
            words = parse_hello(decode_words(text))
            if words is None:
                raise ValueError("it says nothing we know")
        except ValueError as error:
            self.bad += 1
            return [empty_batch(self._channels, None, (f"hello refused: {error}",))]
        self.board_says.update(words.others)
        hello = words.hello
        if not hello.columns:
            hello = Hello(hello.name, default_columns(self._channels or 2), hello.full_scale,
                          hello.reference_volts, hello.rate_hz, hello.usable_low,
                          hello.usable_high)
        if hello == self.hello:
            return []
        self.hello = hello
        return [empty_batch(self._channels, hello)]

    def _rows(self, octets: NDArray[np.uint8], starts: NDArray[np.int64], kind: int) -> Batch:
        channels = channels_of(kind)
        rows = take_rows(octets, starts, frame_length(kind))
        words = rows.view(head_fields(kind))[:, 0]
        # Three bytes are read as four, and the fourth is masked off.
        sequence = words["sequence"].astype(np.int64) & 0xFFFFFF
        time_us = words["time_us"].astype(np.int64)
        readings = width_of(kind).unpack(
            rows[:, DATA_HEAD:-2], self.hello is not None and self.hello.codes.signed)
        problems: tuple[str, ...] = ()
        if self.hello is not None and len(self.hello.columns) != channels:
            problems = (f"frames carry {channels} readings but the hello named "
                        f"{len(self.hello.columns)} columns; waiting for a new hello",)
            self.hello = None
        self._channels = channels
        self.good += starts.size
        placed = self._clock.place_frames(
            sequence, time_us, None if self.hello is None else self.hello.rate_hz)
        return Batch(placed.time_s, readings, placed.lost_before, None, problems, placed.restarts)


def _tail(octets: NDArray[np.uint8]) -> int:
    """Return where the last two bytes may begin a frame; everything before is settled."""
    for start in range(max(0, octets.size - 2), octets.size):
        if octets[start] == SYNC:
            return start
    return int(octets.size)
