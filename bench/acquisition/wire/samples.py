"""What comes out of the decoder: what the board is, and rows of readings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.model.converter import CodeRange


@dataclass(frozen=True)
class Hello:
    """Hold what a board says it is; None where it did not say.

    columns: names of the channels, in the order of the readings.
    full_scale, reference_volts: volts at the pin = reading * reference_volts / full_scale.
    rate_hz: rows per second.
    usable_low, usable_high: raw readings between which the converter can be believed.
    roles: one per column, as in the recording file.
    volts: the readings are volts at the pin, printed with decimals, and no counts.
    """

    name: str
    columns: tuple[str, ...]
    full_scale: int | None
    reference_volts: float | None
    rate_hz: float | None
    usable_low: int | None = None
    usable_high: int | None = None
    roles: tuple[str, ...] | None = None
    volts: bool = False

    @property
    def codes(self) -> CodeRange:
        """Return which raw readings it says its converter gives."""
        return CodeRange(self.full_scale, self.usable_low, self.usable_high)


@dataclass(frozen=True)
class Batch:
    """Hold the rows of one feed; all rows have the same number of channels.

    time_s: shape (n,), seconds since the first row of the stream, by the board's clock,
        unrolled, never decreasing. Without a board clock: rows counted / rate; NaN if the
        rate is unknown too (the recorder then stamps the time of arrival).
    readings: shape (n, channels), int64; float64 where the board prints volts.
    lost_before: shape (n,), int64, samples lost right before each row.
    hello: set when a new or changed hello came; it holds for the rows of this batch.
    problems: one line each: where bytes were thrown away, and why.
    restarts: rows before which an unknown length of time passed (board restarted, or
        `Decoder.reset`). time_s goes on there as if one row had passed; whoever knows the
        time of arrival adds what is missing to this and all later rows.
    """

    time_s: NDArray[np.float64]
    readings: NDArray[np.int64] | NDArray[np.float64]
    lost_before: NDArray[np.int64]
    hello: Hello | None = None
    problems: tuple[str, ...] = ()
    restarts: tuple[int, ...] = ()

    @property
    def rows(self) -> int:
        """Return the number of rows."""
        return int(self.time_s.size)


def empty_batch(channels: int = 0, hello: Hello | None = None,
                problems: tuple[str, ...] = ()) -> Batch:
    """Return a batch without rows."""
    return Batch(np.empty(0), np.empty((0, channels), np.int64), np.empty(0, np.int64),
                 hello, problems)


def count_joinable(batches: list[Batch]) -> int:
    """Say how many, from the first on, fit into one: no hello after rows, the same channels."""
    channels: int | None = None
    for place, batch in enumerate(batches):
        if batch.hello is not None and channels is not None:
            return place
        if batch.rows:
            if channels not in (None, batch.readings.shape[1]):
                return place
            channels = batch.readings.shape[1]
    return len(batches)


def join(batches: list[Batch]) -> Batch:
    """Return one batch of the rows of all, in order."""
    if len(batches) == 1:
        return batches[0]
    filled = [b for b in batches if b.rows] or batches[-1:]
    restarts: list[int] = []
    before = 0
    for batch in filled:
        restarts.extend(row + before for row in batch.restarts)
        before += batch.rows
    return Batch(
        np.concatenate([b.time_s for b in filled]),
        np.concatenate([b.readings for b in filled]),
        np.concatenate([b.lost_before for b in filled]),
        next((b.hello for b in reversed(batches) if b.hello is not None), None),
        tuple(text for b in batches for text in b.problems),
        tuple(restarts),
    )
