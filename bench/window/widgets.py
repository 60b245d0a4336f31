"""Small widgets several pages use."""

from collections.abc import Callable, Sequence

import numpy as np
from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import (
    QAccessible,
    QAccessibleAnnouncementEvent,
    QColor,
    QPainter,
    QPaintEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QBoxLayout,
    QFrame,
    QLabel,
    QLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QTableWidget,
    QVBoxLayout,
    QWidget,
)

from bench.window.sizes import em
from bench.window.theme import LIGHT
from bench.wording.hard_spaces import hard_spaces


def button(text: str, act: Callable[[], object], *, name: str = "", tip: str = "",
           main: bool = False) -> QPushButton:
    """Return a button; `name` is what a screen reader says when the text does not suffice."""
    made = QPushButton(text)
    made.clicked.connect(lambda _checked=False: act())
    made.setAccessibleName(name or text.replace("&", ""))
    made.setToolTip(tip)
    if main:
        made.setObjectName("main")
    return made


class PlainTable(QTableWidget):
    """An empty table, without grid or row numbers, into which nothing is typed."""

    def __init__(self, name: str, columns: Sequence[str]) -> None:
        super().__init__(0, len(columns))
        self.setAccessibleName(name)
        self.setHorizontalHeaderLabels(list(columns))
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.verticalHeader().hide()
        self.horizontalHeader().setStretchLastSection(True)


def rows_to_pick(name: str, columns: Sequence[str]) -> QTableWidget:
    """Return an empty table of which whole rows are picked."""
    made = PlainTable(name, columns)
    made.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    return made


class Sentence(QLabel):
    """A label that never parts a number from its unit; its text is told with plain spaces."""

    def __init__(self, text: str = "") -> None:
        super().__init__()
        self._plain = ""
        self.setText(text)

    def setText(self, text: str) -> None:
        """Show a text."""
        self._plain = text
        super().setText(hard_spaces(text))

    def text(self) -> str:
        """Return the text as it was given."""
        return self._plain


def label(text: str = "", kind: str = "", *, wrap: bool = False) -> QLabel:
    """Return a label; kind is an object name of the style sheet (head, quiet, big, ...)."""
    made = Sentence(text)
    made.setObjectName(kind)
    made.setWordWrap(wrap)
    made.setTextFormat(Qt.TextFormat.PlainText)
    return made


class Card(QFrame):
    """A framed group with a heading; `body` is its layout."""

    def __init__(self, title: str = "", more: str = "") -> None:
        super().__init__()
        self.setObjectName("card")
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(em(1.15), em(1), em(1.15), em(1.15))
        self.body.setSpacing(em(0.65))
        if title:
            self.setAccessibleName(title)
            self.body.addWidget(label(title, "head", wrap=True))
        if more:
            self.body.addWidget(label(more, "quiet", wrap=True))


