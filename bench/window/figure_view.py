"""One figure of `bench.plots` as a live widget."""

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor

from analysis.pedal.findings import Findings
from bench.plots import FIGURES, Look, draw
from bench.plots.fitting import title_of
from bench.window.sizes import em
from bench.window.theme import Skin


class FigureView(pg.GraphicsLayoutWidget):
    """One figure of `bench.plots` as a live widget."""

    def __init__(self, name: str, skin: Skin, column: str | None = None) -> None:
        super().__init__()
        self.name, self.column = name, column
        title = FIGURES[name].title + (f" of {column}" if column else "")
        self.setAccessibleName(title)
        self.setMinimumSize(em(13), em(10))
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.plot = self.addPlot(enableMenu=False)
        self.ci.layout.setContentsMargins(4, 4, 8, 2)
        self.apply_theme(skin.look)

    def apply_theme(self, look: Look) -> None:
        """Take on a look; the figure itself must be drawn again."""
        self.look = look.small()
        self.setBackground(QColor(look.background))

    def wipe(self) -> None:
        """Take everything off that was drawn."""
        self.plot.clear()
        if self.plot.legend is not None:
            self.plot.legend.clear()
        title_of(self.plot, (), self.look.foreground, 9)
        self.setAccessibleDescription("")

    def show_findings(self, findings: Findings, before: Findings | None = None) -> None:
        """Draw the figure of these findings."""
        draw(self.name, self.plot, findings, self.look, column=self.column, before=before)
        self.setAccessibleDescription(self.plot.titleLabel.text or self.name)
