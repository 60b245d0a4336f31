"""Live readings as numbers, and plots that are drawn again while readings come."""

import time
from collections.abc import Mapping

import pyqtgraph as pg
from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from analysis.model.recording import Array, Channel
from bench.services.live_levels import live_levels
from bench.window.theme import LIGHT, Skin
from bench.wording.face import WINDOW
from bench.wording.live import live_level

# Digits that change faster than this cannot be read, and each change is laid out anew.
NUMBERS_EVERY_S = 0.12
NOTHING = "–"


def still_view(name: str) -> pg.GraphicsLayoutWidget:
    """Return a view with one plot for live readings, `view.plot`."""
    view = pg.GraphicsLayoutWidget()
    view.setAccessibleName(name)
    view.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    view.setMinimumSize(240, 180)
    view.setAntialiasing(False)
    view.plot = view.addPlot(enableMenu=False)
    return view


class LiveNumbers(QWidget):
    """What each input reads in one line; a dash, greyed, while none come.

    said: of the pedal, by key of the header: a rheostat is shown in ohms.
    texts: of all inputs; shown: those there was room for.
    Never wider than there is room for: then in smaller print, then without the inputs at the end.
    """

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Reading of every input")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.channels: tuple[Channel, ...] = ()
        self.columns: tuple[str, ...] = ()
        self.said: Mapping[str, object] = {}
        self.texts: tuple[str, ...] = ()
        self.shown: tuple[str, ...] = ()
        self.fresh = False
        self._shown = float("-inf")
        self.skin: Skin = LIGHT

    def sizeHint(self) -> QSize:
        return QSize(200, round(2.0 * self.fontMetrics().height()))

    minimumSizeHint = sizeHint

    def begin(self, channels: tuple[Channel, ...]) -> None:
        """Begin anew with these inputs."""
        self.channels, self.columns = channels, tuple(c.column for c in channels)
        self._say(None)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        self.skin = skin
        self.update()

    def show_level(self, volts: Array | None, fresh: bool) -> None:
        """Show the newest volts, shape (channels,); None: none came since the last call."""
        now = time.monotonic()
        if not fresh:
            if self.fresh:
                self._say(None)
        elif volts is not None and len(volts) == len(self.columns) and (
                now - self._shown >= NUMBERS_EVERY_S):
            self._shown = now
            self._say(volts)

    def _say(self, volts: Array | None) -> None:
        self.fresh = volts is not None
        shown = [NOTHING] * len(self.columns) if volts is None else [
            live_level(value, unit, WINDOW)
            for value, unit in live_levels(self.channels, volts, self.said)]
        self.texts = tuple(f"{c} {text}" for c, text in zip(self.columns, shown, strict=True))
        self.setAccessibleDescription(", ".join(self.texts))
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setPen(QColor(self.skin.text if self.fresh else self.skin.quiet))
        gap = 1.4 * self.fontMetrics().height()
        for size in (1.3, 1.1, 0.95):
            font = QFont(self.font())
            font.setPointSizeF(size * font.pointSizeF())
            font.setBold(True)
            measure = QFontMetricsF(font)
            widths = [max(measure.horizontalAdvance(t), measure.horizontalAdvance(f"{c} 0.000 V"))
                      for t, c in zip(self.texts, self.columns, strict=True)]
            if sum(widths) + gap * (len(widths) - 1) <= self.width():
                break
        painter.setFont(font)
        x, shown = 0.0, []
        for text, wide in zip(self.texts, widths, strict=True):
            if x + wide > self.width():
                break
            shown.append(text)
            painter.drawText(QRectF(x, 0, wide + 2, self.height()),
                             Qt.AlignmentFlag.AlignVCenter, text)
            x += wide + gap
        self.shown = tuple(shown)
