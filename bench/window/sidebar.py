"""The rail of pages, in the order of the work, each with one line on how far it is."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QAbstractButton,
    QButtonGroup,
    QFrame,
    QSizePolicy,
    QVBoxLayout,
)

from bench.window.sizes import em
from bench.window.theme import LIGHT, Skin

WIDE_EMS, FOLDED_EMS = 17.2, 5.1


class SidebarButton(QAbstractButton):
    """One page: its number, its name, and where it stands."""

    def __init__(self, number: int, title: str) -> None:
        super().__init__()
        self.number, self.title, self.state, self.done = number, title, "", False
        self.skin, self.folded = LIGHT, False
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Preferred)
        # A click leaves the focus where the next step is; keys walk the rail.
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setCheckable(True)
        self.setAccessibleName(f"Page {number}: {title}")
        self._tell()

    def sizeHint(self) -> QSize:
        return QSize(em(FOLDED_EMS if self.folded else WIDE_EMS), em(5.3))

    def minimumSizeHint(self) -> QSize:
        # In a low window the pages move together rather than out of sight. Folded or not: else a
        # window that is made narrow and low at once would be held to the height of the words.
        return QSize(self.sizeHint().width(), em(3.1))

    def fold(self, folded: bool) -> None:
        """Show the number alone, or the words beside it."""
        self.folded = folded
        self._tell()
        self.updateGeometry()

    def _tell(self) -> None:
        more = f": {self.state}" if self.folded and self.state else ""
        self.setToolTip(f"{self.title}{more} (Alt+{self.number})")

    def show_state(self, state: str, done: bool) -> None:
        """Show one line on where the page stands; done puts a tick in place of the number."""
        if (state, done) != (self.state, self.done):
            self.state, self.done = state, done
            self.setAccessibleDescription(state)
            self._tell()
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        skin = self.skin
        if self.isChecked() or self.underMouse():
            painter.fillRect(self.rect(), QColor(skin.picked if self.isChecked() else skin.card))
        if self.isChecked():
            painter.fillRect(0, 0, em(0.4), self.height(), QColor(skin.accent))
        if self.hasFocus():
            painter.setPen(QPen(QColor(skin.accent), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -2, -2))
        wide = em(2.5)
        circle = QRectF(em(1.3), (self.height() - wide) / 2, wide, wide)
        painter.setPen(QColor(skin.good if self.done else skin.accent))
        painter.setBrush(QColor(skin.good) if self.done else Qt.BrushStyle.NoBrush)
        painter.drawEllipse(circle)
        painter.setPen(QColor(skin.card if self.done else skin.text))
        font = QFont(self.font())
        font.setBold(True)
        painter.setFont(font)
        painter.drawText(circle, Qt.AlignmentFlag.AlignCenter,
                         "✓" if self.done else str(self.number))
        if not self.folded:
            self._paint_words(painter, font)

    def _paint_words(self, painter: QPainter, bold: QFont) -> None:
        """Paint the title, and one or two lines of the state below it, together in the middle."""
        left, small = em(4.7), QFont(self.font())
        room = self.width() - left - em(0.4)
        measure = QFontMetrics(small)
        high = measure.height() * (2 if measure.horizontalAdvance(self.state) > room else 1)
        bold.setPixelSize(em(1.33))
        title = QFontMetrics(bold).height()
        top = (self.height() - title - high) / 2
        painter.setFont(bold)
        painter.setPen(QColor(self.skin.text))
        painter.drawText(QRectF(left, top, room, title), Qt.AlignmentFlag.AlignVCenter, self.title)
        painter.setFont(small)
        painter.setPen(QColor(self.skin.quiet))
        below = QRectF(left, top + title, room, high)
        painter.drawText(below, int(Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap),
                         fitting(self.state, measure, below))


def fitting(text: str, measure: QFontMetrics, room: QRectF) -> str:
    """Return the text, cut with an ellipsis where its lines do not fit into the room."""
    flags = int(Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap)
    shown = text
    while shown and measure.boundingRect(
            room.toRect(), flags, shown).height() > room.height():
        shown = f"{shown.rstrip('…')[:-1].rstrip()}…"
    return shown


class Sidebar(QFrame):
    """All pages as one column of buttons."""

    def __init__(self, titles: list[str]) -> None:
        super().__init__()
        self.setObjectName("rail")
        self.setAccessibleName("Pages, in the order of the work")
        self.folded = False
        self.setFixedWidth(em(WIDE_EMS))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, em(0.8), 0, em(0.8))
        column.setSpacing(em(0.15))
        self.group = QButtonGroup(self)
        self.buttons = []
        for number, title in enumerate(titles, start=1):
            made = SidebarButton(number, title)
            self.group.addButton(made, number - 1)
            self.buttons.append(made)
            column.addWidget(made)
        column.addStretch(1)

    def fold(self, folded: bool) -> None:
        """Leave the words away where the window has no room beside the page."""
        if folded != self.folded:
            self.folded = folded
            self.setFixedWidth(em(FOLDED_EMS if folded else WIDE_EMS))
            for made in self.buttons:
                made.fold(folded)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        for made in self.buttons:
            made.skin = skin
            made.update()
