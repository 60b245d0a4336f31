"""Bytes in, samples out; no port in here (see docs/wire.md for both formats).

Rules: a decoder never passes a damaged reading on, never waits for more than
`layout.LONGEST` bytes, and says of everything it threw away where that was.
"""

from bench.acquisition.wire.commands import COMMANDS, command
from bench.acquisition.wire.decoder import Decoder
from bench.acquisition.wire.encode import encode_frames, encode_hello
from bench.acquisition.wire.samples import Batch, Hello

__all__ = [
    "COMMANDS", "Batch", "Decoder", "Hello", "command", "encode_frames", "encode_hello",
]
