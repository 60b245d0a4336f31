"""Feed the decoder random and mutated bytes: no crash, no more false frames than the CRC allows.

    python tests/stress/decoder_random.py           10^8 bytes of each kind, some minutes
    python tests/stress/decoder_random.py --quick   10^6 bytes of each kind
"""

import sys
from pathlib import Path

import numpy as np

from bench.acquisition.wire import Batch, Decoder, Hello, encode_frames, encode_hello
from bench.acquisition.wire.layout import frame_length, kind_of
from bench.acquisition.wire.widths import WIDTHS

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))
sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, peak_megabytes, run
from text_lines import encode_text

HELLO = encode_hello(Hello("torture", ("a", "b", "c"), 65536, 5.0, 1000.0))
# A wrong frame passes a 16-bit CRC once in 2^16 (any text on CRCs; it detects every single burst
# of up to 16 bits, so mutations do better than this).
CRC_PASSES = 2.0**-16
DATA_KINDS = 32
PIECE = 50_000


def most_by_chance(expected: float) -> float:
    """Return a count that chance exceeds less than once in a million runs (normal, + 5 sigma)."""
    return expected + 5.0 * np.sqrt(expected) + 2.0


def feed(decoder: Decoder, data: bytes, batches: list[Batch] | None = None) -> None:
    """Feed bytes in pieces of many sizes."""
    at, size = 0, 1
    while at < len(data):
        batch = decoder.feed(data[at:at + size])
        while True:
            if batches is not None and batch.rows:
                batches.append(batch)
            if not decoder.pending:
                break
            batch = decoder.feed(b"")
        at += size
        size = size * 7 % 60_013 + 1


def noise(total: int, report: Report) -> None:
    """Feed bytes that are all chance."""
    rng = np.random.default_rng(1)
    decoder = Decoder("frames")
    feed(decoder, rng.bytes(1 << 20))
    before = peak_megabytes()
    for _ in range(total >> 20):
        feed(decoder, rng.bytes(1 << 20))
    # Sync, one of the kinds, its inverse, the CRC.
    expected = (total + (1 << 20)) / 256 * DATA_KINDS / 256 / 256 * CRC_PASSES
    report.promise("random bytes: false frames, at most by chance",
                   decoder.good <= most_by_chance(expected), f"{decoder.good} ({expected:.3f})")
    grown = peak_megabytes() - before
    report.promise("random bytes: memory grows by less than 20 MB", grown < 20, f"{grown:.1f}")


def heads(total: int, report: Report) -> None:
    """Feed frames with a perfect head and rubbish behind: only the CRC stands between."""
    rng = np.random.default_rng(2)
    kind = kind_of(2, WIDTHS[0])
    length = frame_length(kind)
    decoder, frames = Decoder("frames"), 0
    while frames * length < total:
        rows = rng.integers(0, 256, (PIECE, length), np.uint8)
        rows[rows == 0xA5] = 0x5A
        rows[:, 0], rows[:, 1], rows[:, 2] = 0xA5, kind, kind ^ 0xFF
        feed(decoder, rows.tobytes())
        frames += PIECE
    expected = frames * CRC_PASSES
    report.promise("right heads, random bodies: false frames, at most by chance",
                   decoder.good <= most_by_chance(expected),
                   f"{decoder.good} of {frames} ({expected:.1f})")


def mutate(data: bytes, rng: np.random.Generator, hits: int) -> tuple[bytes, np.ndarray, int]:
    """Return damaged bytes, the places of the damage in the old bytes, and how many hits."""
    places = np.sort(rng.integers(0, len(data) - 64, hits))
    pieces, touched, at = [], [], 0
    for place, how in zip(places.tolist(), rng.integers(0, 7, hits).tolist(), strict=True):
        if place < at:
            continue
        pieces.append(data[at:place])
        size = int(rng.integers(1, 40))
        old = data[place:place + size]
        if how == 0:
            new, size = bytes([old[0] ^ 1 << int(rng.integers(8))]), 1
        elif how == 1:
            new = rng.bytes(size)
        elif how == 2:
            new = b""
        elif how == 3:
            new, size = rng.bytes(size), 0
        elif how == 4:
            new = old + old
        elif how == 5:
            # Rubbish that begins like a frame or a hello, of any length.
            new = b"\xa5" + bytes([h := int(rng.choice([0x48, 0x21, 0x2F, 0x3F])), h ^ 0xFF])
            new += rng.bytes(2)
            new, size = new + bytes(b ^ 0xFF for b in new[-2:]), 0
        else:
            new = b"\xa5" * size
        pieces.append(new)
        touched.append((place, place + max(size, 1)))
        at = place + size
    pieces.append(data[at:])
    return b"".join(pieces), np.array(touched), len(touched)


