"""A block of clean lines of whole numbers -> a table, all lines at once."""

import numpy as np
from numpy.typing import NDArray

_DIGIT = np.zeros(256, bool)
_DIGIT[48:58] = True
_OTHER = np.zeros(256, bool)
_OTHER[list(b", \t\n\r")] = True
# More digits than these do not fit.
_LONGEST = 16


def read_block(block: bytes, width: int) -> NDArray[np.int64] | None:
    """Return the numbers of whole lines, shape (lines, width); None where one line is odd.

    Odd is a sign that is no digit and no separator, two separators between numbers, a line that
    does not begin with a number, another count of numbers, a number too long.
    """
    octets = np.frombuffer(block, np.uint8)
    digit = _DIGIT[octets]
    if not digit[0] or not np.all(digit | _OTHER[octets]):
        return None
    # One separator between numbers; a line may end in \r\n.
    gap = ~digit[1:] & ~digit[:-1]
    if np.any(gap & ~((octets[:-1] == 13) & (octets[1:] == 10))) \
            or np.any((octets[:-1] == 13) & (octets[1:] != 10)):
        return None
    starts = np.flatnonzero(digit & ~np.concatenate([[False], digit[:-1]]))
    line_ends = np.flatnonzero(octets == 10)
    per_line = np.diff(np.searchsorted(starts, line_ends), prepend=0)
    if not np.all(per_line == width):
        return None
    ends = np.flatnonzero(digit[:-1] & ~digit[1:]) + 1
    widths = ends - starts
    if np.max(widths) > _LONGEST:
        return None
    numbers = np.zeros(starts.size, np.int64)
    for place in range(int(widths.max())):
        numbers += np.where(
            widths > place, octets[ends - 1 - place].astype(np.int64) - 48, 0) * 10**place
    return numbers.reshape(-1, width)
