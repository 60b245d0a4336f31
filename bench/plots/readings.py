"""The readings of a recording as figures need them, worked out once for all of them.

Half an hour at 1 kHz is two million rows of every track. Two figures, the crosshair and the strip
draw them, so what goes over all rows is done here, once, and may be done beside the window while
the analysis is under way (`readings_of` waits for whoever began).
"""

import threading
import weakref
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Recording
from bench.plots.live import GAP_ROWS, GAP_S
from bench.plots.marks import cells
from bench.plots.ranges import Array, drawable

Rows = NDArray[np.intp]
# Rows whose least and greatest reading are kept together: what a view of the whole starts from.
BLOCK = 64
# Up to so many rows in view every one is drawn.
RAW_ROWS = 8000
# Cells of the cloud of one track over another, each way.
CLOUD = 400


@dataclass(frozen=True)
class Trace:
    """Hold one track's volts at nominal supply, shape (n,), NaN where no plot can hold them.

    low, high: the least and the greatest of every BLOCK rows, NaN where none is known.
    """

    volts: Array
    low: Array
    high: Array
    whole: bool


@dataclass(frozen=True)
class Readings:
    """Hold the tracks of a recording ready to be drawn, by column; time_s: shape (n,).

    after_gap: the rows before which no row came for so long that no line may be drawn there.
    """

    time_s: Array
    traces: dict[str, Trace]
    after_gap: Rows
    _clouds: dict[tuple[str, str], tuple[Array, Array]] = field(default_factory=dict, repr=False)

    def seen(self, column: str, first: float, last: float, bins: int) -> tuple[Array, Array]:
        """Return time and volts of a track from one time to another, as a line shows them.

        Where more rows are in view than can be told apart, the least and the greatest of each of
        about so many bins: a reading that stands out alone is never lost. One row on either side
        of the view is kept, so that a line runs to its edge.
        """
        trace, count = self.traces[column], self.time_s.size
        start = max(int(np.searchsorted(self.time_s, first)) - 1, 0)
        stop = min(int(np.searchsorted(self.time_s, last, "right")) + 1, count)
        if stop - start <= RAW_ROWS:
            return self.apart(self.time_s[start:stop], trace.volts[start:stop], start, 1)
        per_bin = max((stop - start) // max(bins, 1), 1)
        if per_bin < 2 * BLOCK:
            return self.apart(*_least_and_greatest(
                self.time_s[start:stop], trace.volts[start:stop], trace.volts[start:stop],
                per_bin), start, per_bin, 2)
        start, blocks = start // BLOCK * BLOCK, slice(start // BLOCK, -(-stop // BLOCK))
        per_bin //= BLOCK
        return self.apart(*_least_and_greatest(
            self.time_s[::BLOCK][blocks], trace.low[blocks], trace.high[blocks], per_bin),
            start, BLOCK * per_bin, 2)

    def apart(self, time_s: Array, volts: Array, start: int, per_bin: int, each: int = 1) -> tuple[
            Array, Array]:
        """Return points of a line with a break (NaN) wherever no row came for long.

        start: row of the first point; per_bin: rows from one to the next; each: points of a bin.
        """
        bins = (self.after_gap - start - 1) // per_bin
        places = each * (bins + 1)
        places = places[(places > 0) & (places < volts.size)]
        if not places.size:
            return time_s, volts
        return np.insert(time_s, places, time_s[places]), np.insert(volts, places, np.nan)

    @property
    def gaps(self) -> list[tuple[float, float]]:
        """Return from when to when no row came, s."""
        return [(float(self.time_s[row - 1]), float(self.time_s[row])) for row in self.after_gap]

    def cloud(self, first: str, second: str) -> tuple[Array, Array]:
        """Return one of the readings of two tracks for each place of a picture that holds any."""
        key = (first, second)
        if key not in self._clouds:
            self._clouds[key] = cells(self.traces[first].volts, self.traces[second].volts, CLOUD)
        return self._clouds[key]


def readings_of(recording: Recording) -> Readings:
    """Return the readings of a recording; worked out once as long as the recording lives."""
    with _BUSY:
        for known, made in _MADE:
            if known() is recording:
                return made
        made = _work_out(recording)
        _MADE[:] = [(known, old) for known, old in _MADE if known() is not None]
        _MADE.append((weakref.ref(recording, _forget), made))
        return made


def prepare_readings(recording: Recording) -> None:
    """Begin to work the readings out in a thread of their own, while others are at work too."""
    threading.Thread(target=readings_of, args=(recording,), name="readings", daemon=True).start()


_BUSY = threading.RLock()
_MADE: list[tuple[weakref.ref[Recording], Readings]] = []


def _forget(gone: weakref.ref[Recording]) -> None:
    """Let go of the readings of a recording that is no more."""
    for each in _MADE[:]:
        if each[0] is gone:
            _MADE.remove(each)


def _work_out(recording: Recording) -> Readings:
    traces = {}
    for channel in recording.with_role("track"):
        volts = drawable(recording.stated_volts(channel))
        starts = np.arange(0, volts.size, BLOCK)
        low, high = (each.reduceat(volts, starts) if volts.size else volts
                     for each in (np.fmin, np.fmax))
        traces[channel.column] = Trace(volts, low, high, not np.isnan(volts.sum()))
    time_s = drawable(recording.time_s)
    made = Readings(time_s, traces, _after_gap(time_s))
    if len(traces) > 1:
        made.cloud(*list(traces)[:2])
    return made


def _after_gap(time_s: Array) -> Rows:
    """Return the rows before which no row came for longer than `GAP_S`, and than usual."""
    steps = np.diff(time_s)
    found = np.flatnonzero(steps > GAP_S)
    if found.size:
        # Rows that come slowly, or many under one time, leave no gap with each of them.
        usual = float(np.median(steps[steps > 0.0]))
        found = found[steps[found] > GAP_ROWS * usual]
    return found + 1


def _least_and_greatest(x: Array, low: Array, high: Array, per_bin: int) -> tuple[Array, Array]:
    starts = np.arange(0, x.size, per_bin)
    both = np.empty(2 * starts.size)
    both[0::2], both[1::2] = np.fmin.reduceat(low, starts), np.fmax.reduceat(high, starts)
    return np.repeat(x[starts], 2), both
