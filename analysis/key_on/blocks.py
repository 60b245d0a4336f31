"""Long logs in small bites: block statistics of every channel, without whole-log copies.

Four hours at 1 kHz are 14.4 million rows; a copy of each column would not fit. Everything that
can be read from blocks of 0.05 s is; only the places that matter are read at full rate.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array, Channel, Recording

BLOCK_S = 0.05
_CHUNK_BLOCKS = 1500

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class BlockStats:
    """Hold one channel's blocks, each of shape (n,): mean, variance, lowest, highest reading."""

    mean: Array
    variance: Array
    lowest: Array
    highest: Array


@dataclass(frozen=True)
class Blocks:
    """Hold the log in blocks of `size` rows (the last one may be shorter).

    first_row: shape (n,), first row of each block. time_s: its middle time.
    stated: tracks, volts at nominal supply. measured: every channel's mean volts at the sensor.
    """

    size: int
    rows: int
    step_s: float
    first_row: Ints
    time_s: Array
    stated: Mapping[str, BlockStats]
    measured: Mapping[str, Array]
    supply_lowest: Array | None

    @property
    def count(self) -> int:
        """Return the number of blocks."""
        return int(self.first_row.size)

    def index(self, row: int) -> int:
        """Return the block that holds the row."""
        return min(row // self.size, self.count)

    def between(self, start_row: int, stop_row: int) -> slice:
        """Return the blocks that lie wholly within the rows."""
        first = -(-max(start_row, 0) // self.size)
        last = self.count if stop_row >= self.rows else stop_row // self.size
        return slice(first, max(first, last))


@dataclass(frozen=True)
class Readings:
    """Hold a log, its blocks, and where no foot is: what each measure of a track is made of.

    free: shape (blocks,), False where a foot seems to be on the pedal.
    """

    recording: Recording
    blocks: Blocks
    free: Bools


def volts_of(channel: Channel, start: int, stop: int) -> Array:
    """Return the channel's volts at the sensor for rows start to stop, shape (stop - start,)."""
    scale = channel.pin_volts_per_reading * channel.scale
    result: Array = channel.readings[start:stop] * scale
    result += channel.offset_volts
    return result


def stated_of(recording: Recording, channel: Channel, start: int, stop: int,
              supply: Array | None = None) -> Array:
    """Return a track's volts at nominal supply for rows start to stop, NaN where meaningless.

    The rule is that of `Recording.stated_volts`; supply may be given when already at hand.
    """
    if supply is None and recording.supply is not None:
        supply = volts_of(recording.supply, start, stop)
    return recording.stated_by(volts_of(channel, start, stop), supply)


def make_blocks(recording: Recording) -> Blocks:
    """Return the block statistics of a recording with at least two rows."""
    rows = recording.rows
    step = _usual_step(recording.time_s)
    size = max(1, round(BLOCK_S / step)) if step > 0 else 1
    first = np.arange(0, rows, size, dtype=np.int64)
    last = np.minimum(first + size, rows) - 1
    time = 0.5 * (recording.time_s[first] + recording.time_s[last])
    tracks = recording.with_role("track")
    others = [c for c in recording.channels if c.role != "track"]
    stated = {c.column: _empty(first.size) for c in tracks}
    measured = {c.column: np.empty(first.size) for c in recording.channels}
    supply = recording.supply
    lowest = None if supply is None else np.empty(first.size)
    for begin in range(0, first.size, _CHUNK_BLOCKS):
        end = min(begin + _CHUNK_BLOCKS, first.size)
        start, stop = int(first[begin]), int(last[end - 1]) + 1
        feed = None if supply is None else volts_of(supply, start, stop)
        if feed is not None and lowest is not None:
            lowest[begin:end] = _fold(feed, size, np.fmin)
        for channel in tracks:
            volts = volts_of(channel, start, stop)
            measured[channel.column][begin:end] = _means(volts, size)
            values = volts if feed is None and recording.rheostat is None else stated_of(
                recording, channel, start, stop, feed)
            _fill(stated[channel.column], begin, end, values, size)
        for channel in others:
            measured[channel.column][begin:end] = _means(volts_of(channel, start, stop), size)
    return Blocks(size, rows, step, first, time, stated, measured, lowest)


def gap_rows(recording: Recording, step_s: float) -> Ints:
    """Return the rows before which samples are missing, shape (k,)."""
    found: list[Ints] = []
    chunk = 500_000
    for begin in range(0, recording.rows - 1, chunk):
        piece = np.diff(recording.time_s[begin:begin + chunk + 1])
        found.append(np.flatnonzero(piece > 1.5 * step_s).astype(np.int64) + begin + 1)
    return np.concatenate(found) if found else np.empty(0, dtype=np.int64)


def runs(flags: Bools) -> list[tuple[int, int]]:
    """Return (start, stop) of every stretch of True, in order."""
    if not flags.size:
        return []
    edges = np.flatnonzero(np.diff(flags.astype(np.int8), prepend=0, append=0))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _usual_step(time_s: Array) -> float:
    # Rows that came in pairs under one time stamp have no usual step but the mean.
    mean_s = float(time_s[-1] - time_s[0]) / max(time_s.size - 1, 1) or 1.0
    # The median of a sample of the steps is enough and spares a sort of millions.
    if time_s.size <= 200_000:
        return float(np.median(np.diff(time_s))) or mean_s
    picks = np.linspace(0, time_s.size - 2, 100_000).astype(np.int64)
    return float(np.median(time_s[picks + 1] - time_s[picks])) or mean_s


def _empty(n: int) -> BlockStats:
    return BlockStats(np.empty(n), np.empty(n), np.empty(n), np.empty(n))


def _shaped(values: Array, size: int) -> tuple[Array, Array]:
    whole = values.size // size * size
    return values[:whole].reshape(-1, size), values[whole:].reshape(1, -1)


def _fold(values: Array, size: int, extreme: np.ufunc) -> Array:
    body, tail = _shaped(values, size)
    parts = [extreme.reduce(p, axis=1) for p in (body, tail) if p.size]
    result: Array = np.concatenate(parts)
    return result


def _means(values: Array, size: int) -> Array:
    body, tail = _shaped(values, size)
    parts = []
    for part in (body, tail):
        if not part.size:
            continue
        mean = part.mean(axis=1)
        bad = np.isnan(mean)
        if bad.any():
            mean[bad] = _nan_means(part[bad])
        parts.append(mean)
    result: Array = np.concatenate(parts)
    return result


def _nan_means(part: Array) -> Array:
    count = np.sum(~np.isnan(part), axis=1)
    total = np.nansum(part, axis=1)
    result: Array = np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0)
    return result


def _fill(stats: BlockStats, begin: int, end: int, values: Array, size: int) -> None:
    mean = _means(values, size)
    stats.mean[begin:end] = mean
    stats.lowest[begin:end] = _fold(values, size, np.fmin)
    stats.highest[begin:end] = _fold(values, size, np.fmax)
    spread = values - np.repeat(mean, size)[:values.size]
    spread *= spread
    stats.variance[begin:end] = _means(spread, size)


def switchings(values: Array, high: float, low: float,
               state: bool | None) -> tuple[list[int], list[bool], bool | None]:
    """Return where values turn on (>= high) or off (<= low), each new state, and the last one.

    Between low and high the state stays. state: before the first value; None when unknown,
    then the first clear value counts as a turn. NaN changes nothing.
    """
    clear = np.flatnonzero((values >= high) | (values <= low))
    if not clear.size:
        return [], [], state
    states = values[clear] >= high
    turns = np.flatnonzero(np.diff(states)) + 1
    if state is None or bool(states[0]) != state:
        turns = np.concatenate([[0], turns])
    return ([int(clear[t]) for t in turns], [bool(states[t]) for t in turns], bool(states[-1]))
