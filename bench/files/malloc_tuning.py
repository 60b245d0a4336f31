"""Keep freed memory for the next array instead of handing it back to the system each time.

Every array of a long recording is tens of megabytes. glibc by default maps such a piece anew and
the kernel clears it page by page, which takes as long as the work done on it.
"""

import ctypes
import sys

# The numbers of mallopt(3), from glibc's malloc.h.
_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
_KEPT_BYTES = 256 << 20
# The most that mallopt takes.
_MAPPED_FROM_BYTES = 32 << 20


def keep_freed_memory() -> bool:
    """Tell glibc to keep up to 256 MiB of freed memory in one heap; return whether it will.

    Threads share the heap: one of their own is cut back whenever an array in it is freed.
    Elsewhere than on Linux with glibc nothing is changed.
    """
    if sys.platform != "linux":
        return False
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):
        return False
    return all([mallopt(_ARENA_MAX, 1), mallopt(_MMAP_THRESHOLD, _MAPPED_FROM_BYTES),
                mallopt(_TRIM_THRESHOLD, _KEPT_BYTES)])
