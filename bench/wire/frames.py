"""Checked binary frames -> rows. Everything is little-endian except the CRC.

    0xA5 | kind | kind ^ 0xFF | sequence, 3 bytes | microseconds, 4 bytes | readings | CRC-16
    0xA5 | 0x48 | 0xB7 | length, 2 | length ^ 0xFFFF, 2 | hello text | CRC-16

kind = 0x20 + channels - 1 (2 bytes per reading) or 0x30 + channels - 1 (3 bytes per reading).
The CRC covers all bytes before it, high byte first. Whatever decides the length of a frame is
sent twice, once inverted: a damaged length would otherwise let the CRC be checked over other
bytes than were meant, and pass once in 65536 times.

All frame starts in a feed are found at once and checked at once; there is no slow path for a
damaged stream. A start whose CRC fails costs one byte: the search goes on right behind it.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bench.wire.clock import StreamClock
from bench.wire.crc import crc16, crc16_rows
from bench.wire.hello_text import LONGEST_HELLO, default_columns, parse_hello
from bench.wire.samples import MOST_CHANNELS, Batch, Hello, empty_batch

SYNC = 0xA5
HELLO = 0x48
_HELLO_HEAD = 7
_DATA_HEAD = 10
_KINDS = tuple(range(0x20, 0x20 + MOST_CHANNELS)) + tuple(range(0x30, 0x30 + MOST_CHANNELS))
# The longest frame there is, a hello: never are more bytes than this kept for an unfinished one.
LONGEST = _HELLO_HEAD + LONGEST_HELLO + 2
_BLOCK = 1 << 14  # frames checked at a time: what stays in a processor's cache
_MOST_PROBLEMS = 10

_IS_KIND = np.zeros(256, bool)
_IS_KIND[list(_KINDS)] = True
_IS_KIND[HELLO] = True


def kind_of(channels: int, size: int) -> int:
    """Return the kind byte of frames with that many channels of `size` (2 or 3) bytes."""
    return size << 4 | channels - 1


def frame_length(kind: int) -> int:
    """Return the length in bytes of a data frame of that kind."""
    return _DATA_HEAD + ((kind & 0x0F) + 1) * (kind >> 4) + 2


def _layout(kind: int) -> np.dtype[np.void]:
    return np.dtype({
        "names": ["sequence", "time_us", "readings"],
        "formats": ["<u4", "<u4", ("<u2", ((kind & 0x0F) + 1,))],
        "offsets": [3, 6, _DATA_HEAD],
        "itemsize": frame_length(kind),
    })


_LENGTHS = np.zeros(256, np.int64)
_LENGTHS[list(_KINDS)] = [frame_length(kind) for kind in _KINDS]


class FrameDecoder:
    """Turn bytes of frames into batches; `hello` is the last one heard."""

    has_clock = True

    def __init__(self, clock: StreamClock) -> None:
        self._clock = clock
        self._buffer = b""
        self._offset = 0  # of the buffer's first byte, in the stream
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
        self._seen_frame = False
        self.idle_bytes = 0

    @property
    def unread_bytes(self) -> int:
        """Return how many bytes came since the last good frame."""
        return self.idle_bytes + len(self._buffer)

    def feed(self, data: bytes, last: bool = False) -> list[Batch]:
        """Return the batches these bytes complete; `last`: no more will come."""
        buffer = self._buffer + data
        octets = np.frombuffer(buffer, np.uint8)
        starts, lengths, valid, unfinished = _find(octets, buffer, last)
        starts, lengths = _without_overlaps(starts[valid], lengths[valid])
        stop = len(buffer) if last else _tail(octets)
        for start in unfinished:  # the first one that no good frame covers holds up the rest
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
        if problems:
            batches.append(empty_batch(self._channels, None, problems))
        return batches

    def _account(self, starts: NDArray[np.int64], lengths: NDArray[np.int64], stop: int,
                 last: bool) -> tuple[str, ...]:
        """Count what lies between good frames, and say where it was.

        A hole is counted once, when the next good frame ends it.
        """
        ends = np.concatenate([[-self.idle_bytes], starts + lengths])
        nexts = np.concatenate([starts, [stop]])
        sizes = nexts - ends
        self.idle_bytes = 0 if last else int(sizes[-1])
        if not last:
            sizes[-1] = 0
        if not self._seen_frame:
            sizes[0] = 0  # joining in the middle of a frame is no fault of anybody
        self._seen_frame |= bool(starts.size)
        holes = np.flatnonzero(sizes)
        typical = int(np.median(lengths)) if starts.size else LONGEST
        self.bad += int(np.maximum(1, sizes[holes] // typical).sum())
        texts = [
            f"bytes {self._offset + int(ends[hole])} to {self._offset + int(nexts[hole]) - 1} "
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
                    batches.extend(self._say_hello(buffer[start + _HELLO_HEAD:start + length - 2]))
            else:
                batches.append(self._rows(octets, starts[low:high], int(kinds[low])))
        return batches

    def _say_hello(self, text: bytes) -> list[Batch]:
        try:
            words = parse_hello(text.decode("ascii"))
            if words is None:
                raise ValueError("it says nothing we know")
        except ValueError as error:  # UnicodeDecodeError is one too
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
        size, channels = kind >> 4, (kind & 0x0F) + 1
        rows = _gather(octets, starts, frame_length(kind))
        words = rows.view(_layout(kind))[:, 0]
        # Three bytes are read as four, and the fourth is masked off.
        sequence = words["sequence"].astype(np.int64) & 0xFFFFFF
        time_us = words["time_us"].astype(np.int64)
        if size == 2:
            readings = words["readings"].astype(np.int64)
        else:
            wide = rows[:, _DATA_HEAD:-2].reshape(-1, channels, 3).astype(np.int64)
            readings = wide[:, :, 0] | wide[:, :, 1] << 8 | wide[:, :, 2] << 16
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


def _gather(octets: NDArray[np.uint8], starts: NDArray[np.int64],
            length: int) -> NDArray[np.uint8]:
    """Return the frames as rows, shape (n, length)."""
    if not starts.size:
        return np.empty((0, length), np.uint8)
    first, last = int(starts[0]), int(starts[-1])
    if last - first == (starts.size - 1) * length and np.all(np.diff(starts) == length):
        return octets[first:last + length].reshape(-1, length)
    windows = np.lib.stride_tricks.sliding_window_view(octets, length)
    return windows[starts]


def _find(octets: NDArray[np.uint8], buffer: bytes, last: bool) -> tuple[
        NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_], list[int]]:
    """Return starts, lengths and validity of all whole candidates, and starts of unfinished ones.

    Kinds are told apart by the byte behind the sync and its inverse.
    """
    if octets.size < 3:
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, bool), []
    starts = np.flatnonzero(octets[:-2] == SYNC)
    kinds = octets[starts + 1]
    real = _IS_KIND[kinds] & (kinds ^ octets[starts + 2] == 0xFF)
    starts, kinds = starts[real], kinds[real]
    lengths = _LENGTHS[kinds]
    unfinished: list[int] = []
    refused: list[int] = []
    for place in np.flatnonzero(kinds == HELLO):
        start = int(starts[place])
        if start + _HELLO_HEAD > len(buffer):
            lengths[place] = _HELLO_HEAD
            continue
        size = int.from_bytes(buffer[start + 3:start + 5], "little")
        inverse = int.from_bytes(buffer[start + 5:start + 7], "little")
        if size ^ inverse != 0xFFFF or size > LONGEST_HELLO:
            refused.append(int(place))
        lengths[place] = _HELLO_HEAD + size + 2
    if refused:
        starts, kinds, lengths = (np.delete(a, refused) for a in (starts, kinds, lengths))
    whole = starts + lengths <= octets.size
    if not last:
        unfinished = starts[~whole].tolist()
    starts, kinds, lengths = starts[whole], kinds[whole], lengths[whole]
    valid = np.zeros(starts.size, bool)
    for kind in np.unique(kinds):
        places = np.flatnonzero(kinds == kind)
        if kind == HELLO:
            for place in places:
                start, length = int(starts[place]), int(lengths[place])
                valid[place] = crc16(buffer[start:start + length]) == 0
            continue
        for low in range(0, places.size, _BLOCK):
            block = places[low:low + _BLOCK]
            # The CRC of a frame with its own CRC at the end is 0.
            rows = _gather(octets, starts[block], frame_length(int(kind)))
            valid[block] = crc16_rows(rows) == 0
    return starts, lengths, valid, unfinished


def _without_overlaps(starts: NDArray[np.int64], lengths: NDArray[np.int64]) -> tuple[
        NDArray[np.int64], NDArray[np.int64]]:
    """Keep each frame that begins behind the end of the one kept before it."""
    if starts.size < 2 or np.all(starts[1:] >= starts[:-1] + lengths[:-1]):
        return starts, lengths
    keep, end = [], 0
    for place, (start, length) in enumerate(zip(starts.tolist(), lengths.tolist(), strict=True)):
        if start >= end:
            keep.append(place)
            end = start + length
    return starts[keep], lengths[keep]


def _tail(octets: NDArray[np.uint8]) -> int:
    """Return where the last two bytes may begin a frame; everything before is settled."""
    for start in range(max(0, octets.size - 2), octets.size):
        if octets[start] == SYNC:
            return start
    return int(octets.size)
