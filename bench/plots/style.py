"""What every figure looks like: the colours of `palette`, line styles and symbols.

No meaning hangs on colour alone: the tracks differ in line style and symbol too, and each fault
carries its own mark.
"""

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QTextOption

from bench.plots.fitting import title_of
from bench.plots.look import DASHED, DOTTED, NIGHT, PAPER, SOLID, Look

__all__ = ["DASHED", "DOTTED", "NIGHT", "PAPER", "SOLID", "Look", "dress", "line", "remark", "say",
           "tint"]


def tint(color: str) -> QColor:
    """Return the colour of "#rrggbbaa"; Qt itself would read that as "#aarrggbb"."""
    return pg.mkColor(color)


def pale(color: QColor) -> QColor:
    """Return the same colour, see-through, for the earlier of two recordings."""
    result = QColor(color)
    result.setAlpha(110)
    return result


def line(color: str | QColor, style: Qt.PenStyle = SOLID, width: float = 1.0) -> object:
    """Return a pen; width 1 unless few points are drawn (2 is four times slower)."""
    return pg.mkPen(QColor(color), width=width, style=style)


def dress(plot: pg.PlotItem, look: Look, title: str | tuple[str, ...] = "", bottom: str = "",
          left: str = "", short: str = "", key: bool = True) -> None:
    """Set a plot's title, axis texts (each with its unit) and every colour of its frame.

    title: in forms from long to short, where one is too long for a small plot.
    short: what the left axis says in a compact look, where the whole text has no room.
    key: whether a compact look has room for the row that names the lines.
    A plot with a true attribute `bare` shows nothing but what is drawn: texts that nobody would see
    are not made, which takes longer than all the curves of a small plot.
    """
    bare = is_bare(plot)
    plot.getViewBox().setBackgroundColor(QColor(look.background))
    points = look.points
    forms = (title,) if isinstance(title, str) else title
    title_of(plot, () if bare else forms, look.foreground,
             points + (1 if look.compact else 2) * look.scale)
    font = QFont()
    font.setPointSizeF(points)
    for side, text in (("bottom", bottom), ("left", short if short and look.compact else left)):
        axis = plot.getAxis(side)
        axis.setPen(QColor(look.quiet))
        axis.setTextPen(QColor(look.foreground))
        axis.setTickFont(font)
        # Units are written out: rescaling "V" to "mV" between two looks misleads the eye.
        axis.setSIPrefixEnableRanges(())
        axis.enableAutoSIPrefix(False)
        if bare:
            continue
        axis.setLabel(text, color=look.foreground, **{"font-size": f"{points:g}pt"})
        axis.showLabel(bool(text))
    plot.showGrid(x=True, y=True, alpha=0.18)
    plot.hideButtons()
    if plot.legend is None:
        plot.legend = _legend_below(plot, points)
    plot.legend.setLabelTextColor(QColor(look.foreground))
    there = (key or not look.compact) and not bare
    plot.legend.setVisible(there)
    plot.legend.setMaximumHeight(24 if there else 0)


def is_bare(plot: pg.PlotItem) -> bool:
    """Return whether a plot shows nothing but what is drawn."""
    return bool(getattr(plot, "bare", False))


class Legend(pg.LegendItem):
    """The names of what a plot shows; none where the plot is bare."""

    def __init__(self, plot: pg.PlotItem, points: float) -> None:
        super().__init__(colCount=8, labelTextSize=f"{points:g}pt", verSpacing=0,
                         horSpacing=3 if points < 9 else 14)
        self._plot = plot

    def addItem(self, item: object, name: str) -> None:
        """Add the name of an item."""
        if not is_bare(self._plot):
            super().addItem(item, name)


def _legend_below(plot: pg.PlotItem, points: float) -> pg.LegendItem:
    # In a row of its own under the axis: laid over the plot it would hide readings.
    legend = Legend(plot, points)
    legend.setMaximumHeight(24)
    # However long it is, it must never push the plot beyond its frame.
    legend.setMinimumWidth(0)
    plot.layout.addItem(legend, 4, 1, Qt.AlignmentFlag.AlignLeft)
    return legend


def say(plot: pg.PlotItem, look: Look, text: str) -> None:
    """Write one sentence across a plot that has nothing to draw."""
    plot.setRange(xRange=(0, 1), yRange=(0, 1), padding=0)
    remark(plot, look, text, 0.5, 0.5)


def remark(plot: pg.PlotItem, look: Look, text: str, x: float, y: float) -> pg.TextItem:
    """Write a sentence into a plot, centred on a point, in as many lines as its width needs."""
    item = Remark(text, look)
    plot.addItem(item, ignoreBounds=True)
    item.setPos(x, y)
    item.wrap()
    return item


class Remark(pg.TextItem):
    """A sentence in a plot that takes as many lines as the plot's width asks for."""

    def __init__(self, text: str, look: Look) -> None:
        super().__init__(text, color=look.quiet, anchor=(0.5, 0.5))
        self.textItem.document().setDefaultTextOption(QTextOption(Qt.AlignmentFlag.AlignHCenter))
        self._whole = QFontMetricsF(self.textItem.font()).horizontalAdvance(text) + 12.0

    def wrap(self) -> None:
        """Break the text into lines that the plot has room for."""
        view = self.getViewBox()
        wide = max(min(view.width() - 12.0, self._whole), 60.0) if view is not None else -1.0
        if wide != self.textItem.textWidth():
            self.setTextWidth(wide)

    def viewTransformChanged(self) -> None:
        """Follow the plot's size."""
        self.wrap()
        super().viewTransformChanged()
