"""Samples -> bytes, as a board sends them: for the simulated board and replay."""

import struct

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bench.acquisition.wire import layout
from bench.acquisition.wire.clock import CLOCK_SPAN, SEQUENCE_SPAN
from bench.acquisition.wire.crc import crc16, crc16_rows
from bench.acquisition.wire.hello_text import LONGEST_HELLO, hello_words
from bench.acquisition.wire.samples import Hello
from bench.acquisition.wire.widths import MOST_CHANNELS, WIDTHS, width_for
from bench.errors import BadCall


def encode_hello(hello: Hello) -> bytes:
    """Return the hello frame; raise BadCall when its text is too long for one."""
    text = hello_words(hello).encode("ascii")
    if len(text) > LONGEST_HELLO:
        raise BadCall(f"the hello has {len(text)} characters, at most {LONGEST_HELLO} fit; "
                      "shorten the names")
    head = bytes([layout.SYNC, layout.HELLO, layout.HELLO ^ 0xFF])
    body = head + struct.pack("<HH", len(text), len(text) ^ 0xFFFF) + text
    return body + struct.pack(">H", crc16(body))


def encode_frames(first_sequence: int, time_us: ArrayLike, readings: ArrayLike,
                  signed: bool = False) -> bytes:
    """Return one frame per row: time_us (n,) microseconds, readings (n, channels) whole numbers.

    They are sent in the narrowest of `WIDTHS` that holds them all, as two's complement if signed,
    else from 0 on. Time and sequence roll over as on a board. Raise BadCall for other shapes or
    values.
    """
    values = np.asarray(readings, np.int64)
    if values.ndim != 2 or not 1 <= values.shape[1] <= MOST_CHANNELS:
        raise BadCall(f"readings have shape {values.shape}; use (rows, 1 to {MOST_CHANNELS})")
    ticks = np.asarray(time_us, np.int64)
    count, channels = values.shape
    if ticks.shape != (count,):
        raise BadCall(f"{ticks.size} times for {count} rows; give one per row")
    least, most = (int(values.min()), int(values.max())) if count else (0, 0)
    width = width_for(least, most, signed)
    if width is None:
        low, high = WIDTHS[-1].limits(signed)
        raise BadCall(f"readings from {least} to {most}; use {low} to {high}")
    kind = layout.kind_of(channels, width)
    rows = np.empty((count, layout.frame_length(kind)), np.uint8)
    rows[:, :3] = (layout.SYNC, kind, kind ^ 0xFF)
    sequence = (first_sequence + np.arange(count, dtype=np.int64)) % SEQUENCE_SPAN
    rows[:, 3:6] = _little_endian(sequence, 3)
    rows[:, 6:10] = _little_endian(ticks % CLOCK_SPAN, 4)
    rows[:, layout.DATA_HEAD:-2] = width.pack(values)
    check = crc16_rows(np.ascontiguousarray(rows[:, :-2]))
    rows[:, -2], rows[:, -1] = check >> 8, check & 0xFF
    return rows.tobytes()


def _little_endian(values: NDArray[np.int64], size: int) -> NDArray[np.uint8]:
    """Return the low `size` bytes of each value on a new last axis."""
    octets = np.ascontiguousarray(values, "<i8").view(np.uint8)
    return octets.reshape(*values.shape, 8)[..., :size]