class Folding(QWidget):
    """Two widgets side by side, or the second below the first where there is no room for both."""

    def __init__(self, first: QWidget, second: QWidget) -> None:
        super().__init__()
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.parts = first, second
        self._row = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(em(0.8))
        self._row.addWidget(first, 1)
        self._row.addWidget(second)

    def minimumSizeHint(self) -> QSize:
        widest = max(part.minimumSizeHint().width() for part in self.parts)
        return QSize(widest, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.fold()

    def fold(self) -> None:
        """Place the two anew for the room there is; called as well when one of them changed."""
        first, second = self.parts
        needed = first.sizeHint().width() + second.sizeHint().width() + self._row.spacing()
        way = (QBoxLayout.Direction.LeftToRight if needed <= self.width() else
               QBoxLayout.Direction.TopToBottom)
        if way != self._row.direction():
            self._row.setDirection(way)
            self.updateGeometry()


class FrontStack(QStackedWidget):
    """Pages in a stack that needs no more room than the page in front."""

    def __init__(self) -> None:
        super().__init__()
        # Else the layout holds the stack to what the largest page needs.
        inner = self.layout()
        assert inner is not None
        inner.setSizeConstraint(QLayout.SizeConstraint.SetNoConstraint)
        self.currentChanged.connect(lambda _index: self.updateGeometry())

    def minimumSizeHint(self) -> QSize:
        front = self.currentWidget()
        if front is None:
            return super().minimumSizeHint()
        least, inner = front.minimumSizeHint(), front.layout()
        if inner is not None and not front.hasHeightForWidth():
            # A page whose frames scroll by themselves asks for the least: wrapped texts whole.
            least.setHeight(max(least.height(), inner.totalMinimumHeightForWidth(self.width())))
        return least

    def heightForWidth(self, width: int) -> int:
        # Its layout asks every page, and a page with wrapped texts for more than it needs.
        front = self.currentWidget()
        if front is None:
            return super().heightForWidth(width)
        return (front.heightForWidth(width) if front.hasHeightForWidth()
                else self.minimumSizeHint().height())


class Abreast(QWidget):
    """Widgets side by side, one below the other where that leaves each less than `least` pixels."""

    def __init__(self, least: int, spacing: int = 12) -> None:
        super().__init__()
        self.setObjectName("scrolled")
        self._least = least
        self.row = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self.row.setContentsMargins(0, 0, 0, 0)
        self.row.setSpacing(spacing)

    @property
    def stacked(self) -> bool:
        """Say whether the widgets stand one below the other."""
        return self.row.direction() == QBoxLayout.Direction.TopToBottom

    def minimumSizeHint(self) -> QSize:
        # Never as wide as all of them abreast: then the window could not become narrower.
        least = super().minimumSizeHint()
        return QSize(min(least.width(), self._least), least.height())

    def arrange(self) -> None:
        """Choose anew, after a widget came or went."""
        count = max(self.row.count(), 1)
        narrow = self.width() < count * self._least + (count - 1) * self.row.spacing()
        self.row.setDirection(QBoxLayout.Direction.TopToBottom if narrow and count > 1
                              else QBoxLayout.Direction.LeftToRight)

    def resizeEvent(self, _event: QResizeEvent) -> None:
        self.arrange()


def scrolled(inside: QWidget) -> QScrollArea:
    """Return a frame that scrolls `inside` when the window is small."""
    area = QScrollArea()
    inside.setObjectName("scrolled")
    area.setWidget(inside)
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    return area


def announce(source: QWidget, text: str) -> None:
    """Let a screen reader, if there is one, say a text at its next pause."""
    if text and QAccessible.isActive():
        QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(source, text))


def show_frozen(made: QWidget, frozen: bool) -> None:
    """Grey a number that stands still, and give it its colour back with the next reading."""
    if bool(made.property("frozen")) != frozen:
        made.setProperty("frozen", frozen)
        made.style().unpolish(made)
        made.style().polish(made)


class LevelBar(QWidget):
    """A reading as a bar from 0 to full scale, with the extremes seen so far as ticks."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setMinimumSize(em(6.5), em(2.2))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.level = self._low = self._high = float("nan")
        self._full = 1.0
        self.color = QColor(LIGHT.accent)
        self.skin = LIGHT

    def show_level(self, level: float, low: float, high: float, full: float) -> None:
        """Show a level and the extremes; full is the reading at the bar's right end."""
        if (level, low, high, full) != (self.level, self._low, self._high, self._full):
            self.level, self._low, self._high, self._full = level, low, high, full
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        frame = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.setPen(QColor(self.skin.field))
        painter.setBrush(QColor(self.skin.window))
        painter.drawRoundedRect(frame, 5, 5)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.color)
        if np.isfinite(self.level):
            share = min(max(self.level / self._full, 0.0), 1.0)
            painter.drawRoundedRect(
                QRectF(frame.x(), frame.y(), share * frame.width(), frame.height()), 5, 5)
        painter.setPen(QColor(self.skin.text))
        for value in (self._low, self._high):
            if np.isfinite(value):
                x = frame.x() + min(max(value / self._full, 0.0), 1.0) * frame.width()
                painter.drawLine(round(x), 3, round(x), self.height() - 4)