def mutated(total: int, report: Report) -> None:
    """Damage a good stream: every untouched frame must come, and nothing that was not sent."""
    rng = np.random.default_rng(3)
    decoder = Decoder("frames")
    feed(decoder, HELLO)
    length = frame_length(kind_of(3, WIDTHS[0]))
    sent = missing = false = hits = backwards = 0
    last_s = 0.0
    while sent * length < total:
        number = np.arange(sent, sent + PIECE)
        rows = np.column_stack([number & 0xFFFF, number >> 16, number * 40503 & 0xFFFF])
        rows[:, 1] |= 0x4000  # three readings of more than 8 bits each: always 2 bytes
        data = encode_frames(sent & 0xFFFFFF, number * 1000 % 2**32, rows)
        bad, touched, count = mutate(data, rng, PIECE // 50)
        hits += count
        intact = np.ones(PIECE, bool)
        for low, high in touched.tolist():
            intact[low // length:(high - 1) // length + 1] = False
        batches: list[Batch] = []
        feed(decoder, bad, batches)
        # The last frames of a piece may wait behind a hello that promises more bytes.
        feed(decoder, b"\0" * 4096, batches)
        got = np.concatenate([b.readings for b in batches])
        which = got[:, 0] | (got[:, 1] & 0x3FFF) << 16
        known = (which >= sent) & (which < sent + PIECE)
        right = known.copy()
        right[known] = (got[known] == rows[which[known] - sent]).all(axis=1)
        false += int((~right).sum())
        came = np.zeros(PIECE, bool)
        came[which[right] - sent] = True
        missing += int((intact & ~came).sum())
        for batch in batches:
            times = np.concatenate([[last_s], batch.time_s])
            backwards += int((np.diff(times) < 0).sum())
            last_s = float(times[-1])
        sent += PIECE
    # Each hit spoils a frame or two and may put one more candidate between them.
    expected = 3 * hits * CRC_PASSES
    report.figure("mutated stream: frames sent, hits", f"{sent}, {hits}")
    report.promise("mutated: false frames, at most by chance", false <= most_by_chance(expected),
                   f"{false} ({expected:.1f})")
    report.promise("mutated: untouched frames missing (resync within one good frame)",
                   missing <= most_by_chance(expected), missing)
    report.promise("mutated: times that run backwards", backwards == 0, backwards)


def any_format(total: int, report: Report) -> None:
    """Let the decoder guess: noise, text and frames by turns, all damaged; text is unchecked."""
    rng = np.random.default_rng(4)
    decoder = Decoder()
    number = np.arange(300)
    rows = np.column_stack([number, number * 7 % 1024, number * 11 % 1024])
    text = encode_text(Hello("text", ("a", "b", "c"), 1024, 5.0, 500.0), number * 2000, rows)
    frames = HELLO + encode_frames(0, number * 1000, rows)
    fed = 0
    while fed < total:
        good = (text, frames, rng.bytes(5000))[int(rng.integers(3))]
        data = mutate(good, rng, int(rng.integers(1, 30)))[0]
        if rng.integers(20) == 0:
            decoder.reset()
        feed(decoder, data)
        fed += len(data)
    rows_before = decoder.good
    feed(decoder, frames * 3)
    report.promise("guessing: a good stream is read again at once afterwards",
                   decoder.good - rows_before >= 600, decoder.good - rows_before)
    report.figure("guessing: bytes, rows, refused", f"{fed}, {decoder.good}, {decoder.bad}")


def measure(quick: bool, report: Report) -> None:
    """Run all kinds."""
    total = 1_000_000 if quick else 100_000_000
    noise(total, report)
    heads(total, report)
    mutated(total, report)
    any_format(total // (4 if quick else 10), report)


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
