"""What several tests of `stillpedal meter` share: a divider, its points, its recording."""

from dataclasses import replace

import numpy as np

from analysis.model.recording import Channel, Mark, Recording
from analysis.senders import Divider
from bench.files.calibration_store import save
from bench.services.sender_check import SenderCheckOptions, calibrate_taken, points_of_recording

DIVIDER = ["--kind", "divider", "--set", "top_ohms=40k", "--set", "bottom_ohms=10k",
           "--set", "highest_volts=24"]
LEAFLET = ["--meter-spec", "0.5% + 2 digits", "--meter-name", "bench meter"]
VOLTS = (0.5, 1.4, 2.3, 3.2, 4.1, 4.1, 3.2, 2.3, 1.4, 0.5)


def points_file(folder, gain=5.02, offset=0.02, name="points.csv"):
    """Write a CSV of points of a 1:5 divider and return its path."""
    file = folder / name
    file.write_text("reading,meter\n" + "".join(
        f"{v},{gain * v + offset:.2f}\n" for v in VOLTS), encoding="utf-8")
    return file


def bench_recording(gain=5.02, mark_at="end", drifting=None, counts=4096, title="steps"):
    """Return a recording of ten steps of 3 s, each with a mark of what the meter showed."""
    rng = np.random.default_rng(4)
    rate, per_step = 200.0, 600
    level = np.repeat(VOLTS, per_step).astype(float)
    if drifting is not None:
        part = slice(drifting * per_step, (drifting + 1) * per_step)
        level[part] += np.linspace(0, 0.2, per_step)
    readings = np.rint(level / 5 * counts + rng.normal(0, 1.0, level.size))
    place = {"end": per_step - 1, "start": 0}[mark_at]
    marks = tuple(Mark(k * per_step + place, f"meter {gain * v:.2f}")
                  for k, v in enumerate(VOLTS))
    pack = Channel("pack", "voltage", readings, "counts", float(counts), 5.0)
    other = Channel("other", "other", np.zeros(level.size), "counts", float(counts), 5.0)
    return Recording(np.arange(level.size) / rate, (pack, other), marks, title, "meter",
                     "2026-05-02T09:14:03+02:00", rate)


def options(**more):
    return SenderCheckOptions(Divider(top_ohms=40e3, bottom_ohms=10e3, highest_volts=24),
                       "0.5% + 2 digits", **more)


# --- the store -------------------------------------------------------------------------------

def stored_one(folder, gain=5.02, date="2026-05-02T09:14:03+02:00", meter="bench meter"):
    taken = points_of_recording(
        replace(bench_recording(gain=gain), started=date), options(channel="pack"))
    result = calibrate_taken(taken, replace(options(channel="pack"), meter_name=meter))
    return save(folder, result.stored), result
