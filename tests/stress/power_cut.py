"""Cut the power below the file system: what is on the disk then opens, at most a second short.

    python tests/stress/power_cut.py         100 cuts, four minutes; as root on Linux (loop device)
    python tests/stress/power_cut.py --quick   3 cuts

A recorder writes 1 kHz x 6 in real time to an ext4 on a file. At random moments the file below is
copied while the recorder stands still: what the system held back is not in the copy. The copy is
mounted as a machine does that starts again, and the recording in it is read. A disk that lies about
what it wrote is not tried. A small recording is cut at every byte besides.
"""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.errors import BadFile
from bench.files.recording_file import read_recording, write_recording

sys.path.insert(0, str(Path(__file__).parent))

from eight_hours import RATE_HZ, EndlessBoard, readings
from recording_mutations import small_recording
from stress_common import Report, run

MOST_LOST_S = 1.0
MEGABYTES = 32


class LiveBoard(EndlessBoard):
    """Make frames as time passes; row n is made n / RATE_HZ seconds after the board opened."""

    def open(self) -> None:
        """Start the clock."""
        super().open()
        self.began = time.monotonic()
        self._all = self._rows

    def read(self) -> bytes:
        """Return what came since the last time."""
        time.sleep(0.01)
        self._rows = min(self._all, int((time.monotonic() - self.began) * RATE_HZ))
        return super().read()

    @property
    def ended(self) -> bool:
        """Say whether all rows left."""
        return self._at >= self._all


def can_mount() -> bool:
    """Return whether this process may mount a file."""
    return sys.platform == "linux" and os.geteuid() == 0 and all(
        shutil.which(tool) for tool in ("mkfs.ext4", "mount", "umount")) \
        and Path("/dev/loop-control").exists()


def shell(*words: str) -> bool:
    """Run a tool; return whether it was content."""
    return subprocess.run(words, capture_output=True, check=False).returncode == 0


def record(path: Path, seconds: float, told: int) -> None:
    """Record in this process until the end, or until it is killed."""
    board = LiveBoard(int(seconds * RATE_HZ))
    recorder = Recorder(board, (FileListener(path, "key-on"),))
    recorder.start()
    os.write(told, f"{board.began}\n".encode())
    recorder.join()


def cuts(count: int, base: Path) -> tuple[list[float], list[str]]:
    """Return for each cut of one recording how much was lost (s), and what was wrong."""
    seconds = 4.0 + 2.0 * count
    disk, place, again = base / "disk", base / "on", base / "again"
    with disk.open("wb") as file:
        file.truncate(MEGABYTES << 20)
    place.mkdir()
    again.mkdir()
    if not (shell("mkfs.ext4", "-q", str(disk))
            and shell("mount", "-o", "loop", str(disk), str(place))):
        return [], ["cannot mount"]
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            record(place / "r.csv", seconds, theirs)
        finally:
            os._exit(0)
    wrong, lost = [], []
    try:
        began = float(os.read(ours, 100))
        rng = np.random.default_rng()
        copies = []
        for at in np.sort(rng.uniform(1.2, seconds - 1.0, count)):
            time.sleep(max(0.0, began + at - time.monotonic()))
            os.kill(child, signal.SIGSTOP)
            cut = time.monotonic() - began
            copy = base / f"copy-{len(copies)}"
            shutil.copyfile(disk, copy)
            os.kill(child, signal.SIGCONT)
            copies.append((cut, copy))
    finally:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(ours)
        os.close(theirs)
        shell("umount", str(place))
    for cut, copy in copies:
        if not shell("mount", "-o", "loop", str(copy), str(again)):
            wrong.append(f"{cut:.2f} s: the file system does not mount")
            continue
        try:
            found = read_recording(again / "r.csv")
            number = np.arange(found.rows)
            table = np.column_stack([c.readings for c in found.channels])
            if (table != readings(number)).any() or found.lost_samples:
                wrong.append(f"{cut:.2f} s: other rows than were recorded")
            lost.append(cut - found.rows / RATE_HZ)
        except BadFile as error:
            wrong.append(f"{cut:.2f} s: {error}"[-160:])
        finally:
            shell("umount", str(again))
            copy.unlink()
    return lost, wrong


def prefixes(folder: Path, step: int) -> tuple[int, list[str]]:
    """Cut a recording at every so many bytes; return how many opened, and what was wrong."""
    wanted = small_recording()
    data = write_recording(folder / "whole.csv", wanted).read_bytes()
    first = data.index(b"\ntime_s,") + 1
    first = data.index(b"\n", first) + 1
    opened, wrong = 0, []
    path = folder / "cut.csv"
    for size in range(0, len(data), step):
        path.write_bytes(data[:size])
        try:
            found = read_recording(path)
        except BadFile as error:
            if size >= first:
                wrong.append(f"{size} bytes: {error}")
            continue
        opened += 1
        whole = min(wanted.rows, data[first:size].count(b"\n"))
        right = found.rows == whole and all(
            np.array_equal(f.readings, w.readings[:whole], equal_nan=True)
            for f, w in zip(found.channels, wanted.channels, strict=True))
        if not right or (found.complete and size < len(data) - 1):
            wrong.append(f"{size} bytes: {found.rows} rows, complete {found.complete}")
    return opened, wrong


def measure(quick: bool, report: Report) -> None:
    """Cut, mount, read."""
    with tempfile.TemporaryDirectory() as name:
        opened, wrong = prefixes(Path(name), 7 if quick else 1)
    report.promise("a recording cut at every byte: each opens with every whole row", not wrong,
                   f"{opened} {wrong[:3] if wrong else ''}")
    if not can_mount():
        report.figure("power cuts", "not tried: needs Linux, root and loop devices")
        return
    lost: list[float] = []
    wrong = []
    for _ in range(1 if quick else 10):
        with tempfile.TemporaryDirectory() as name:
            found, odd = cuts(3 if quick else 10, Path(name))
        lost += found
        wrong += odd
    if wrong == ["cannot mount"]:
        report.figure("power cuts", "not tried: no loop device could be mounted")
        return
    report.promise(f"{len(lost)} power cuts: every file opens with the rows recorded", not wrong,
                   wrong[:3] or "all")
    if lost:
        report.promise(f"newest row at most {MOST_LOST_S:g} s before the cut",
                       max(lost) <= MOST_LOST_S,
                       f"{max(lost):.2f} s at most, median {np.median(lost):.2f} s")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))
