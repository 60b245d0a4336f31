"""Kill a recorder with -9 at random moments: nothing older than a second lost, the file opens.

    python tests/stress/kill_recorder.py           200 kills, some minutes
    python tests/stress/kill_recorder.py --quick   2 kills

The recorder is the whole one, in a process of its own: a board on a pty at 1 kHz, the serial port,
the decoder, the file. Each row tells its own number, so what was sent before the kill is known.
What the system holds survives a kill; a power cut is another matter, and the file is synced to
the disk twice a second for it (tests/files/test_recording_writer.py measures that).
"""

import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from bench.acquisition.boards.pty_server import PtyServer
from bench.acquisition.boards.streamed import StreamedBoard
from bench.errors import BadFile
from bench.files.recording_file import read_recording

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, ramp, row_numbers, run

RATE_HZ = 1000.0
PROGRAM = """
import sys
from pathlib import Path
from bench.acquisition.boards.serial_board import SerialBoard
from bench.services.record import Order, record
record(SerialBoard(sys.argv[1]), Order(path=Path(sys.argv[2])))
"""


class TimedBoard(StreamedBoard):
    """A board that remembers when its first row was due."""

    begun = 0.0

    def open(self) -> None:
        """Begin."""
        super().open()
        self.begun = time.monotonic()


def kill_once(folder: Path, seconds: float) -> tuple[str, float]:
    """Record, kill so long after the file appeared; return what became of it, and the loss."""
    path = folder / "killed.csv"
    path.unlink(missing_ok=True)
    board = TimedBoard("pty", ramp(60_000, 4, RATE_HZ))
    with PtyServer(board) as server:
        process = subprocess.Popen([sys.executable, "-c", PROGRAM, server.port, str(path)],
                                   stderr=subprocess.PIPE)
        deadline = time.monotonic() + 60
        while not path.exists():
            if process.poll() is not None or time.monotonic() > deadline:
                process.kill()
                return f"never recorded: {process.communicate()[1][-200:]!r}", 0.0
            time.sleep(0.001)
        time.sleep(seconds)
        process.send_signal(signal.SIGKILL)
        killed = time.monotonic()
        process.communicate()
    try:
        recording = read_recording(path)
    except BadFile as error:
        # The header of a file is there at once or the file holds no row yet.
        return (f"no row yet ({error})" if seconds < 0.05 and "nothing was" in str(error)
                else f"does not open: {error}"), 0.0
    if recording.complete:
        return "pretends to be complete", 0.0
    numbers = row_numbers(recording)
    if not np.array_equal(numbers, np.arange(numbers.size) + numbers[:1].sum()):
        return "rows are missing or wrong", 0.0
    last = (numbers[-1] + 1) / RATE_HZ if numbers.size else 0.0
    return "fine", killed - board.begun - last


def measure(quick: bool, report: Report) -> None:
    """Kill again and again."""
    if os.name != "posix":
        report.figure("skipped", "needs a pty and SIGKILL")
        return
    rng = np.random.default_rng(7)
    losses, wrong, early = [], [], 0
    with tempfile.TemporaryDirectory() as name:
        for turn in range(2 if quick else 200):
            # A quarter in the first moments, when header and first rows are written.
            top = 0.05 if turn % 4 == 0 else 1.6
            what, lost = kill_once(Path(name), float(rng.uniform(0, top)))
            if what == "fine":
                losses.append(lost)
            elif what.startswith("no row yet"):
                early += 1
            else:
                wrong.append(what)
    report.figure("kills, of which before the first row", f"{turn + 1}, {early}")
    report.promise("files that do not open, lie, or miss rows", not wrong, wrong or 0)
    report.promise("oldest row lost, seconds before the kill: below 1",
                   bool(losses) and max(losses) < 1.0,
                   f"{max(losses, default=0):.3f} (median {np.median(losses):.3f})")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
