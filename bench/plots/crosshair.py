"""The crosshair: an upright line at the place read, and a ring where a single reading lies."""

import pyqtgraph as pg

from bench.plots.ranges import known
from bench.plots.readout import Reading
from bench.plots.style import SOLID, Look, line


class Crosshair:
    """Marks of the place read, in one plot; they belong to no curve and move no range."""

    def __init__(self, plot: pg.PlotItem, look: Look) -> None:
        self.x = self.y = float("nan")
        self._line = pg.InfiniteLine(0.0, angle=90, pen=line(look.foreground, SOLID))
        self._ring = pg.ScatterPlotItem(symbol="o", size=13, brush=None,
                                        pen=line(look.foreground, SOLID, 2))
        for item in (self._line, self._ring):
            item.setZValue(100)
            plot.addItem(item, ignoreBounds=True)

    def show_at(self, reading: Reading) -> None:
        """Stand where a reading was looked up."""
        self.x, self.y = reading.x, reading.y
        self._line.setValue(reading.x)
        self._line.show()
        ringed = bool(known(reading.y))
        self._ring.setData([reading.x] if ringed else [], [reading.y] if ringed else [])

    def hide(self) -> None:
        """Stand nowhere."""
        self.x = self.y = float("nan")
        self._line.hide()
        self._ring.setData([], [])
