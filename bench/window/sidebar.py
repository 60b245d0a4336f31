"""The rail of pages, in the order of the work, each with one line on how far it is."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QFrame, QVBoxLayout

from bench.window.theme import LIGHT, Skin


class SidebarButton(QAbstractButton):
    """One page: its number, its name, and where it stands."""

    def __init__(self, number: int, title: str) -> None:
        super().__init__()
        self.number, self.title, self.state, self.done = number, title, "", False
        self.skin = LIGHT
        self.setCheckable(True)
        self.setAccessibleName(f"Page {number}: {title}")
        self.setToolTip(f"{title} (Alt+{number})")
        self.setMinimumHeight(64)

    def sizeHint(self) -> QSize:
        return QSize(190, 66)

    def show_state(self, state: str, done: bool) -> None:
        """Show one line on where the page stands; done puts a tick in place of the number."""
        if (state, done) != (self.state, self.done):
            self.state, self.done = state, done
            self.setAccessibleDescription(state)
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        skin = self.skin
        if self.isChecked() or self.underMouse():
            painter.fillRect(self.rect(), QColor(skin.picked if self.isChecked() else skin.card))
        if self.isChecked():
            painter.fillRect(0, 0, 5, self.height(), QColor(skin.accent))
        if self.hasFocus():
            painter.setPen(QColor(skin.accent))
            painter.drawRect(self.rect().adjusted(1, 1, -2, -2))
        circle = QRectF(16, self.height() / 2 - 15, 30, 30)
        painter.setPen(QColor(skin.good if self.done else skin.accent))
        painter.setBrush(QColor(skin.good) if self.done else Qt.BrushStyle.NoBrush)
        painter.drawEllipse(circle)
        painter.setPen(QColor(skin.card if self.done else skin.text))
        font = QFont(self.font())
        font.setBold(True)
        painter.setFont(font)
        painter.drawText(circle, Qt.AlignmentFlag.AlignCenter,
                         "✓" if self.done else str(self.number))
        room = self.width() - 64
        small = QFont(self.font())
        small.setPointSizeF(9)
        # A second line of the state moves both up, so that the two stay beside the circle.
        up = 6 if QFontMetrics(small).horizontalAdvance(self.state) > room else 0
        font.setPointSizeF(12)
        painter.setFont(font)
        painter.setPen(QColor(skin.text))
        painter.drawText(QRectF(56, 11 - up, room, 24), Qt.AlignmentFlag.AlignBottom, self.title)
        painter.setFont(small)
        painter.setPen(QColor(skin.quiet))
        below = QRectF(56, 37 - up, room, self.height() - 39 + up)
        painter.drawText(below, int(Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap),
                         fitting(self.state, painter.fontMetrics(), below))


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
        self.setFixedWidth(206)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 12, 0, 12)
        column.setSpacing(2)
        self.group = QButtonGroup(self)
        self.buttons = []
        for number, title in enumerate(titles, start=1):
            made = SidebarButton(number, title)
            self.group.addButton(made, number - 1)
            self.buttons.append(made)
            column.addWidget(made)
        column.addStretch(1)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        for made in self.buttons:
            made.skin = skin
            made.update()
