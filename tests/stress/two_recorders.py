"""Set two recorders on one port, and many on one file: one gets it, the others are told.

    python tests/stress/two_recorders.py           10 times two on a port and twelve on a file
    python tests/stress/two_recorders.py --quick   once each
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.streamed import StreamedBoard
from bench.files.recording_file import read_recording

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, ramp, row_numbers, run

PORT = """
import sys
from bench.command_line import main
sys.exit(main(["watch", "--board", sys.argv[1], "--out", sys.argv[2], "--start-on", "now",
               "--yes", "--minutes", sys.argv[3]]))
"""
FILE = """
import sys, time
from pathlib import Path
sys.path.insert(0, sys.argv[3])
from stress_common import ramp
from bench.acquisition.boards.streamed import StreamedBoard
from bench.errors import BenchError
from bench.services.record import Order, record
board = StreamedBoard("ramp", ramp(3000, 2, first=int(sys.argv[2]) * 3000), 10.0)
time.sleep(max(0.0, float(sys.argv[4]) - time.time()))
try:
    record(board, Order(path=Path(sys.argv[1])))
except BenchError as error:
    print(error, file=sys.stderr)
    sys.exit(2)
"""


def start(program: str, *words: str) -> subprocess.Popen[str]:
    """Start a recorder in a process of its own."""
    return subprocess.Popen([sys.executable, "-c", program, *words], stdin=subprocess.DEVNULL,
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def on_a_port(folder: Path) -> str | None:
    """Let a second recorder want the port of the first; return what went wrong."""
    first_path, second_path = folder / "first.csv", folder / "second.csv"
    with PtyServer(StreamedBoard("pty", ramp(60_000, 2))) as server:
        first = start(PORT, server.port, str(first_path), "0.08")
        deadline = time.monotonic() + 30
        while not first_path.exists() and time.monotonic() < deadline:
            time.sleep(0.01)
        second = start(PORT, server.port, str(second_path), "0.02")
        _, said = second.communicate(timeout=60)
        _, heard = first.communicate(timeout=60)
    last = said.strip().splitlines()[-1] if said.strip() else ""
    if second.returncode != 2 or "in use" not in last or second_path.exists():
        return f"the second: exit {second.returncode}, {said[-200:]!r}"
    if first.returncode not in (0, 1, 2) or not first_path.exists():
        return f"the first: exit {first.returncode}, {heard[-200:]!r}"
    recording = read_recording(first_path)
    numbers = row_numbers(recording)
    if not recording.complete or recording.lost_samples or (np.diff(numbers) != 1).any():
        return f"the first was disturbed: {recording.lost_samples} samples lost"
    return None


def on_a_file(folder: Path, many: int) -> str | None:
    """Let many recorders want one new file at one moment; return what went wrong."""
    path = folder / "wanted.csv"
    path.unlink(missing_ok=True)
    moment = str(time.time() + 1.0 + 0.3 * many)
    running = [start(FILE, str(path), str(k), str(Path(__file__).parent), moment)
               for k in range(many)]
    said = [process.communicate(timeout=120)[1] for process in running]
    codes = [process.returncode for process in running]
    if sorted(codes) != [0] + [2] * (many - 1):
        return f"exit statuses {codes}"
    if any("not written over" not in text or text.strip().count("\n")
           for text, code in zip(said, codes, strict=True) if code == 2):
        return f"said {said}"
    recording = read_recording(path)
    numbers = row_numbers(recording)
    if not recording.complete or not np.array_equal(
            numbers, np.arange(3000) + 3000 * codes.index(0)):
        return f"{recording.rows} rows, mixed or missing"
    return None


def measure(quick: bool, report: Report) -> None:
    """Run both."""
    turns = 1 if quick else 10
    with tempfile.TemporaryDirectory() as name:
        if can_serve() and os.name == "posix":
            wrong = [w for _ in range(turns) if (w := on_a_port(fresh(name)))]
            report.promise(f"two on a port, {turns} times: not refused, or the first disturbed",
                           not wrong, wrong or 0)
        many = 3 if quick else 12
        wrong = [w for _ in range(turns) if (w := on_a_file(fresh(name), many))]
        report.promise(f"{many} on a file, {turns} times: not one winner and {many - 1} told",
                       not wrong, wrong or 0)


def fresh(name: str) -> Path:
    """Return a new folder."""
    return Path(tempfile.mkdtemp(dir=name))


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
