"""A track's volts over time as one line that never holds more points than are seen.

pyqtgraph reduces a long line itself, but goes over every row for that at each change of the view,
and over all of them several times before the first: half of what drawing half an hour took.
"""

import numpy as np
import pyqtgraph as pg

from bench.plots.ranges import known
from bench.plots.readings import Readings

# Bins of rows per pixel of width: the least and the greatest of each are drawn.
BINS_PER_PIXEL = 1.5
# As wide as a plot is taken to be before it was laid out.
LEAST_WIDTH = 800.0


class LongCurve(pg.PlotDataItem):
    """One track of a recording over time; what of it is in view is looked up at every change.

    level: what volts are multiplied with. More as of `PlotDataItem`.
    """

    def __init__(self, readings: Readings, column: str, level: float, **more: object) -> None:
        self._readings, self._column, self._level = readings, column, level
        self._seen: tuple[float, float, int] | None = None
        time_s, trace = readings.time_s, readings.traces[column]
        whole = (trace.whole and not readings.after_gap.size and bool(time_s.size)
                 and len(known(*time_s[[0, -1]])) == 2)
        self._bounds = (_ends(time_s[[0, -1]] if time_s.size else time_s),
                        _ends(level * np.r_[trace.low, trace.high]))
        super().__init__(connect="all" if whole else "finite", skipFiniteCheck=whole, **more)
        self._look(*self._bounds[0])

    def dataBounds(self, ax: int, frac: float = 1.0, orthoRange: object = None) -> list[
            float | None]:
        """Return the least and the greatest of all rows, not of those in view alone."""
        del frac, orthoRange
        return list(self._bounds[ax])

    def viewRangeChanged(self, vb: pg.ViewBox | None = None, ranges: object = None,
                         changed: object = None) -> None:
        """Look up what of the line is in view now."""
        del vb, ranges, changed
        box = self.getViewBox()
        if isinstance(box, pg.ViewBox):
            self._look(*box.viewRange()[0])

    def _look(self, first: float | None, last: float | None) -> None:
        low, high = self._bounds[0]
        if first is None or last is None or low is None or high is None:
            return
        box = self.getViewBox()
        pixels = LEAST_WIDTH if box is None else max(
            LEAST_WIDTH, box.width() * _sharpness(box))
        # What lies beyond the first and the last row changes nothing of the line.
        asked = max(first, low), min(last, high), round(BINS_PER_PIXEL * pixels)
        if asked != self._seen:
            self._seen = asked
            time_s, volts = self._readings.seen(self._column, *asked)
            self.setData(time_s, self._level * volts)


def _sharpness(box: pg.ViewBox) -> float:
    """Return how many pixels of the screen one of the window's is."""
    view = box.getViewWidget()
    return 1.0 if view is None else float(view.devicePixelRatioF())


def _ends(values: np.ndarray) -> tuple[float | None, float | None]:
    """Return the least and the greatest, None where none is known."""
    seen = values[np.isfinite(values)]
    return (float(seen.min()), float(seen.max())) if seen.size else (None, None)
