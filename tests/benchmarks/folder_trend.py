"""Measure the trend over a folder and the report, and print them as a table.

    python tests/benchmarks/folder_trend.py                    # 400 recordings, about a minute
    python tests/benchmarks/folder_trend.py --count 10000      # the whole bar, ten minutes
    python tests/benchmarks/folder_trend.py --distinct 100     # so many really different recordings

Recordings of 60 s at 200 Hz with two tracks and a supply; of `count` files only `distinct` are
different, the others are links to them. Both runs are the command itself in a process of its
own. Beside the wall clock stands processor time, which a busy machine does not spoil: cores
times one process's time over both processes' time is what free cores would give.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from analysis.simulation import pedal_named, simulate_sweep
from bench.files.recording_file import write_recording
from bench.services.trend import usable_cores

BAR_TIMES, BAR_REPORT_S = 2.0, 5.0


def make_folder(folder: Path, distinct: int, count: int) -> None:
    """Write the recordings."""
    for k in range(min(distinct, count)):
        made = simulate_sweep(pedal_named("healthy"), 200.0, cycles=6, quick=3, seed=k)
        write_recording(folder / f"r{k:05d}.csv", made.recording)
    for k in range(distinct, count):
        os.link(folder / f"r{k % distinct:05d}.csv", folder / f"r{k:05d}.csv")


def resident(pid: int) -> int:
    """Return the resident kilobytes of a process and its children (Linux); 0 elsewhere."""
    total = 0
    for process in [pid, *_children(pid)]:
        try:
            for line in Path(f"/proc/{process}/status").read_text().splitlines():
                if line.startswith("VmRSS:"):
                    total += int(line.split()[1])
        except OSError:
            continue
    return total


def _children(pid: int) -> list[int]:
    found = []
    for listing in Path(f"/proc/{pid}/task").glob("*/children"):
        try:
            for child in map(int, listing.read_text().split()):
                found += [child, *_children(child)]
        except OSError:
            continue
    return found


def run(arguments: list[str]) -> tuple[float, float, list[int]]:
    """Return wall seconds, processor seconds with children, and memory once a second."""
    memory: list[int] = []
    before = os.times()
    begun = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-m", "bench", *arguments],
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    ended = threading.Event()

    def watch() -> None:
        while not ended.wait(1.0):
            memory.append(resident(process.pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    status = process.wait()
    wall = time.perf_counter() - begun
    ended.set()
    watcher.join()
    after = os.times()
    assert status == 0, arguments
    spent = (after.children_user + after.children_system
             - before.children_user - before.children_system)
    return wall, spent, memory


def main() -> int:
    """Measure, print, and return 1 when a bar is missed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--distinct", type=int, default=100)
    chosen = parser.parse_args()
    cores = usable_cores()
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    print(f"{cores} cores, load {load:.1f} before the start")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "log"
        folder.mkdir()
        make_folder(folder, chosen.distinct, chosen.count)
        first, second = Path(name) / "trend.csv", Path(name) / "trend-many.csv"
        one = run(["trend", str(folder), "--processes", "1", "--out", str(first)])
        many = run(["trend", str(folder), "--processes", str(cores), "--out", str(second)])
        assert second.read_bytes() == first.read_bytes()
        report = run(["report", str(folder / "r00000.csv"), "--out", f"{name}/report.pdf"])
    times = one[0] / many[0]
    free = cores * one[1] / many[1]
    print(f"{chosen.count} recordings, one process: {one[0]:.1f} s wall, {one[1]:.1f} s processor,"
          f" {1000 * one[1] / chosen.count:.1f} ms each")
    print(f"{chosen.count} recordings, {cores} processes: {many[0]:.1f} s wall, "
          f"{many[1]:.1f} s processor")
    print(f"times as fast: {times:.2f} by the wall clock, {free:.2f} by processor time "
          f"(bar {BAR_TIMES:g})")
    for label, memory in (("one process", one[2]), (f"{cores} processes", many[2])):
        if len(memory) >= 4:
            quarter = memory[len(memory) // 4]
            print(f"memory, {label}: {quarter / 1024:.0f} MB after a quarter, "
                  f"{memory[-2] / 1024:.0f} MB at the end, {max(memory) / 1024:.0f} MB at most")
    print(f"report: {report[0]:.2f} s wall, {report[1]:.2f} s processor (bar {BAR_REPORT_S:g} s)")
    return int(times < BAR_TIMES or report[0] >= BAR_REPORT_S)


if __name__ == "__main__":
    sys.exit(main())
