"""Recorded sweeps that several tests of the window open."""

import tempfile
from functools import cache
from pathlib import Path

from analysis.simulation import SimulatedSweep, pedal_named, simulate_sweep
from bench.files.recording_file import write_recording


def swept(pedal: str, seed: int = 1) -> SimulatedSweep:
    """Return a simulated sweep at 500 rows a second, 12 bits."""
    return simulate_sweep(pedal_named(pedal), 500.0, 12, seed=seed)


@cache
def _written(pedal: str, seed: int) -> bytes:
    """Return the file of a sweep: simulated once, for every module writes a copy of its own."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sweep.csv"
        write_recording(path, swept(pedal, seed).recording)
        return path.read_bytes()


def worn_file(folder: Path) -> Path:
    """Write a recording with wiper dropouts on track b, as the simulator knows."""
    path = folder / "dropouts.csv"
    path.write_bytes(_written("dropouts", 3))
    return path


def sound_file(folder: Path) -> Path:
    """Write a recording of a pedal with nothing wrong."""
    path = folder / "healthy.csv"
    path.write_bytes(_written("healthy", 4))
    return path
