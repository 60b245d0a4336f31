"""One track in the car: a long scale from rest to start of travel, and what is left in large print.

Told apart by place, words and shape, not by colour alone.
"""

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from bench.services.car_live import TrackLine, TrackNow
from bench.window.sizes import em
from bench.window.theme import LIGHT, Skin
from bench.wording.dead_band import level
from bench.wording.pages.in_car import KEY_NOT_ON, NO_SCALE
from bench.wording.state_bar import HARD

# Of the way from rest to start of travel: what is shown before the one and beyond the other.
BEFORE, BEYOND = 0.35, 0.35
# Of the height, the large digits.
DIGITS = 0.62


class TrackScale(QWidget):
    """Paint where a track stands between its rest and start of travel."""

    def __init__(self, skin: Skin = LIGHT) -> None:
        super().__init__()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(em(24), em(5))
        self.setMaximumHeight(em(15))
        self.skin = skin
        self.now: TrackNow | None = None
        self.fresh = False
        self.digits = self.under = ""

    def sizeHint(self) -> QSize:
        return QSize(em(60), em(11))

    def show_now(self, now: TrackNow, fresh: bool) -> None:
        """Show where the track stands; fresh: the reading is of now."""
        if (now, fresh) == (self.now, self.fresh):
            return
        self.now, self.fresh = now, fresh
        self.digits, self.under = self._texts(now)
        self.setAccessibleName(f"Track {now.line.column}, from rest to start of travel")
        self.setAccessibleDescription(f"{self.digits} {self.under}")
        self.update()

    def _texts(self, now: TrackNow) -> tuple[str, str]:
        """Return the large digits and what stands below them."""
        if not math.isfinite(now.line.start_volts):
            volts = f"{now.level_volts:.3f}{HARD}V" if self.fresh and math.isfinite(
                now.level_volts) else f"–{HARD}V"
            return volts, "no start of travel to judge by"
        if not math.isfinite(now.left_volts):
            return f"–{HARD}mV", KEY_NOT_ON
        if now.passed:
            return (f"{-1e3 * now.left_volts:.1f}{HARD}mV",
                    "■ beyond start of travel, at worst")
        return f"{1e3 * now.left_volts:.1f}{HARD}mV", "left to start of travel, at worst"

    def paintEvent(self, _event: QPaintEvent) -> None:
        now = self.now
        if now is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        one, skin = em(1), self.skin
        wide = min(0.34 * self.width(), 24.0 * one)
        self._digits(painter, QRectF(self.width() - wide, 0, wide, self.height()), now)
        name = QFont(self.font())
        name.setPixelSize(round(2.9 * one))
        name.setBold(True)
        painter.setFont(name)
        painter.setPen(QColor(skin.text))
        room = QFontMetricsF(name)
        column = room.elidedText(now.line.column, Qt.TextElideMode.ElideRight, 6.0 * one)
        # At least as wide as a letter or two, so that the scales of all tracks begin alike.
        left = max(room.horizontalAdvance(column), 2.4 * one) + 1.2 * one
        painter.drawText(QRectF(0, 0, left, self.height()), Qt.AlignmentFlag.AlignVCenter, column)
        painter.setFont(self.font())
        # Between a line of words above it and one below.
        high = min(max(0.34 * self.height(), 1.6 * one), 4.6 * one)
        bar = QRectF(left, (self.height() - high) / 2 - 0.2 * one,
                     self.width() - wide - left - 1.5 * one, high)
        if math.isfinite(now.line.start_volts):
            self._bar(painter, bar, now)
        else:
            painter.setPen(QColor(skin.quiet))
            painter.drawText(bar, Qt.AlignmentFlag.AlignVCenter,
                             NO_SCALE)

    def _digits(self, painter: QPainter, box: QRectF, now: TrackNow) -> None:
        one, skin = em(1), self.skin
        passed = now.passed
        ink = skin.grave if passed else skin.text if self.fresh else skin.quiet
        font = QFont(self.font())
        font.setBold(True)
        font.setPixelSize(100)
        fits = 100.0 * box.width() / max(
            QFontMetricsF(font).horizontalAdvance(t) for t in (self.digits, f"188.8{HARD}mV"))
        size = min(fits, 6.4 * one, DIGITS * box.height())
        font.setPixelSize(max(1, round(size)))
        painter.setFont(font)
        painter.setPen(QColor(ink))
        measure = QFontMetricsF(self.font())
        lines = 1 if measure.horizontalAdvance(self.under) <= box.width() else 2
        under = lines * measure.height()
        top = (box.height() - 1.15 * size - under) / 2
        right = Qt.AlignmentFlag.AlignRight
        painter.drawText(QRectF(box.left(), top, box.width(), 1.2 * size),
                         right | Qt.AlignmentFlag.AlignVCenter, self.digits)
        painter.setFont(self.font())
        painter.setPen(QColor(skin.grave if passed else skin.quiet))
        painter.drawText(QRectF(box.left(), top + 1.15 * size, box.width(), 1.2 * under),
                         int(right | Qt.TextFlag.TextWordWrap), self.under)

    def _bar(self, painter: QPainter, bar: QRectF, now: TrackNow) -> None:
        line, skin, one = now.line, self.skin, em(1)
        span = line.sign * (line.start_volts - line.rest_volts)

        def x(volts: float) -> float:
            share = line.sign * (volts - line.rest_volts) / span if span > 0 else 0.0
            shown = (min(max(share, -BEFORE), 1.0 + BEYOND) + BEFORE) / (1.0 + BEFORE + BEYOND)
            return bar.left() + shown * bar.width()

        painter.setPen(QPen(QColor(skin.field), 1))
        painter.setBrush(QColor(skin.window))
        painter.drawRect(bar)
        start = x(line.start_volts)
        beyond = QRectF(QPointF(start, bar.top()), bar.bottomRight())
        painter.fillRect(beyond, QBrush(QColor(skin.grave), Qt.BrushStyle.BDiagPattern))
        painter.setPen(QPen(QColor(skin.quiet), 2))
        rest = x(line.rest_volts)
        painter.drawLine(QPointF(rest, bar.top()), QPointF(rest, bar.bottom()))
        painter.setPen(QPen(QColor(skin.grave), 3))
        painter.drawLine(QPointF(start, bar.top() - 0.5 * one),
                         QPointF(start, bar.bottom() + 0.5 * one))
        self._words(painter, bar, now, rest, start)
        if math.isfinite(now.worst_volts):
            self._worst(painter, bar, x(now.worst_volts), now.passed)
        if self.fresh and math.isfinite(now.level_volts):
            at = x(now.level_volts)
            painter.setPen(QPen(QColor(skin.accent), 0.5 * one, Qt.PenStyle.SolidLine,
                                Qt.PenCapStyle.RoundCap))
            painter.drawLine(QPointF(at, bar.top() + 0.3 * one),
                             QPointF(at, bar.bottom() - 0.3 * one))

    @staticmethod
    def words_of(line: TrackLine) -> tuple[str, str]:
        """Return what stands below rest and start of travel, the latter as it was issued."""
        start = level(line.rest_volts, line.start_volts)
        return f"rest {line.rest_volts:.3f}{HARD}V", f"start of travel {start}{HARD}V"

    def _words(self, painter: QPainter, bar: QRectF, now: TrackNow, rest: float,
               start: float) -> None:
        line, one = now.line, em(1)
        under = QRectF(bar.left(), bar.bottom() + 0.5 * one, bar.width(), 1.6 * one)
        measure = QFontMetricsF(painter.font())
        painter.setPen(QColor(self.skin.quiet))
        text, start_text = self.words_of(line)
        rest_wide, start_wide = map(measure.horizontalAdvance, (text, start_text))
        start_left = min(start - start_wide / 2, bar.right() - start_wide)
        rest_left = max(rest - rest_wide / 2, bar.left())
        base = under.bottom() - 0.3 * one
        if rest_left + rest_wide + one > start_left:
            # Where there is no room for both, what may not be passed is told.
            rest_left = bar.left()
            start_left = max(start_left, bar.right() - start_wide)
        if rest_left + rest_wide + one <= start_left:
            painter.drawText(QPointF(rest_left, base), text)
        painter.setPen(QColor(self.skin.grave))
        painter.drawText(QPointF(max(start_left, bar.left()), base), start_text)

    def _worst(self, painter: QPainter, bar: QRectF, at: float, passed: bool) -> None:
        """Paint the worst mark: a triangle above the scale that never goes back."""
        one = em(1)
        ink = QColor(self.skin.grave if passed else self.skin.text)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(ink)
        tip = QPointF(at, bar.top() + 0.2 * one)
        painter.drawPolygon([tip, tip + QPointF(-0.6 * one, -1.1 * one),
                             tip + QPointF(0.6 * one, -1.1 * one)])
        painter.setPen(QPen(ink, 2))
        painter.drawLine(QPointF(at, bar.top()), QPointF(at, bar.bottom()))
        text = "worst"
        wide = QFontMetricsF(painter.font()).horizontalAdvance(text)
        left = at - 0.9 * one - wide
        painter.drawText(QPointF(left if left > bar.left() else at + 0.9 * one,
                                 bar.top() - 0.35 * one), text)
