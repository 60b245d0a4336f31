"""Times in which no reading came: hatched, with no line and no shade across them."""

import bisect
import itertools
from collections.abc import Sequence

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QBrush, QColor

from bench.plots.marks import swatch
from bench.plots.style import Look

Gap = tuple[float, float]
# Gaps that are hatched; of more the breaks in the lines tell.
MOST_HATCHED = 50


def without(stretch: Gap, gaps: Sequence[Gap]) -> list[Gap]:
    """Return what is left of a stretch of time without the gaps in it; gaps: by time, s."""
    left, (start, end) = [], stretch
    # They stand in order of time, and most lie elsewhere.
    first = bisect.bisect_right(gaps, start, key=lambda gap: gap[1])
    for gone, back in itertools.islice(gaps, first, None):
        if gone >= end:
            break
        if gone > start:
            left.append((start, gone))
        start = min(back, end)
    return [*left, (start, end)] if end > start else left


def hatch(plot: pg.PlotItem, gaps: Sequence[Gap], look: Look) -> None:
    """Hatch times in which no reading came: nothing is known of them."""
    for gap in gaps[:MOST_HATCHED]:
        region = pg.LinearRegionItem(gap, movable=False, brush=_brush(look), pen=pg.mkPen(None))
        region.setZValue(-95)
        plot.addItem(region, ignoreBounds=True)


def name_hatched(plot: pg.PlotItem, gaps: Sequence[Gap], look: Look) -> None:
    """Say in the legend what is hatched, where anything is."""
    if gaps:
        plot.legend.addItem(swatch(_brush(look)), "no reading")


def _brush(look: Look) -> QBrush:
    return QBrush(QColor(look.quiet), Qt.BrushStyle.BDiagPattern)
