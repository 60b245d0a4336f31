"""The figures of a meter check: the points with their curve, and what is left over."""

import numpy as np
import pyqtgraph as pg
from PySide6.QtGui import QColor

from analysis.senders.calibration import Calibration
from bench.plots.marks import level
from bench.plots.style import DOTTED, SOLID, Look, dress, line, say

CURVE_POINTS = 120


def draw_points(plot: pg.PlotItem, found: Calibration | None, look: Look) -> None:
    """Draw the meter against what the channel shows, with the curve; None says what is missing."""
    _wipe(plot)
    if found is None:
        dress(plot, look, "Meter against channel")
        say(plot, look, "A line appears with the third point.")
        return
    dress(plot, look, "Meter against channel", f"channel as stated ({found.x_unit})",
          f"meter ({found.unit})", key=False)
    at = np.linspace(found.low, found.high, CURVE_POINTS)
    plot.addItem(pg.PlotDataItem(at, found.curve.value(at), pen=line(look.limit, SOLID, 1.5),
                                 connect="finite", name="calibration"))
    plot.addItem(_dots(found, found.points.meter, look, "points"))


def draw_residuals(plot: pg.PlotItem, found: Calibration | None, look: Look) -> None:
    """Draw meter less curve at every point, with the 95 % limits of the curve."""
    _wipe(plot)
    if found is None:
        dress(plot, look, "What is left over")
        say(plot, look, "Residuals appear with the third point.")
        return
    dress(plot, look, "What is left over", f"channel as stated ({found.x_unit})",
          f"meter less curve ({found.unit})", f"left over ({found.unit})", key=False)
    at = np.linspace(found.low, found.high, CURVE_POINTS)
    half = np.array([found.predict(float(x), with_meter=False).half_width for x in at])
    for side in (half, -half):
        plot.addItem(pg.PlotDataItem(at, side, pen=line(look.quiet, DOTTED), connect="finite"))
    plot.addItem(_dots(found, found.residuals, look, "residuals"))
    level(plot, look, 0.0, style=SOLID)


def _dots(found: Calibration, y: np.ndarray, look: Look, name: str) -> pg.ScatterPlotItem:
    """Return the points, each pointing the way its run went: a play between runs shows."""
    ways = ["t1" if way > 0 else "t" for way in found.points.way]
    return pg.ScatterPlotItem(found.x, y, symbol=ways, size=10, brush=QColor(look.track(0)),
                              pen=line(look.background), name=name)


def _wipe(plot: pg.PlotItem) -> None:
    plot.clear()
    plot.enableAutoRange()
    if plot.legend is not None:
        plot.legend.clear()
