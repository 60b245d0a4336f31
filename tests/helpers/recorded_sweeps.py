"""Recorded sweeps that several tests of the window open."""

from pathlib import Path

from analysis.simulation import SimulatedSweep, pedal_named, simulate_sweep
from bench.files.recording_file import write_recording


def swept(pedal: str, seed: int = 1) -> SimulatedSweep:
    """Return a simulated sweep at 500 rows a second, 12 bits."""
    return simulate_sweep(pedal_named(pedal), 500.0, 12, seed=seed)


def worn_file(folder: Path) -> Path:
    """Write a recording with wiper dropouts on track b, as the simulator knows."""
    path = folder / "dropouts.csv"
    write_recording(path, swept("dropouts", seed=3).recording)
    return path


def sound_file(folder: Path) -> Path:
    """Write a recording of a pedal with nothing wrong."""
    path = folder / "healthy.csv"
    write_recording(path, swept("healthy", seed=4).recording)
    return path
