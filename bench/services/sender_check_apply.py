"""What becomes of stored calibrations: listed with what moved, applied to later recordings."""

import csv
import io
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analysis.model.recording import Array
from analysis.senders.calibration import Change
from bench.errors import BadCall
from bench.files.calibration_store import (
    StoredCalibration,
    apply,
    compare,
    history,
    load,
    outside_share,
    valid_at,
)
from bench.files.exports.calibration import equation_text as equation_text
from bench.files.recording_file import read_recording


@dataclass(frozen=True)
class Applied:
    """Hold a recording's channel as a quantity: time_s, value, uncertainty, each (n,).

    outside: share of rows beyond the calibrated range, 0 to 1.
    """

    stored: StoredCalibration
    time_s: Array
    value: Array
    uncertainty: Array
    outside: float
    notes: tuple[str, ...]

    @property
    def lowest(self) -> float:
        """Return the lowest value; NaN when there is none."""
        return float(np.nanmin(self.value)) if np.isfinite(self.value).any() else float("nan")

    @property
    def highest(self) -> float:
        """Return the highest value; NaN when there is none."""
        return float(np.nanmax(self.value)) if np.isfinite(self.value).any() else float("nan")


@dataclass(frozen=True)
class Kept:
    """Hold one stored calibration and how far the channel had moved since the one before."""

    stored: StoredCalibration
    change: Change | None


def kept_calibrations(folder: str | Path, channel: str) -> tuple[Kept, ...]:
    """Return a channel's calibrations, the oldest first; raise BadCall when there is none."""
    known = history(folder, channel)
    if not known:
        raise BadCall(f"no calibration of channel {channel!r} in {folder}; make one with "
                      "'stillpedal meter'")
    return tuple(
        Kept(stored, compare(known[k - 1], stored) if k else None)
        for k, stored in enumerate(known))


def apply_to_file(path: str | Path, channel: str, folder: str | Path,
                  calibration: str | Path | None = None) -> Applied:
    """Return the channel's quantity by the last calibration made before the recording.

    calibration: a stored file to be used instead, whatever its date; its channel is renamed
    when `channel` says so.
    """
    recording = read_recording(path)
    notes = []
    if calibration is not None:
        stored = load(calibration)
        if channel and channel != stored.channel:
            notes.append(f"the calibration was made for channel {stored.channel!r} and is applied "
                         f"to {channel!r}")
            stored = replace(stored, channel=channel)
    else:
        if not channel:
            raise BadCall("--apply needs --channel NAME, or --calibration FILE")
        if not recording.started:
            raise BadCall(f"{path} does not say when it was started, so its calibration cannot be "
                          "found by date; name one with --calibration")
        stored = valid_at(folder, channel, recording.started)
    value, uncertainty = apply(stored, recording)
    outside = outside_share(stored, recording)
    if outside > 0:
        notes.append(f"{100 * outside:.1f} % of the rows lie outside the calibrated range, where "
                     "the curve is only guessed on")
    return Applied(stored, recording.time_s, value, uncertainty, outside, tuple(notes))


def applied_csv(applied: Applied) -> str:
    """Return time, quantity and its standard uncertainty as a CSV table."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    unit = applied.stored.calibration.unit
    writer.writerow(["time_s", f"{applied.stored.channel} [{unit}]", f"uncertainty [{unit}]"])
    for t, v, u in zip(applied.time_s, applied.value, applied.uncertainty, strict=True):
        writer.writerow([f"{t:.6f}", "" if np.isnan(v) else f"{v:.7g}",
                         "" if np.isnan(u) else f"{u:.3g}"])
    return out.getvalue()
