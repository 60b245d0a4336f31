"""Samples -> text lines, as a sketch prints them (docs/wire.md)."""

import numpy as np
from numpy.typing import ArrayLike

from bench.acquisition.wire import Hello
from bench.acquisition.wire.clock import CLOCK_SPAN
from bench.acquisition.wire.hello_text import hello_words


def encode_text(hello: Hello | None, time_us: ArrayLike | None, readings: ArrayLike) -> bytes:
    """Return text lines: a `#` line for the hello, then per row the time (if any) and readings.

    Without a hello it begins with an empty line, since a reader throws away a first line that
    may be torn.
    """
    values = np.asarray(readings, np.int64)
    start = "\n"
    if hello is not None:
        start = f"# {hello_words(hello, None if time_us is None else 'us')}\n"
    if time_us is not None:
        values = np.column_stack([np.asarray(time_us, np.int64) % CLOCK_SPAN, values])
    lines = "".join(",".join(map(str, row)) + "\n" for row in values.tolist())
    return (start + lines).encode("ascii")
