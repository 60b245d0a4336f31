"""One line of words and a figure, as large as fits: read from the pedal, two metres away."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from bench.window.sizes import em
from bench.window.theme import LIGHT, Skin

# Height of the line, the least of it where there is little room, and the largest and smallest
# print, in ems of the window's own font.
LINE_EM, LEAST_LINE_EM, PRINT_EM, LEAST_EM = 5.2, 2.6, 4.2, 1.1
# Print is so much of the line's height.
SHARE = 0.81


class LoudLine(QWidget):
    """Paint words on the left and a figure on the right, both of one size.

    together: words that take turns in the line; it is printed as large as the longest allows, so
    that nothing changes its size from one to the next.
    """

    def __init__(self, name: str, together: tuple[str, ...] = ()) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        self.skin: Skin = LIGHT
        self.text = self.figure = ""
        self.kind = ""
        self._together = together
        self._widest = "88 s"

    def sizeHint(self) -> QSize:
        return QSize(400, em(LINE_EM))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, em(LEAST_LINE_EM))

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        self.skin = skin
        self.update()

    def say(self, text: str, figure: str = "", kind: str = "") -> None:
        """Show words and a figure; kind: "" plain, "quiet", "mend", "grave" on a ground."""
        if (text, figure, kind) != (self.text, self.figure, self.kind):
            if text != self.text:
                self.setAccessibleDescription(text)
            self.text, self.figure, self.kind = text, figure, kind
            self.update()

    def print_size(self) -> float:
        """Return the pixels of an em in which words and figure are printed."""
        texts = self._together if self.text in self._together else (self.text,)
        font = self.font_in(100.0)
        measure = QFontMetricsF(font)
        wide = max(measure.horizontalAdvance(t) for t in texts)
        if self.figure or self.text in self._together:
            wide += measure.horizontalAdvance(max(self._widest, self.figure, key=len) + "  ")
        one = em(1)
        # Print is not scaled evenly: a little less, so that what fits is not broken after all.
        fits = 97.0 * (self.width() - 2.0 * one) / max(wide, 1.0)
        return max(min(fits, PRINT_EM * one, SHARE * self.height()), LEAST_EM * one)

    def font_in(self, pixels: float) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(max(1, round(pixels)))
        font.setBold(True)
        return font

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        skin, one = self.skin, em(1)
        ink = {"quiet": skin.quiet, "mend": skin.mend}.get(self.kind, skin.text)
        box = QRectF(self.rect())
        if self.kind == "grave":
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(skin.grave))
            painter.drawRoundedRect(box, 8, 8)
            ink = skin.card
        painter.setPen(QColor(ink))
        size = self.print_size()
        painter.setFont(self.font_in(size))
        inside = box.adjusted(one, 0, -one, 0)
        middle = Qt.AlignmentFlag.AlignVCenter
        room = QFontMetricsF(painter.font())
        if self.figure:
            painter.drawText(inside, middle | Qt.AlignmentFlag.AlignRight, self.figure)
            inside.setRight(inside.right() - room.horizontalAdvance(self.figure) - one)
        if room.horizontalAdvance(self.text) > inside.width():
            # Longer than the least print has room for: two lines of it.
            painter.drawText(inside, int(middle | Qt.TextFlag.TextWordWrap), self.text)
        else:
            painter.drawText(inside, middle, self.text)
