"""Eight hours of the window with recording, time-compressed: memory, handles, threads flat.

    python tests/stress/window_eight_hours.py           8 hours of board time in some four minutes
    python tests/stress/window_eight_hours.py --quick   4 minutes of board time

Compressed: the board hands out its frames 120 times as fast; the sweep page shows and records them.
Everything else is the window's own, drawn offscreen.
"""

import os
import sys
import tempfile
import time
from pathlib import Path

os.environ["QT_QPA_PLATFORM"] = "offscreen"

import numpy as np
from PySide6.QtCore import QObject

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from eight_hours import PIECE, RATE_HZ, EndlessBoard, memory_mb
from stress_common import Report, run
from window_frames import new_window, settle

from bench.files.malloc_tuning import keep_freed_memory
from bench.files.recording_file import read_recording

HOURS = 8.0
SPEED = 120.0
MOST_GROWN_MB = 16.0


class QuickBoard(EndlessBoard):
    """Hand out rows so many times as fast as time passes."""

    def open(self) -> None:
        """Start the clock."""
        super().open()
        self._began = time.monotonic()

    def read(self) -> bytes:
        """Return the next rows when they are due."""
        due = self._began + (self._at + PIECE) / RATE_HZ / SPEED
        time.sleep(max(0.001, min(0.1, due - time.monotonic())))
        return super().read() if time.monotonic() >= due else b""


def state() -> tuple[float, int, int]:
    """Return memory (MB), open handles and threads of this process (Linux)."""
    return (memory_mb(), len(os.listdir("/proc/self/fd")), len(os.listdir("/proc/self/task")))


def measure(quick: bool, report: Report) -> None:
    """Record, look every half hour of board time, read back."""
    if not Path("/proc/self/fd").exists():
        report.figure("not tried", "needs Linux' /proc")
        return
    keep_freed_memory()
    hours = 4 / 60 if quick else HOURS
    rows = int(hours * 3600 * RATE_HZ)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        window = new_window(folder)
        session = window.session
        session.accept_cautions()
        session.bench._opener = lambda *_: lambda: QuickBoard(rows)
        session.bench.connect_board("soak", "115200", None)
        link = session.bench.link
        settle(lambda: link.source is not None, 60)
        window.go_to("sweep")
        sweep = window.pages["sweep"]
        sweep.setup.folder.setText(str(folder))
        sweep.start()
        settle(lambda: link.file is not None and link.file.writer is not None, 60)
        file = link.file
        seen, objects = [], []
        # Not at the very end: there the finished file is opened, by a thread of its own.
        for part in range(1, 16):
            settle(lambda part=part: file.writer.rows >= rows * part // 16
                   or file.writer.closed, 3600)
            seen.append(state())
            objects.append(len(window.findChildren(QObject)))
        settle(lambda: file.writer.closed, 60)
        session.work.cancel()
        window.close()
        recording = read_recording(file.path)
        size = file.path.stat().st_size
    report.figure("board time, file", f"{hours:g} h, {size / 1e6:.0f} MB")
    report.promise("rows lost", recording.rows == rows and recording.lost_samples == 0
                   and recording.complete, f"{rows - recording.rows}, {recording.lost_samples}")
    late = np.array(seen[4:])
    # What is there after a quarter is all there ever is.
    grown = late[:, 0].max() - max(s[0] for s in seen[:4])
    report.promise(f"memory grown over the last three quarters: below {MOST_GROWN_MB:g} MB",
                   grown < MOST_GROWN_MB, f"{grown:+.1f} MB, {seen[-1][0]:.0f} in all")
    for k, what in ((1, "handles"), (2, "threads")):
        report.promise(f"{what} at a quarter and at the end", late[-1, k] <= late[0, k],
                       f"{late[0, k]:.0f}, {late[-1, k]:.0f} (at most {late[:, k].max():.0f})")
    report.promise("Qt objects at a quarter and at the end", objects[-1] <= objects[4],
                   f"{objects[4]}, {objects[-1]}")


if __name__ == "__main__":
    status = run(__doc__, measure)
    sys.stdout.flush()
    os._exit(status)
