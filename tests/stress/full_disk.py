"""Record onto a small disk until it is full: one line, every row before it kept, file opens.

    python tests/stress/full_disk.py           30 disks of 16 to 400 kB (needs root for tmpfs)
    python tests/stress/full_disk.py --quick   3 disks

Without root on Linux a limit on the size of files stands in for the disk.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from bench.errors import BadFile
from bench.files.recording_file import read_recording

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, row_numbers, run

PROGRAM = """
import sys
sys.dont_write_bytecode = True  # what is kept of our modules would be cut off as well
from pathlib import Path
sys.path.insert(0, sys.argv[3])
from stress_common import ramp
from bench.acquisition.boards.streamed import StreamedBoard
from bench.errors import BenchError
from bench.services.record import Order, record
if int(sys.argv[2]):
    import resource, signal
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]),) * 2)
try:
    record(StreamedBoard("ramp", ramp(100_000, 4), None), Order(path=Path(sys.argv[1])))
except BenchError as error:
    print(error, file=sys.stderr)
    sys.exit(2)
"""


def fill(path: Path, limit: int) -> tuple[str | None, int]:
    """Record until the disk is full; return what was wrong, and the rows kept."""
    process = subprocess.run(
        [sys.executable, "-B", "-c", PROGRAM, str(path), str(limit), str(Path(__file__).parent)],
        capture_output=True, text=True, timeout=120)
    said = process.stderr.strip()
    if process.returncode != 2 or "\n" in said or "disk is full" not in said:
        return f"exit {process.returncode}: {said[-200:]!r}", 0
    if not path.exists():
        return None, 0
    try:
        recording = read_recording(path)
    except BadFile as error:
        # Too small even for the header: nothing was recorded, and it says so.
        return (None, 0) if "nothing was recorded" in str(error) else (str(error), 0)
    if recording.complete or f"ends after {recording.rows} rows" not in said:
        return f"{recording.rows} rows, but it said {said!r}", 0
    if not np.array_equal(row_numbers(recording), np.arange(recording.rows)):
        return "rows are wrong", 0
    return None, recording.rows


def measure(quick: bool, report: Report) -> None:
    """Fill disks of many sizes."""
    if os.name != "posix":
        report.figure("skipped", "needs POSIX limits")
        return
    rng = np.random.default_rng(8)
    wrong, kept, real = [], [], 0
    for _ in range(3 if quick else 30):
        size = int(rng.integers(16_000, 400_000))
        with tempfile.TemporaryDirectory() as name:
            disk = Path(name)
            mounted = sys.platform == "linux" and os.geteuid() == 0 and subprocess.run(
                ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", name],
                capture_output=True).returncode == 0
            real += mounted
            try:
                trouble, rows = fill(disk / "full.csv", 0 if mounted else size)
            finally:
                if mounted:
                    subprocess.run(["umount", name], check=True)
        kept.append(rows)
        if trouble:
            wrong.append(trouble)
    report.figure("disks filled, of which real ones (tmpfs)", f"{len(kept)}, {real}")
    report.figure("rows kept, least and most", f"{min(kept)}, {max(kept)}")
    report.promise("not told in one line, rows lost or wrong, file unreadable", not wrong,
                   wrong or 0)


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
