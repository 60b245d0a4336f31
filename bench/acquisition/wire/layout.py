"""What a checked binary frame looks like. Everything is little-endian except the CRC.

    0xA5 | kind | kind ^ 0xFF | sequence, 3 bytes | microseconds, 4 bytes | readings | CRC-16
    0xA5 | 0x48 | 0xB7 | length, 2 | length ^ 0xFFFF, 2 | hello text | CRC-16

kind = 0x20 + channels - 1 (2 bytes per reading) or 0x30 + channels - 1 (3 bytes per reading): the
table is in `widths`.
The CRC covers all bytes before it, high byte first. Whatever decides the length of a frame is
sent twice, once inverted: a damaged length would otherwise let the CRC be checked over other
bytes than were meant, and pass once in 65536 times.
"""

import numpy as np

from bench.acquisition.wire.hello_text import LONGEST_HELLO
from bench.acquisition.wire.widths import WIDTHS, Width, width_of

SYNC = 0xA5
HELLO = 0x48
HELLO_HEAD = 7
DATA_HEAD = 10
DATA_KINDS = tuple(kind for width in WIDTHS for kind in width.kinds)
# The longest frame there is, a hello: never are more bytes than this kept for an unfinished one.
LONGEST = HELLO_HEAD + LONGEST_HELLO + 2


def kind_of(channels: int, width: Width) -> int:
    """Return the kind byte of frames with that many channels of that width."""
    return width.first_kind + channels - 1


def channels_of(kind: int) -> int:
    """Return the channels of data frames of that kind."""
    return kind - width_of(kind).first_kind + 1


def frame_length(kind: int) -> int:
    """Return the length in bytes of a data frame of that kind."""
    return DATA_HEAD + channels_of(kind) * width_of(kind).size + 2


# No frame of readings is longer.
LONGEST_DATA = max(map(frame_length, DATA_KINDS))


def head_fields(kind: int) -> np.dtype[np.void]:
    """Return the fields before the readings; of the three-byte number the byte behind as well."""
    return np.dtype({
        "names": ["sequence", "time_us"],
        "formats": ["<u4", "<u4"],
        "offsets": [3, 6],
        "itemsize": frame_length(kind),
    })
