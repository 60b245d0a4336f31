"""What the torture scripts share: the bench board, one printed line per figure, and the verdict."""

import argparse
import contextlib
import os
import platform
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from analysis.model.recording import Channel, Recording


class Report:
    """Print figures as they are measured, and remember which promises did not hold."""

    def __init__(self) -> None:
        self.broken: list[str] = []

    def figure(self, name: str, value: object) -> None:
        """Print one figure that is not held against anything."""
        print(f"  {name:<62}{value}", flush=True)

    def promise(self, name: str, held: bool, value: object) -> None:
        """Print one promise with what was measured."""
        print(f"  {name:<62}{value}  {'held' if held else 'BROKEN'}", flush=True)
        if not held:
            self.broken.append(f"{name}: {value}")


def run(doc: str | None, measure: Callable[[bool, Report], None]) -> int:
    """Parse --quick, print where this runs, measure; 1 when a promise was broken."""
    parser = argparse.ArgumentParser(description=(doc or "").split("\n")[0])
    parser.add_argument("--quick", action="store_true", help="seconds instead of minutes")
    quick = parser.parse_args().quick
    print(f"{' '.join(sys.argv)}\n{time.strftime('%Y-%m-%d')}, {platform.system()} "
          f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
          f"numpy {np.__version__}", flush=True)
    begun = time.monotonic()
    report = Report()
    measure(quick, report)
    print(f"  took {time.monotonic() - begun:.0f} s", flush=True)
    return 1 if report.broken else 0


def ramp(rows: int, channels: int = 2, rate_hz: float = 1000.0, first: int = 0) -> Recording:
    """Return a recording whose every row tells its own number: row = low + 4096 * high."""
    number = np.arange(first, first + rows)
    columns = [number % 4096, number // 4096 % 4096]
    columns += [(number * (k + 3)) % 4096 for k in range(channels - 2)]
    return Recording(np.arange(rows) / rate_hz, tuple(
        Channel("abcdefghijklmnop"[k], "track" if k < 2 else "other", values.astype(float),
                full_scale=4096.0, reference_volts=5.0)
        for k, values in enumerate(columns)), rate_hz=rate_hz, board_name="ramp")


def row_numbers(recording: Recording) -> np.ndarray:
    """Return which row of a ramp each row of a recording is."""
    low, high = (recording.channels[k].readings for k in (0, 1))
    return (low + 4096 * high).astype(np.int64)


def peak_megabytes(anew: bool = False) -> float:
    """Return the most memory this process ever held, in MB; anew: count from now on (Linux).

    From Linux' VmHWM where there is one: what getrusage tells there is never less than what the
    parent held when it started this process.
    """
    import resource

    status = Path("/proc/self/status")
    if anew and status.exists():
        # proc(5): 5 sets the peak to what is held now.
        with contextlib.suppress(OSError):
            Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    if status.exists():
        line = next(x for x in status.read_text().splitlines() if x.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
