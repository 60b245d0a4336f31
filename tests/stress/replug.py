"""Pull the cable and plug it in again a hundred times while recording.

    python tests/stress/replug.py           100 cycles, some minutes
    python tests/stress/replug.py --quick   3 cycles
"""

import os
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.serial_board import SerialBoard
from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.listener import Listener, Rows
from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.files.recording_file import read_recording

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, ramp, row_numbers, run

RATE_HZ = 1000.0


class Count(Listener):
    """Count rows and what was said."""

    def __init__(self) -> None:
        self.count = 0
        self.kinds: list[str] = []

    def rows(self, rows: Rows) -> None:
        """Count them."""
        self.count += rows.time_s.size

    def told(self, kind: str, text: str) -> None:
        """Keep the kind."""
        self.kinds.append(kind)


def wait_for(count: Count, rows: int) -> bool:
    """Wait until so many rows came."""
    deadline = time.monotonic() + 30
    while count.count < rows and time.monotonic() < deadline:
        time.sleep(0.005)
    return count.count >= rows


def measure(quick: bool, report: Report) -> None:
    """Record through the cycles and look at the file."""
    if not can_serve():
        report.figure("skipped", "needs pseudo terminals")
        return
    cycles = 3 if quick else 100
    rng = np.random.default_rng(9)
    back = 0
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "r.csv"
        board = StreamedBoard("pty", ramp(900_000, 2, RATE_HZ))
        with PtyServer(board) as server:
            count, file = Count(), FileListener(path, "sweep")
            recorder = Recorder(SerialBoard(server.port), (file, count))
            recorder.start()
            wait_for(count, 200)
            handles, threads = len(os.listdir("/proc/self/fd")), threading.active_count()
            for _ in range(cycles):
                server.unplug()
                time.sleep(float(rng.uniform(0.0, 0.6)))
                server.plug()
                back += wait_for(count, count.count + int(rng.integers(20, 300)))
            handles = len(os.listdir("/proc/self/fd")) - handles
            threads = threading.active_count() - threads
            recorder.stop()
            recorder.join()
        recording = read_recording(path)
    numbers = row_numbers(recording)
    steps = np.diff(numbers)
    holes = np.flatnonzero(steps != 1) + 1
    marked = {m.row for m in recording.marks if m.text.startswith("gap ")}
    lost = int((steps - 1).sum())
    report.promise("cycles after which rows came again", back == cycles, f"{back} of {cycles}")
    report.promise("the file is complete and its rows are in order",
                   recording.complete and bool((steps > 0).all()), f"{recording.rows} rows")
    report.promise("holes of more than 20 ms without a mark at their row",
                   all(int(r) in marked for r in holes if steps[r - 1] > 20),
                   f"of {holes.size} holes")
    report.promise("samples said to be lost, of those lost: within 10 %",
                   abs(recording.lost_samples - lost) <= 0.1 * lost,
                   f"{recording.lost_samples} of {lost}")
    true_s = (numbers - numbers[0]) / RATE_HZ
    off = np.abs(recording.time_s - true_s)
    report.promise("time of rows, off by the most, s per cycle: below 0.1",
                   off.max() / cycles < 0.1, f"{off.max():.3f} s after {cycles} cycles")
    report.promise("handles and threads left over", handles <= 0 and threads <= 0,
                   f"{handles}, {threads}")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
