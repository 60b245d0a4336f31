"""CRC-16/IBM-3740 (polynomial 0x1021, start 0xFFFF, not reflected), one frame or many at once."""

import binascii

import numpy as np
from numpy.typing import NDArray

START = 0xFFFF
# Fewer rows are quicker one by one in the standard library's C.
_FEW = 200


def crc16(data: bytes) -> int:
    """Return the CRC-16/IBM-3740 of the bytes ("123456789" -> 0x29B1)."""
    return binascii.crc_hqx(data, START)


_OF_ONE_BYTE = np.array([crc16(bytes([first])) for first in range(256)], np.uint16)


def crc16_rows(rows: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """Return the CRC of every row, shape (n, length) -> (n,); rows are C-contiguous.

    One step takes sixteen bits: crc * x^16 modulo P = x^16 + x^12 + x^5 + 1. The quotient's bits
    follow from 1 / (1 + x^-4 + x^-11 + x^-16) = 1 + x^-4 + x^-8 + x^-11 + x^-12 + ... (the next
    term is beyond sixteen bits), and the remainder is the low half of quotient * P. So a step is
    a few shifts over all rows, and no table has to stay in the cache.
    """
    count, length = rows.shape
    if count < _FEW:
        return np.array([crc16(row.tobytes()) for row in rows], np.uint16)
    odd = length % 2
    crc = _OF_ONE_BYTE[rows[:, 0]] if odd else np.full(count, START, np.uint16)
    pairs = np.dtype({"names": ["words"], "formats": [(">u2", (length // 2,))],
                      "offsets": [odd], "itemsize": length})
    words = np.ascontiguousarray(rows.view(pairs)["words"][:, 0].T, np.uint16)
    shifted, quotient = np.empty_like(crc), np.empty_like(crc)
    for word in words:
        np.bitwise_xor(crc, word, out=crc)
        np.right_shift(crc, 4, out=shifted)
        np.bitwise_xor(shifted, crc, out=shifted)
        np.right_shift(shifted, 8, out=quotient)
        np.bitwise_xor(quotient, shifted, out=quotient)
        np.right_shift(crc, 11, out=shifted)
        np.bitwise_xor(quotient, shifted, out=quotient)
        # A product is quicker here than a shift to the left, and the same.
        np.multiply(quotient, 1 << 5, out=crc)
        np.bitwise_xor(crc, quotient, out=crc)
        np.multiply(quotient, 1 << 12, out=shifted)
        np.bitwise_xor(crc, shifted, out=crc)
    return crc
