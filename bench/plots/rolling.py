"""Plots that follow the readings as they come: rolling traces, and track against track growing.

Memory and the work of one painting are constant, however long the recording runs: the traces
keep the least and greatest reading of each narrow bin of time, the pair a picture of the cells
that were ever visited. Both axes of both plots stand still, so nothing but curves is painted.
"""

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtWidgets import QGraphicsItem

from bench.plots.style import Look, dress, line

Array = NDArray[np.float64]
BINS = 800
SIDE = 320
# A silence longer than this is shown as a break in the line.
GAP_S = 0.3


def _still(plot: pg.PlotItem) -> None:
    """Keep the painted axes as pictures: they stand still, and cost more than the curves."""
    for side in ("bottom", "left"):
        plot.getAxis(side).setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)


class RollingTraces:
    """The last `seconds` of every channel, now at the right edge."""

    def __init__(self, plot: pg.PlotItem, look: Look, columns: Sequence[str],
                 full_volts: float, seconds: float = 20.0) -> None:
        self._width_s = seconds / BINS
        self._low = np.full((len(columns), BINS), np.nan)
        self._high = np.full((len(columns), BINS), np.nan)
        self._newest = -1
        self._plot = plot
        plot.clear()
        dress(plot, look, "", "time before now (s)", "volts at the sensor (V)")
        plot.legend.clear()
        plot.setMouseEnabled(x=False, y=True)
        plot.setXRange(-seconds, 0.0, padding=0)
        plot.setYRange(0.0, full_volts, padding=0.03)
        self._x = np.repeat((np.arange(BINS) + 1 - BINS) * self._width_s, 2)
        _still(plot)
        self._curves = []
        for index, column in enumerate(columns):
            curve = pg.PlotCurveItem(
                pen=line(look.track(index), look.track_style(index)), name=column)
            plot.addItem(curve)
            self._curves.append(curve)

    def add(self, time_s: Array, volts: Array) -> None:
        """Take in readings. time_s: shape (n,), never decreasing; volts: shape (n, channels)."""
        if not time_s.size:
            return
        bins = np.floor(time_s / self._width_s).astype(np.int64)
        # Only what will still be seen; a long silence would otherwise be filled bin by bin.
        keep = bins > bins[-1] - BINS
        bins, volts = bins[keep], volts[keep]
        entered = np.arange(max(self._newest + 1, bins[-1] - BINS + 1), bins[-1] + 1) % BINS
        self._low[:, entered] = np.nan
        self._high[:, entered] = np.nan
        self._newest = max(self._newest, int(bins[-1]))
        starts = np.flatnonzero(np.concatenate(([True], bins[1:] != bins[:-1])))
        at = bins[starts] % BINS
        self._low[:, at] = np.fmin(self._low[:, at], np.fmin.reduceat(volts, starts, axis=0).T)
        self._high[:, at] = np.fmax(self._high[:, at], np.fmax.reduceat(volts, starts, axis=0).T)

    def close_up(self, least_volts: float) -> None:
        """Zoom the volts to what is in view, but never closer than `least_volts`."""
        low, high = (float(f(v)) if np.isfinite(v).any() else np.nan
                     for f, v in ((np.nanmin, self._low), (np.nanmax, self._high)))
        if np.isfinite(low):
            room = max(0.15 * (high - low), (least_volts - (high - low)) / 2)
            self._plot.setYRange(low - room, high + room, padding=0)

    def paint(self) -> None:
        """Bring the curves up to date."""
        if self._newest < 0:
            return
        order = (np.arange(BINS) + self._newest + 1) % BINS
        y = np.empty(2 * BINS)
        for index, curve in enumerate(self._curves):
            y[0::2], y[1::2] = self._low[index, order], self._high[index, order]
            # Bins narrower than the time between rows stay empty: they are no gap.
            seen = np.isfinite(y)
            x = self._x[seen]
            joined = np.diff(x, append=np.inf) < GAP_S
            curve.setData(x, y[seen], connect="all" if joined[:-1].all() else joined)
