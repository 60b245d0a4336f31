"""Bytes -> where the good frames lie in them.

All places that look like the start of a frame are found at once and checked at once. A start
whose CRC fails costs one byte: the search goes on right behind it. Most streams are frames of
one kind in a row, here and there a damaged one: then only the bytes that no good frame of the
row covers are looked at for others, with the same result.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.acquisition.wire.crc import crc16, crc16_rows
from bench.acquisition.wire.hello_text import LONGEST_HELLO
from bench.acquisition.wire.layout import DATA_KINDS, HELLO, HELLO_HEAD, SYNC, frame_length

Octets = NDArray[np.uint8]
Places = NDArray[np.int64]

_BLOCK = 1 << 14  # frames checked at a time: what stays in a processor's cache
# Fewer bytes are searched everywhere as quickly; in the first few a row's first frame is found.
_WORTH_A_ROW = 1 << 14
_LOOK_AT = 256
# With more than one frame in so many damaged, searching everywhere is as quick.
_MOST_DAMAGE = 1 / 8

_LENGTHS = np.zeros(256, np.int64)
_LENGTHS[list(DATA_KINDS)] = [frame_length(kind) for kind in DATA_KINDS]
_IS_KIND = _LENGTHS > 0
_IS_KIND[HELLO] = True


@dataclass(frozen=True)
class Found:
    """Hold the good frames, none within another: starts (n,), lengths (n,), in bytes.

    unfinished: starts of what may become a frame when more bytes come; wanting: its length as far
        as its head tells, of each.
    """

    starts: Places
    lengths: Places
    unfinished: list[int]
    wanting: list[int]

    def needed_at(self, start: int) -> int:
        """Return how many bytes from there on the unfinished frame there needs; 0: none there."""
        return dict(zip(self.unfinished, self.wanting, strict=True)).get(start, 0)


def find_frames(octets: Octets, last: bool) -> Found:
    """Return the good frames in the bytes, shape (n,); `last`: no more will come."""
    found = in_a_row(octets, last) if octets.size >= _WORTH_A_ROW else _nothing_else(octets)
    return found or find_everywhere(octets, last)


def _nothing_else(octets: Octets) -> Found | None:
    """Return the frames where a few bytes are frames of one kind from the first to the last.

    As most boards' pieces are: found in a tenth of the time that looking at every byte takes. What
    looks like a frame within a good one is none.
    """
    data = octets.tobytes()
    length = int(_LENGTHS[data[1]]) if len(data) > HELLO_HEAD else 0
    if not length or len(data) % length:
        return None
    head = bytes((SYNC, data[1], data[1] ^ 0xFF))
    for start in range(0, len(data), length):
        if data[start:start + 3] != head or crc16(data[start:start + length]):
            return None
    starts = np.arange(0, len(data), length)
    return Found(starts, np.full(starts.size, length), [], [])


def find_everywhere(octets: Octets, last: bool) -> Found:
    """Return the good frames by looking at every byte."""
    return _check(octets, np.flatnonzero(octets[:-2] == SYNC), last)


def take_rows(octets: Octets, starts: Places, length: int) -> Octets:
    """Return the frames of one length as rows, shape (n, length)."""
    if not starts.size:
        return np.empty((0, length), np.uint8)
    first, last = int(starts[0]), int(starts[-1])
    if last - first == (starts.size - 1) * length and np.all(np.diff(starts) == length):
        return octets[first:last + length].reshape(-1, length)
    windows = np.ndarray((octets.size - length + 1,), f"V{length}", octets, strides=(1,))
    return windows[starts].view(np.uint8).reshape(-1, length)


def in_a_row(octets: Octets, last: bool) -> Found | None:
    """Return the good frames where most are of one kind in a row, else None."""
    head = find_everywhere(octets[:_LOOK_AT], False)
    data = np.flatnonzero(octets[head.starts + 1] != HELLO)
    if not data.size:
        return None
    first, length = int(head.starts[data[0]]), int(head.lengths[data[0]])
    rows = octets[first:]
    rows = rows[:rows.size // length * length].reshape(-1, length)
    good = rows[:, 0] == SYNC
    for place in (1, 2):
        good &= rows[:, place] == octets[first + place]
    for low in range(0, len(rows), _BLOCK):
        good[low:low + _BLOCK] &= crc16_rows(rows[low:low + _BLOCK]) == 0
    bad = np.flatnonzero(~good)
    if bad.size > _MOST_DAMAGE * len(rows):
        return None
    starts = first + length * np.flatnonzero(good)
    uncovered = np.concatenate([
        np.arange(first),
        (first + length * bad[:, None] + np.arange(length)).ravel(),
        np.arange(first + rows.size, octets.size)])
    uncovered = uncovered[uncovered < octets.size - 2]
    others = _check(octets, uncovered[octets[uncovered] == SYNC], last)
    if others.starts.size:
        # One that reaches into the row would have to be weighed against the row's frames.
        behind = np.append(starts, octets.size)[np.searchsorted(starts, others.starts)]
        if np.any(others.starts + others.lengths > behind):
            return None
        starts = np.concatenate([starts, others.starts])
        lengths = np.concatenate([np.full(starts.size - others.starts.size, length),
                                  others.lengths])
        order = np.argsort(starts, kind="stable")
        return Found(starts[order], lengths[order], others.unfinished, others.wanting)
    return Found(starts, np.full(starts.size, length), others.unfinished, others.wanting)


def _check(octets: Octets, starts: Places, last: bool) -> Found:
    """Return which of these places, each with a sync byte, begin good frames.

    Kinds are told apart by the byte behind the sync and its inverse.
    """
    kinds = octets[starts + 1]
    real = _IS_KIND[kinds] & (kinds ^ octets[starts + 2] == 0xFF)
    starts, kinds = starts[real], kinds[real]
    lengths = _LENGTHS[kinds]
    hellos = np.flatnonzero(kinds == HELLO)
    if hellos.size:
        lengths[hellos] = [_hello_length(octets, int(start)) for start in starts[hellos]]
        starts, kinds, lengths = (a[lengths > 0] for a in (starts, kinds, lengths))
    whole = starts + lengths <= octets.size
    unfinished: list[int] = []
    wanting: list[int] = []
    if not whole.all():
        if not last:
            unfinished, wanting = starts[~whole].tolist(), lengths[~whole].tolist()
        starts, kinds, lengths = starts[whole], kinds[whole], lengths[whole]
    valid = np.zeros(starts.size, bool)
    for kind in np.flatnonzero(np.bincount(kinds)):
        places = np.flatnonzero(kinds == kind)
        if kind == HELLO:
            valid[places] = [crc16(octets[start:start + length].tobytes()) == 0 for start, length
                             in zip(starts[places], lengths[places], strict=True)]
            continue
        for low in range(0, places.size, _BLOCK):
            block = places[low:low + _BLOCK]
            # The CRC of a frame with its own CRC at the end is 0.
            valid[block] = crc16_rows(take_rows(octets, starts[block], int(_LENGTHS[kind]))) == 0
    return Found(*_without_overlaps(starts[valid], lengths[valid]), unfinished, wanting)


def _hello_length(octets: Octets, start: int) -> int:
    """Return the length of a hello by its head, as far as it is there; 0: it is none."""
    head = octets[start:start + HELLO_HEAD].tobytes()
    if len(head) < HELLO_HEAD:
        return HELLO_HEAD
    size = int.from_bytes(head[3:5], "little")
    if size ^ int.from_bytes(head[5:7], "little") != 0xFFFF or size > LONGEST_HELLO:
        return 0
    return HELLO_HEAD + size + 2


def _without_overlaps(starts: Places, lengths: Places) -> tuple[Places, Places]:
    """Keep each frame that begins behind the end of the one kept before it."""
    if starts.size < 2 or np.all(starts[1:] >= starts[:-1] + lengths[:-1]):
        return starts, lengths
    keep, end = [], 0
    for place, (start, length) in enumerate(zip(starts.tolist(), lengths.tolist(), strict=True)):
        if start >= end:
            keep.append(place)
            end = start + length
    return starts[keep], lengths[keep]
