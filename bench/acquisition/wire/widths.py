"""How many bytes a reading takes in a checked frame: a row for each width, the narrowest first.

To add one, add its row: encoder, decoder, the search for frames and what a hello may say follow.
Our own MicroPython firmware has the same table (`SIZES`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MOST_CHANNELS = 16


@dataclass(frozen=True)
class Width:
    """Hold one width: the kind byte of a frame of one channel, and the bytes of a reading.

    A kind is followed by those of 2 to 16 channels; 0x48 is the hello's.
    """

    first_kind: int
    size: int

    @property
    def kinds(self) -> range:
        """Return the kind bytes of 1 to 16 channels."""
        return range(self.first_kind, self.first_kind + MOST_CHANNELS)

    def limits(self, signed: bool) -> tuple[int, int]:
        """Return the least and the largest reading that fit; signed: two's complement."""
        codes = 1 << (8 * self.size)
        return (-codes // 2, codes // 2 - 1) if signed else (0, codes - 1)

    def pack(self, readings: NDArray[np.int64]) -> NDArray[np.uint8]:
        """Return readings of shape (n, channels) as bytes, shape (n, channels * size)."""
        octets = np.ascontiguousarray(readings, "<i8").view(np.uint8)
        return octets.reshape(*readings.shape, 8)[..., :self.size].reshape(len(readings), -1)

    def unpack(self, octets: NDArray[np.uint8], signed: bool) -> NDArray[np.int64]:
        """Return the readings of bytes of shape (n, channels * size), shape (n, channels)."""
        parts = octets.reshape(len(octets), octets.shape[1] // self.size, self.size)
        # At the top of eight bytes: shifting down again carries the sign along.
        wide = np.zeros((*parts.shape[:2], 8), np.uint8)
        wide[..., 8 - self.size:] = parts
        codes = wide.view("<i8" if signed else "<u8")[..., 0] >> (64 - 8 * self.size)
        return codes.astype(np.int64)


WIDTHS = (Width(0x20, 2), Width(0x30, 3))
LARGEST_READING = WIDTHS[-1].limits(signed=False)[1]


def width_of(kind: int) -> Width:
    """Return the width in frames of that kind byte."""
    return next(width for width in WIDTHS if kind in width.kinds)


def width_for(least: int, most: int, signed: bool = False) -> Width | None:
    """Return the narrowest width that holds these readings, None when none does."""
    for width in WIDTHS:
        low, high = width.limits(signed)
        if low <= least and most <= high:
            return width
    return None
