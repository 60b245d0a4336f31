"""What several tests of the wire formats share."""

import numpy as np

from bench.acquisition.wire import Batch, Decoder, Hello
from bench.acquisition.wire.samples import join

HELLO = Hello("test board", ("a", "b", "supply"), 1024, 5.0, 500.0)


def ramp(rows: int, channels: int, step: int = 7) -> np.ndarray:
    """Return readings that differ in every row and channel, below 1024."""
    return (np.arange(rows * channels).reshape(rows, channels) * step) % 1024


def decode(data: bytes, piece: int, decoder: Decoder | None = None) -> tuple[Decoder, Batch]:
    """Feed the bytes in pieces of that size, finish, and return one batch of all rows."""
    decoder = decoder or Decoder()
    batches = [decoder.feed(data[i:i + piece]) for i in range(0, len(data), piece)]
    batches.append(decoder.finish())
    while decoder.pending:
        batches.append(decoder.finish())
    return decoder, join(batches)
