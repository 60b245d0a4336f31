"""What a checked binary frame looks like. Everything is little-endian except the CRC.

    0xA5 | kind | kind ^ 0xFF | sequence, 3 bytes | microseconds, 4 bytes | readings | CRC-16
    0xA5 | 0x48 | 0xB7 | length, 2 | length ^ 0xFFFF, 2 | hello text | CRC-16

kind = 0x20 + channels - 1 (2 bytes per reading) or 0x30 + channels - 1 (3 bytes per reading).
The CRC covers all bytes before it, high byte first. Whatever decides the length of a frame is
sent twice, once inverted: a damaged length would otherwise let the CRC be checked over other
bytes than were meant, and pass once in 65536 times.
"""

import numpy as np

from bench.acquisition.wire.hello_text import LONGEST_HELLO
from bench.acquisition.wire.samples import MOST_CHANNELS

SYNC = 0xA5
HELLO = 0x48
HELLO_HEAD = 7
DATA_HEAD = 10
DATA_KINDS = (*range(0x20, 0x20 + MOST_CHANNELS), *range(0x30, 0x30 + MOST_CHANNELS))
# The longest frame there is, a hello: never are more bytes than this kept for an unfinished one.
LONGEST = HELLO_HEAD + LONGEST_HELLO + 2


def kind_of(channels: int, size: int) -> int:
    """Return the kind byte of frames with that many channels of `size` (2 or 3) bytes."""
    return size << 4 | channels - 1


def channels_and_size(kind: int) -> tuple[int, int]:
    """Return the channels and the bytes per reading of data frames of that kind."""
    return (kind & 0x0F) + 1, kind >> 4


def frame_length(kind: int) -> int:
    """Return the length in bytes of a data frame of that kind."""
    channels, size = channels_and_size(kind)
    return DATA_HEAD + channels * size + 2


def data_fields(kind: int) -> np.dtype[np.void]:
    """Return the fields of a data frame; of three-byte numbers the byte behind is read as well."""
    return np.dtype({
        "names": ["sequence", "time_us", "readings"],
        "formats": ["<u4", "<u4", ("<u2", (channels_and_size(kind)[0],))],
        "offsets": [3, 6, DATA_HEAD],
        "itemsize": frame_length(kind),
    })
