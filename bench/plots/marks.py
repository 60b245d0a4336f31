"""Pieces that figures share: shaded stretches, level lines with their value, swatches."""

from collections.abc import Callable, Sequence

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QImage, QPaintEngine, QPainter, QTransform

from bench.plots.ranges import known
from bench.plots.style import Look, line, tint

Array = NDArray[np.float64]

# A plot is rarely wider than this many pixels; more points than two per pixel are never seen.
SEEN_POINTS = 4000
_PIECE = 1 << 15


class Stretches(pg.GraphicsObject):
    """Shaded stretches of the x axis over the whole height, painted as one item.

    One LinearRegionItem per segment would cost a second to build for a half-hour recording.
    """

    def __init__(self, spans: Sequence[tuple[float, float, QColor]]) -> None:
        super().__init__()
        self.spans = list(spans)
        # By colour: a painter takes all of one at once.
        of_color: dict[int, list[tuple[float, float]]] = {}
        for start, end, color in self.spans:
            of_color.setdefault(color.rgba(), []).append((start, end))
        self._by_color = {rgba: (QColor.fromRgba(rgba), np.array(times))
                          for rgba, times in of_color.items()}
        self.setZValue(-100)

    def viewRangeChanged(self) -> None:
        self.prepareGeometryChange()
        self.update()

    def boundingRect(self) -> QRectF:
        return self.viewRect() or QRectF()

    def paint(self, painter: QPainter, *_args: object) -> None:
        view = self.viewRect()
        if view is None:
            return
        engine = painter.paintEngine()
        if engine is not None and engine.type() == QPaintEngine.Type.Raster:
            self._paint_pixels(painter, view)
            return
        painter.setPen(Qt.PenStyle.NoPen)
        for color, times in self._by_color.values():
            painter.setBrush(color)
            painter.drawRects([QRectF(x, view.top(), to - x, view.height()) for x, to in
                               _in_view(times, view.left(), view.right())])

    def _paint_pixels(self, painter: QPainter, view: QRectF) -> None:
        """Paint one row of pixels and stretch it over the height.

        It is the same in every row, and half an hour has more stretches than a plot has pixels:
        filled one by one they take longer than all the rest of the plot.
        """
        area = painter.worldTransform().mapRect(view).toAlignedRect()
        device = painter.device()
        sharp = device.devicePixelRatioF() if device is not None else 1.0
        wide = round(area.width() * sharp)
        if wide < 1 or not view.width() > 0:
            return
        row = QImage(wide, 1, QImage.Format.Format_ARGB32_Premultiplied)
        row.fill(Qt.GlobalColor.transparent)
        inside = QPainter(row)
        inside.setPen(Qt.PenStyle.NoPen)
        scale = wide / view.width()
        for color, times in self._by_color.values():
            inside.setBrush(color)
            inside.drawRects([QRectF(x, 0.0, to - x, 1.0) for x, to in
                              _in_view(np.rint((times - view.left()) * scale), 0.0, wide)])
        inside.end()
        painter.save()
        painter.setWorldTransform(QTransform())
        painter.drawImage(area, row)
        painter.restore()


def _in_view(ends: Array, first: float, last: float) -> list[list[float]]:
    """Return what is seen of stretches between two places; ends: shape (n, 2)."""
    seen = np.clip(ends, first, last)
    kept: list[list[float]] = seen[seen[:, 1] > seen[:, 0]].tolist()
    return kept


def band(plot: pg.PlotItem, low: float, high: float, color: str) -> None:
    """Shade a stretch of the y axis, for instance a dead band."""
    if len(known(low, high)) < 2:
        return
    region = pg.LinearRegionItem(
        (low, high), orientation="horizontal", movable=False,
        brush=tint(color), pen=pg.mkPen(None))
    region.setZValue(-90)
    plot.addItem(region, ignoreBounds=True)


def level(plot: pg.PlotItem, look: Look, value: float, *, style: Qt.PenStyle,
          color: str | QColor | None = None) -> pg.InfiniteLine | None:
    """Draw a level across the plot; NaN draws nothing. Return what was drawn.

    No text stands on it, where it would cover readings: see `named_level`.
    """
    if not known(value):
        return None
    drawn = pg.InfiniteLine(value, angle=0, pen=line(color or look.limit, style))
    plot.addItem(drawn, ignoreBounds=True)
    return drawn


def named_level(plot: pg.PlotItem, look: Look, value: float, text: str, *,
                style: Qt.PenStyle, color: str | QColor | None = None) -> None:
    """Draw a level whose name stands in the legend, where it covers no reading; "" for none."""
    if level(plot, look, value, style=style, color=color) is not None and text:
        plot.legend.addItem(pg.PlotDataItem(pen=line(color or look.limit, style)), text)


def swatch(brush: QColor | QBrush) -> pg.BarGraphItem:
    """Return what stands before the name of a shade in a legend."""
    return pg.BarGraphItem(x=[0], height=[0], width=0, brush=brush, pen=pg.mkPen(None))


def cells(x: Array, y: Array, side: int) -> tuple[Array, Array]:
    """Return one of the points for each cell of a side-by-side grid that holds any.

    For a cloud of points: what would be painted on top of each other is painted once, and an
    outlier is never dropped. NaN points are left out.
    """
    good = np.isfinite(x) & np.isfinite(y)
    if not good.all():
        x, y = x[good], y[good]
    if x.size == 0:
        return x, y
    column, row = _to_cell(x, side), _to_cell(y, side)
    chosen = np.full(side * side, -1, dtype=np.int64)
    # A piece at a time stays in the processor's cache.
    for at in range(0, x.size, _PIECE):
        piece = slice(at, at + _PIECE)
        where = column(x[piece]) * side + row(y[piece])
        chosen[where] = np.arange(at, at + where.size)
    chosen = chosen[chosen >= 0]
    return x[chosen], y[chosen]


def _to_cell(values: Array, side: int) -> Callable[[Array], NDArray[np.int64]]:
    """Return what turns some of the values into the cells between the least and the greatest."""
    low, high = float(values.min()), float(values.max())
    scale = side / ((high - low) or 1.0)
    return lambda some: np.minimum(((some - low) * scale).astype(np.int64), side - 1)
