"""Make titles and legends fit the plot they stand in, whatever its size.

A title has a long and shorter forms: the longest that fits is shown, the last one with an
ellipsis where none does. A legend takes as many rows as it needs; nothing is cut inside a word.
"""

from collections.abc import Sequence

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetricsF

ROW_HEIGHT = 20.0
SAMPLE_WIDTH = 20.0
MOST_ROWS = 4


def title_of(plot: pg.PlotItem, forms: Sequence[str], color: str, points: float) -> None:
    """Give the plot a title in forms from long to short, none or "" for no title."""
    plot.title_forms = tuple(t for t in forms if t)
    plot.title_color, plot.title_points = color, points
    title = plot.titleLabel
    if title.updateMin is not _nothing:
        # pyqtgraph makes the title's width the least width of the whole plot, anew at every
        # resize, and so pushes the plot beyond a small frame. It may stand over the axis too.
        title.updateMin = _nothing
        title.setMinimumWidth(0)
        plot.layout.removeItem(title)
        plot.layout.addItem(title, 0, 0, 1, 3)
        plot.getViewBox().sigResized.connect(lambda _view: fit(plot))
    _fit_title(plot)


def fit(plot: pg.PlotItem) -> None:
    """Show the longest form of the title that fits, and the legend in as many rows as it needs."""
    if hasattr(plot, "title_forms"):
        _fit_title(plot)
    _fit_legend(plot)


def _nothing() -> None:
    return None


def _fit_title(plot: pg.PlotItem) -> None:
    shown = None
    if plot.title_forms:
        font = QFont()
        font.setPointSizeF(plot.title_points)
        measure = QFontMetricsF(font)
        room = plot.size().width() - 12.0
        shown = plot.title_forms[0]
        if room > 40.0:
            last = measure.elidedText(plot.title_forms[-1], Qt.TextElideMode.ElideRight, room)
            shown = next((t for t in plot.title_forms if measure.horizontalAdvance(t) <= room),
                         last)
    wanted = (shown, plot.title_color, plot.title_points)
    if wanted != getattr(plot, "title_shown", None):
        plot.title_shown = wanted
        plot.setTitle(shown, color=plot.title_color, size=f"{plot.title_points:g}pt")


def _fit_legend(plot: pg.PlotItem) -> None:
    legend = plot.legend
    if legend is None or not legend.isVisible() or not legend.items:
        return
    # From where the axis begins to the edge of the plot.
    room = plot.size().width() - plot.getViewBox().pos().x()
    widths = [label.itemRect().width() + SAMPLE_WIDTH + 2 * legend.layout.horizontalSpacing()
              for _, label in legend.items]
    count = len(widths)
    rows, columns, wide = count, 1, max(widths)
    for rows in range(1, MOST_ROWS + 1):
        columns = -(-count // rows)
        wide = sum(max(widths[k::columns]) for k in range(columns))
        if wide <= room or columns == 1:
            break
    for each in legend.items:
        for part in each:
            legend.layout.removeItem(part)
    for place, (sample, label) in enumerate(legend.items):
        legend.layout.addItem(sample, place // columns, 2 * (place % columns),
                              Qt.AlignmentFlag.AlignVCenter)
        legend.layout.addItem(label, place // columns, 2 * (place % columns) + 1)
    legend.columnCount, legend.rowCount = columns, rows
    high = max(ROW_HEIGHT, *(label.itemRect().height() for _, label in legend.items))
    legend.setMaximumHeight(high * rows + 4.0)
    legend.setMaximumWidth(wide)
