"""Streams of text with comments, words and lost rows in them: what is told as lost was lost.

    python tests/stress/words_between_rows.py  2000 streams of words, 2000 with lost rows as well
    python tests/stress/words_between_rows.py --quick   20 of each

Streams with and without a clock, with and without a stated rate, steady, jittery or held up, in
pieces of any size. Comments and words cost no sample. Rows that were cut out or torn are known.
"""

import sys
from pathlib import Path

import numpy as np

from bench.acquisition.wire import Decoder

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, run

SAID = ("# ready", "# Fußpedal geprüft", "# température 21 °C".encode("latin-1"), "#",
        "# " + "long " * 400, "# full_scale=nonsense", "calibrating", "sensor ok",
        "überwacht", "watchdog reset", "# columns=pédale", "température".encode("latin-1"))
SHORT = ("ok", "21.5", "t=4", "-", "17")
LOST = (b"51x,400,1000", b"12,", b"\xff\xfe\x00", b"5,3,1,2,4,4,4", b"99999,1,1")


def stream(rng: np.random.Generator, lose: bool) -> tuple[bytes, int, bool]:
    """Return the bytes, how many rows are missing in them, and whether the clock can tell."""
    clock = rng.integers(4) > 0
    stated = rng.integers(2) > 0
    period = int(rng.choice([1000, 2000, 5000, 10_000, 100_000]))
    count = int(rng.integers(40, 400))
    ticks = np.arange(count) * period + int(rng.integers(1 << 32))
    jitter = float(rng.choice([0.0, 0.02, 0.15]))
    ticks = ticks + np.rint(rng.uniform(-jitter, jitter, count) * period).astype(np.int64)
    head = "# full_scale=1024 reference_volts=5.0 columns=a,b,supply"
    head += " time=us" if clock else ""
    head += f" rate_hz={1e6 / period:g}" if stated else ""
    lines: list[bytes] = [head.encode()]
    lost, hurt = 0, 0
    for row in range(count):
        while rng.integers(12) == 0:
            # Without a clock, what might be a torn row counts as one.
            known = SAID + SHORT if clock else SAID
            said = known[int(rng.integers(len(known)))]
            lines.append(said if isinstance(said, bytes) else said.encode())
        text = f"{ticks[row] % (1 << 32)}," if clock else ""
        text += ",".join(map(str, rng.integers(0, 1025, 3).tolist()))
        # Never the rows at the ends, nor two together: how many are missing there is open.
        if lose and 12 < row < count - 3 and row - hurt > 6 and rng.integers(25) == 0:
            # Only a clock with a stated rate tells of a row of which nothing came.
            known = (*LOST, b"") if clock and stated else LOST
            bad = known[int(rng.integers(len(known)))]
            hurt, lost = row, lost + 1
            lines.append(bad)
            continue
        lines.append(text.encode())
    return b"\n".join(lines) + b"\n", lost, bool(clock)


def told(data: bytes, rng: np.random.Generator) -> int:
    """Return the lost samples that a decoder tells of a stream in pieces."""
    decoder, at, lost = Decoder(), 0, 0
    most = int(rng.choice([8, 80, 800, 1 << 20]))
    while at < len(data):
        size = int(rng.integers(1, most + 1))
        lost += int(decoder.feed(data[at: at + size]).lost_before.sum())
        while decoder.pending:
            lost += int(decoder.feed(b"").lost_before.sum())
        at += size
    lost += int(decoder.finish().lost_before.sum())
    while decoder.pending:
        lost += int(decoder.finish().lost_before.sum())
    return lost


def measure(quick: bool, report: Report) -> None:
    """Count what is told beyond, and below, what was lost."""
    count = 20 if quick else 2000
    rng = np.random.default_rng(22)
    for lose in (False, True):
        invented = hidden = really = 0
        for _ in range(count):
            data, lost, _ = stream(rng, lose)
            found = told(data, rng)
            really += lost
            invented += max(0, found - lost)
            hidden += max(0, lost - found)
        name = f"{count} streams with comments and words"
        name += f", {really} rows lost" if lose else ""
        report.promise(f"{name}: losses invented", invented == 0, invented)
        report.promise(f"{name}: losses not told", hidden == 0, hidden)


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
