"""Measurements as ASAM MDF 4.10, through the optional library asammdf.

Raw readings are stored as they came, with the linear conversion to volts at the sensor beside
them (ASAM MDF 4, CCBLOCK); each mark becomes an event (EVBLOCK) at its time.
"""

import importlib
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from analysis.model.recording import Channel, Recording
from bench.errors import BadCall
from bench.files.exports.files import write_through

VERSION = "4.10"
_NANOSECOND = 1e-9


def write_measurements_mdf(recording: Recording, path: Path) -> None:
    """Write the measurements; the ending becomes .mf4, and only that.

    Raises BadCall when asammdf is missing or the ending is another, BadFile when `path` cannot
    be written.
    """
    if path.suffix.lower() != ".mf4":
        raise BadCall(f"an MDF4 file ends in .mf4, not in {path.suffix or 'nothing'!r}; "
                      f"use --out {path.with_suffix('.mf4').name}")
    library = _library()
    with library.MDF(version=VERSION) as file:
        signals = [_raw(library, recording, channel) for channel in recording.channels]
        if recording.supply is not None or recording.rheostat is not None:
            signals += [_stated(library, recording, channel)
                        for channel in recording.with_role("track")]
        file.append(signals, acq_name=recording.board_name or None, common_timebase=True,
                    comment=recording.title)
        file.header.start_time = _start(recording.started)
        file.header.description = recording.title
        file.events.extend(_events(recording))
        write_through(path, lambda part: file.save(part, overwrite=True))


def _library() -> ModuleType:
    try:
        return importlib.import_module("asammdf")
    except ImportError:
        raise BadCall("MDF4 needs the library asammdf, which is not installed; run: "
                      "pip install 'stillpedal[mdf]', or export --format csv") from None


def _raw(library: ModuleType, recording: Recording, channel: Channel) -> Any:
    readings = channel.readings
    whole = np.isfinite(readings).all() and np.all(readings == np.round(readings))
    samples = readings
    if channel.unit == "counts" and whole and readings.size and readings.min() >= 0:
        samples = readings.astype(np.uint16 if readings.max() < 2 ** 16 else np.uint32)
    conversion = {"a": channel.pin_volts_per_reading * channel.scale, "b": channel.offset_volts}
    return library.Signal(
        samples=samples, timestamps=recording.time_s, unit="V", name=channel.column,
        conversion=conversion,
        comment=f"{channel.role}, volts at the sensor; raw in {channel.unit}")


def _stated(library: ModuleType, recording: Recording, channel: Channel) -> Any:
    per_volt = recording.ohms_per_volt
    if per_volt is not None:
        return library.Signal(
            samples=per_volt * recording.stated_volts(channel), timestamps=recording.time_s,
            unit="ohm", name=f"{channel.column} ohms", comment="ohms of the rheostat")
    return library.Signal(
        samples=recording.stated_volts(channel), timestamps=recording.time_s, unit="V",
        name=f"{channel.column} at nominal supply",
        comment=f"volts as a share of the supply, stated at {recording.nominal_volts:g} V")


def _events(recording: Recording) -> list[Any]:
    blocks = importlib.import_module("asammdf.blocks.v4_blocks")
    constants = importlib.import_module("asammdf.blocks.v4_constants")
    events = []
    for mark in recording.marks:
        event = blocks.EventBlock(
            event_type=constants.EVENT_TYPE_MARKER, sync_type=constants.EVENT_SYNC_TYPE_S,
            range_type=constants.EVENT_RANGE_TYPE_POINT, cause=constants.EVENT_CAUSE_USER,
            sync_base=round(float(recording.time_s[mark.row]) / _NANOSECOND),
            sync_factor=_NANOSECOND)
        event.name = mark.text
        events.append(event)
    return events


def _start(started: str) -> datetime:
    try:
        when = datetime.fromisoformat(started)
    except ValueError:
        # MDF must state some time; the epoch says "not known" to anyone who looks.
        return datetime.fromtimestamp(0, UTC)
    return when if when.tzinfo else when.replace(tzinfo=UTC)
