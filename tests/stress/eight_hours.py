"""Record eight hours at 1 kHz from six channels, time-compressed: memory flat, no sample lost.

    python tests/stress/eight_hours.py  8 hours of board time (28.8 million rows, 1.2 GB of file)
    python tests/stress/eight_hours.py --quick   3 minutes of board time

Compressed: the board hands out its frames as fast as they are read, so eight hours take minutes.
Everything else is as in the car: frames, decoder, recorder thread, file, syncing. The board's
clock rolls over seven times in eight hours and its sequence once.
"""

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from analysis.model.recording import Channel
from bench.acquisition.boards.board import Board
from bench.acquisition.listener import Listener, Rows
from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.acquisition.wire import Hello, encode_frames, encode_hello
from bench.files.recording_file import read_recording

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, run

RATE_HZ, CHANNELS, PIECE = 1000, 6, 2000
SPAN = 4096


def readings(number: np.ndarray) -> np.ndarray:
    """Return the six readings of rows, which tell the row's number."""
    return np.column_stack([number % SPAN, number // SPAN % SPAN, number * 3 % SPAN,
                            number * 5 % SPAN, number * 7 % SPAN, number * 11 % SPAN])


class EndlessBoard(Board):
    """Make frames as they are read."""

    known: tuple[Channel, ...] | None = None

    def __init__(self, rows: int) -> None:
        self.name, self._rows, self._at, self._said = "soak", rows, 0, b""

    def open(self) -> None:
        """Say what this is."""
        self._said = encode_hello(Hello("soak", tuple("abcdef"), SPAN, 5.0, float(RATE_HZ)))

    def read(self) -> bytes:
        """Return the next two seconds."""
        data, self._said = self._said, b""
        if self._at < self._rows:
            number = np.arange(self._at, min(self._at + PIECE, self._rows))
            data += encode_frames(self._at % 2**24, number * (10**6 // RATE_HZ) % 2**32,
                                  readings(number))
            self._at += number.size
        return data

    def write(self, data: bytes) -> None:
        """Hear nothing."""

    def stop(self) -> None:
        """Nothing waits."""

    def close(self) -> None:
        """Nothing is open."""

    @property
    def ended(self) -> bool:
        """Say whether all rows left."""
        return self._at >= self._rows


def memory_mb() -> float:
    """Return the memory this process has now; 0 where the system does not say."""
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[1])
    except OSError:
        return 0.0
    return pages * 4096 / 2**20


class Gauge(Listener):
    """Note the memory once in a while of board time."""

    def __init__(self, every_s: float) -> None:
        self.every_s, self.seen = every_s, []

    def rows(self, rows: Rows) -> None:
        """Look when it is time."""
        if rows.time_s[-1] >= self.every_s * (len(self.seen) + 1):
            self.seen.append(memory_mb())


def measure(quick: bool, report: Report) -> None:
    """Record, then read back and compare every cell."""
    hours = 0.05 if quick else 8.0
    rows = int(hours * 3600 * RATE_HZ)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "soak.csv"
        gauge, file = Gauge(hours * 3600 / 32), FileListener(path, "key-on")
        begun = time.monotonic()
        recorder = Recorder(EndlessBoard(rows), (file, gauge))
        recorder.start()
        recorder.join()
        took = time.monotonic() - begun
        size = path.stat().st_size
        recording = read_recording(path)
    report.figure("board time, time taken, file",
                  f"{hours:g} h, {took:.0f} s ({3600 * hours / took:.0f} x), {size / 1e6:.0f} MB")
    wrong = 0
    for start in range(0, recording.rows, 1 << 20):
        number = np.arange(start, min(start + (1 << 20), recording.rows))
        wanted = readings(number)
        found = np.column_stack([c.readings[number] for c in recording.channels])
        wrong += int((found != wanted).any(axis=1).sum())
        wrong += int((np.abs(recording.time_s[number] - number / RATE_HZ) > 1e-6).sum())
    report.promise("rows lost or said to be lost",
                   recording.rows == rows and recording.lost_samples == 0,
                   f"{rows - recording.rows}, {recording.lost_samples}")
    report.promise("rows with a wrong reading or time", wrong == 0, wrong)
    report.promise("the file is complete", recording.complete, "")
    if gauge.seen:
        # What is there after a quarter is all there ever is.
        grown = max(gauge.seen[8:]) - max(gauge.seen[:8])
        report.promise("memory grown over the last three quarters: below 8 MB", grown < 8,
                       f"{grown:.1f} MB of {max(gauge.seen):.0f}")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
