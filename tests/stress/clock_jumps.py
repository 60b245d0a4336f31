"""Let the board's clock, its sequence and the host's clock jump: time never runs backwards.

    python tests/stress/clock_jumps.py           2000 streams of 1000 rows
    python tests/stress/clock_jumps.py --quick   100 streams
"""

import sys
from pathlib import Path

import numpy as np

from bench.acquisition.recorder_time import RecordedTime
from bench.acquisition.wire import Decoder, Hello, encode_frames, encode_hello

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))
sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, run
from text_lines import encode_text

HELLO = Hello("jumps", ("a", "b"), 4096, 5.0, 1000.0)
EVENTS = ("none", "clock forward", "clock back", "both restart", "replug", "host forward",
          "host back", "rows lost", "host slept")
SEGMENT = 50


class Tally:
    """Count what went wrong."""

    def __init__(self) -> None:
        self.streams = self.backwards = self.odd_times = self.wrong_rows = 0
        self.uneven = self.invented = self.missed = 0
        self.worst: dict[str, float] = {}


def stream(rng: np.random.Generator, form: str, tally: Tally) -> None:
    """Feed one stream of segments with an event before each."""
    decoder, time = Decoder(form), RecordedTime()
    time.rate_hz = 1000.0
    decoder.feed(encode_hello(HELLO) if form == "frames" else b"# " + HELLO_TEXT)
    # Both roll over somewhere within half of the streams; the others have run for any time.
    sequence, ticks = 2**24 - int(rng.integers(2000)), 2**32 - int(rng.integers(2_000_000))
    if rng.integers(2):
        sequence = int(rng.integers(2**24))
        ticks = 1000 * sequence
    host = float(rng.uniform(0, 1e6))
    last, row = 0.0, 0
    tally.streams += 1
    for _ in range(20):
        event = EVENTS[int(rng.integers(len(EVENTS)))]
        lost = 0
        if event == "clock forward":
            ticks += int(rng.integers(10**6, 2**31))
        elif event == "clock back":
            ticks -= int(rng.integers(10**6, 2**31))
        elif event == "both restart":
            sequence, ticks = 0, int(rng.integers(10**6))
        elif event == "replug":
            decoder.reset()
            decoder.feed(encode_hello(HELLO) if form == "frames" else b"# " + HELLO_TEXT)
        elif event == "host forward":
            host += float(rng.uniform(1, 1e5))
        elif event == "host back":
            host -= float(rng.uniform(1, 1e5))
        elif event == "rows lost":
            lost = int(rng.integers(1, 5000))
            sequence, ticks, host = sequence + lost, ticks + 1000 * lost, host + lost / 1000
        else:
            slept = int(rng.integers(1000, 100_000)) if event == "host slept" else 0
            ticks, host = ticks + 1000 * slept, host + slept / 1000
            sequence += slept
            lost = slept
        number = np.arange(row, row + SEGMENT)
        readings = np.column_stack([number % 4096, number // 4096 % 4096])
        times = (ticks + 1000 * np.arange(SEGMENT)) % 2**32
        data = (encode_frames(sequence % 2**24, times, readings) if form == "frames"
                else encode_text(None, times, readings))
        batch = decoder.feed(data)
        while True:
            if batch.rows:
                if not np.array_equal(batch.readings, readings[:batch.rows]) \
                        or batch.rows != SEGMENT:
                    tally.wrong_rows += 1
                placed, missing = time.place(batch, host, decoder.has_clock)
                tally.odd_times += int((~np.isfinite(placed)).sum() + (missing < 0).sum())
                tally.backwards += int((np.diff(placed, prepend=last) < 0).sum())
                if np.ptp(placed) > 0.0492:
                    tally.uneven += 1
                said = int(missing.sum())
                key = f"{event}, {form}"
                tally.worst[key] = max(tally.worst.get(key, 0), said)
                none = ("none", "host back", "host forward") + (
                    ("clock forward", "clock back") if form == "frames" else ())
                if event in none and row and said:
                    tally.invented += 1
                if event == "rows lost" and form == "frames" and row and said != lost:
                    tally.missed += 1
                last = float(placed[-1])
            if not decoder.pending:
                break
            batch = decoder.feed(b"")
        sequence, ticks = sequence + SEGMENT, ticks + 1000 * SEGMENT
        host, row = host + SEGMENT / 1000, row + SEGMENT


HELLO_TEXT = encode_text(HELLO, np.array([0]), np.array([[1, 2]])).split(b"\n")[0][2:] + b"\n"


def measure(quick: bool, report: Report) -> None:
    """Feed many streams in both formats."""
    rng = np.random.default_rng(10)
    tally = Tally()
    for turn in range(100 if quick else 2000):
        stream(rng, ("frames", "text")[turn % 2], tally)
    report.figure("streams, segments", f"{tally.streams}, {20 * tally.streams}")
    report.promise("times that run backwards", tally.backwards == 0, tally.backwards)
    report.promise("times or losses that are no number or below 0", tally.odd_times == 0,
                   tally.odd_times)
    report.promise("segments with other rows than were sent", tally.wrong_rows == 0,
                   tally.wrong_rows)
    report.promise("segments not evenly spaced", tally.uneven == 0, tally.uneven)
    report.promise("losses invented where none were", tally.invented == 0, tally.invented)
    report.promise("losses in frames miscounted", tally.missed == 0, tally.missed)
    restart = max(most for event, most in tally.worst.items() if event.startswith("both restart"))
    report.promise("most seconds said to be lost at a restart (10)", restart <= 10_000,
                   restart / 1000)
    for event, most in sorted(tally.worst.items()):
        report.figure(f"most samples said to be lost: {event}", int(most))


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
