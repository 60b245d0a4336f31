"""CRC-16/IBM-3740 (polynomial 0x1021, start 0xFFFF, not reflected), one frame or many at once.

A CRC is linear: that of a frame is the exclusive or of one table value per byte and place. With
one table per place a million frames need one look-up per byte, and no loop over frames.
"""

import binascii
from functools import cache

import numpy as np
from numpy.typing import NDArray

START = 0xFFFF
# Fewer rows are quicker one by one; and bytes that only look like the start of a frame of another
# length then never cost that length its tables, 2 MB each.
_FEW = 32


def crc16(data: bytes) -> int:
    """Return the CRC-16/IBM-3740 of the bytes ("123456789" -> 0x29B1)."""
    return binascii.crc_hqx(data, START)


@cache
def _tables(length: int) -> tuple[int, tuple[NDArray[np.uint16], ...]]:
    """Return the CRC of `length` zero bytes, and per pair of bytes what it changes in that.

    A pair is looked up as one little-endian 16-bit number; an odd last byte has 256 entries.
    """
    single = []
    for place in range(length):
        behind = bytes(length - place - 1)
        single.append(np.array(
            [binascii.crc_hqx(bytes([b]) + behind, 0) for b in range(256)], np.uint16))
    pairs = [np.bitwise_xor.outer(single[i + 1], single[i]).ravel()
             for i in range(0, length - 1, 2)]
    if length % 2:
        pairs.append(single[-1])
    return crc16(bytes(length)), tuple(pairs)


def crc16_rows(rows: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """Return the CRC of every row, shape (n, length) -> (n,); rows are C-contiguous."""
    count, length = rows.shape
    if count < _FEW:
        return np.array([crc16(row.tobytes()) for row in rows], np.uint16)
    zero, tables = _tables(length)
    result = np.full(count, zero, np.uint16)
    even = length - length % 2
    pairs = np.ascontiguousarray(rows[:, :even]).view("<u2").T
    for table, column in zip(tables, pairs, strict=False):
        result ^= table[column]
    if length % 2:
        result ^= tables[-1][rows[:, -1]]
    return result
