"""Let a coverage-guided fuzzer look for bytes that break the decoder (needs `pip install atheris`).

    python tests/stress/decoder_fuzz.py -max_total_time=600 -max_len=6000

Broken is: any exception, a row of the wrong shape or of an impossible value, times that run
backwards, more bytes kept than one frame, or other rows when the same bytes come in pieces.
"""

import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["bench.acquisition.wire"]):
    from bench.acquisition.wire import Batch, Decoder, Hello, encode_frames, encode_hello

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))

from text_lines import encode_text

LARGEST = (1 << 24) - 1
_NUMBER = np.arange(12)
_ROWS = np.column_stack([_NUMBER, _NUMBER * 77 % 1024])
SEEDS = (
    encode_hello(Hello("f", ("a", "b"), 1024, 5.0, 500.0))
    + encode_frames(0, _NUMBER * 2000, _ROWS),
    encode_text(Hello("t", ("a", "b"), 1024, 5.0, 500.0), _NUMBER * 2000, _ROWS),
    encode_text(None, None, _ROWS), b"a:1,b:2\na:3,b:4\nus,a,b\n1000 5 6\n2000 7 8\n",
)


def check(batch: Batch, last_s: float) -> float:
    """Raise AssertionError on a batch that cannot be; return the time of its last row."""
    assert batch.readings.shape[0] == batch.time_s.size == batch.lost_before.size
    if not batch.rows:
        return last_s
    assert batch.readings.min() >= 0
    assert batch.readings.max() <= LARGEST
    assert batch.lost_before.min() >= 0
    known = batch.time_s[np.isfinite(batch.time_s)]
    if known.size:
        assert known[0] >= last_s - 1e-9
        assert (np.diff(known) >= 0).all()
        return float(known[-1])
    return last_s


def rows_of(data: bytes, piece: int, form: str) -> list[list[int]]:
    """Return all rows of the bytes fed in pieces of that size."""
    decoder, rows, last_s = Decoder(form), [], 0.0
    batches = [lambda start=start: decoder.feed(data[start:start + piece])
               for start in range(0, len(data), piece)]
    for take in (*batches, decoder.finish):
        batch = take()
        while True:
            last_s = check(batch, last_s)
            rows.extend(batch.readings.tolist())
            assert len(batch.problems) < 1000
            if not decoder.pending:
                break
            batch = decoder.feed(b"")
    return rows


def one(data: bytes) -> None:
    """Try one input: the first byte chooses how, the rest is the stream."""
    if len(data) < 2:
        return
    how, stream = data[0], data[1:]
    if how & 0x08:
        seed = SEEDS[how % 4]
        cut = data[1] * len(seed) // 256
        stream = seed[:cut] + data[2:] + seed[cut:]
    piece = (1, 3, 17, 64)[how >> 4 & 3]
    form = ("auto", "frames", "text", "frames")[how >> 6]
    in_pieces = rows_of(stream, piece, form)
    whole = rows_of(stream, len(stream), form)
    if form != "auto":
        # With "auto" the pieces decide how early a format is believed.
        assert in_pieces == whole, (piece, form)


def main() -> None:
    """Hand over to the fuzzer; its options stand on the command line."""
    atheris.Setup(sys.argv, one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
