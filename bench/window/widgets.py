"""Small widgets several pages use."""

from collections.abc import Callable, Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QTableWidget,
    QVBoxLayout,
    QWidget,
)

from analysis.pedal.findings import Findings
from bench.plots import FIGURES, Look, draw
from bench.plots.fitting import title_of
from bench.window.theme import LIGHT, Skin


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


def rows_to_pick(name: str, columns: Sequence[str]) -> QTableWidget:
    """Return an empty table of which whole rows are picked and nothing is typed into."""
    made = QTableWidget(0, len(columns))
    made.setAccessibleName(name)
    made.setHorizontalHeaderLabels(list(columns))
    made.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    made.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    made.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    made.setTabKeyNavigation(False)
    made.setShowGrid(False)
    made.verticalHeader().hide()
    made.horizontalHeader().setStretchLastSection(True)
    return made


def label(text: str = "", kind: str = "", *, wrap: bool = False) -> QLabel:
    """Return a label; kind is an object name of the style sheet (head, quiet, big, ...)."""
    made = QLabel(text)
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
        self.body.setContentsMargins(14, 12, 14, 14)
        self.body.setSpacing(8)
        if title:
            self.setAccessibleName(title)
            self.body.addWidget(label(title, "head"))
        if more:
            self.body.addWidget(label(more, "quiet", wrap=True))


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
        return front.minimumSizeHint() if front is not None else super().minimumSizeHint()


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


# Sentences longer than this are set smaller: they must leave room for the page.
LONG = 80


class StepBar(QFrame):
    """The sentence that says what to do now, and the one button that does it."""

    pressed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("now")
        row = QHBoxLayout(self)
        row.setContentsMargins(20, 14, 20, 14)
        words = QVBoxLayout()
        self.subject = label("", "quiet")
        self.subject.setAccessibleName("Recording on show")
        self.subject.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        words.addWidget(self.subject)
        self.text = label("", "nowText", wrap=True)
        self.text.setAccessibleName("What to do now")
        self.more = label("", "nowMore", wrap=True)
        words.addWidget(self.text)
        words.addWidget(self.more)
        row.addLayout(words, 1)
        self.action = button("", self.pressed.emit, main=True)
        row.addWidget(self.action)

    def show_step(self, text: str, more: str, action: str, enabled: bool, loud: bool,
                 subject: str = "") -> None:
        """Show a sentence and its button; an empty action hides the button.

        subject: the recording it is about, in small print above it; "" for none.
        """
        self.subject.setText(subject)
        self.subject.setToolTip(subject)
        self.subject.setVisible(bool(subject))
        kind = ("nowLoud" if loud else "nowText" if len(text) <= LONG else
                "nowLong" if len(text) <= 2 * LONG else "head")
        if self.text.objectName() != kind:
            self.text.setObjectName(kind)
            self.text.style().unpolish(self.text)
            self.text.style().polish(self.text)
        if self.text.text() != text:
            self.text.setText(text)
            self.text.setAccessibleDescription(text)
        if self.more.text() != more:
            self.more.setText(more)
        self.more.setVisible(bool(more))
        if self.action.text() != action:
            self.action.setText(action)
            self.action.setAccessibleName(action.replace("&", ""))
        self.action.setVisible(bool(action))
        self.action.setEnabled(enabled)


class NoticeBar(QFrame):
    """What happened, in one sentence, with answers where a question is asked; never a box."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("card")
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(14, 8, 14, 8)
        self._mark = label("", "know")
        self.text = label("", wrap=True)
        self.text.setAccessibleName("Notice")
        self.text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._row.addWidget(self._mark)
        self._row.addWidget(self.text, 1)
        self._answers: list[QPushButton] = []
        self._asking = False
        self._kind = ""
        self.hide()

    def show_notice(self, text: str, kind: str = "know",
             answers: tuple[tuple[str, Callable[[], object]], ...] = ()) -> None:
        """Show a sentence; kind as of `Session.notify`. Without answers it can be dismissed."""
        self._mark.setText({"good": "✓ Done", "know": "Note", "mend": "▲ Mind"}.get(
            kind, "■ Trouble"))
        self._mark.setObjectName("grave" if kind == "unread" else kind)
        self._mark.style().unpolish(self._mark)
        self._mark.style().polish(self._mark)
        self._kind = kind
        self.text.setText(text)
        self.text.setAccessibleDescription(text)
        for old in self._answers:
            self._row.removeWidget(old)
            old.hide()
            old.deleteLater()
        self._asking = bool(answers)
        chosen = answers or (("Dismiss", self.hide),)
        self._answers = [button(words, self._answer(act)) for words, act in chosen]
        for made in self._answers:
            self._row.addWidget(made)
        self.show()
        if answers:
            self._answers[-1].setFocus()

    def stop_asking(self) -> None:
        """Hide a question that no longer matters."""
        if self._asking:
            self._asking = False
            self.hide()

    def leave(self, name: str) -> None:
        """Hide what was told of another recording than the one of that name; trouble stays."""
        if not self._asking and self._kind != "grave" and name not in self.text.text():
            self.hide()

    @property
    def answers(self) -> list[QPushButton]:
        """Return the buttons shown."""
        return list(self._answers)

    def _answer(self, act: Callable[[], object]) -> Callable[[], None]:
        def run() -> None:
            self.hide()
            act()
        return run


class WorkBar(QFrame):
    """Progress of long work with its cancel button; hidden when nothing runs.

    While no share is known it counts the seconds: a bar that swings to and fro repaints all the
    time and slows the very work it stands for.
    """

    cancelled = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("card")
        row = QHBoxLayout(self)
        row.setContentsMargins(14, 8, 14, 8)
        self.text = label()
        self.bar = QProgressBar()
        self.bar.setAccessibleName("Progress")
        self.bar.setRange(0, 1000)
        self.stop = button("Cancel", self.cancelled.emit)
        row.addWidget(self.text)
        row.addWidget(self.bar, 1)
        row.addWidget(self.stop)
        self._seconds = 0
        self._clock = QTimer(self)
        self._clock.setInterval(1000)
        self._clock.timeout.connect(self._tick)
        self.hide()

    def begin(self, text: str) -> None:
        """Show the bar at its beginning."""
        self.text.setText(text)
        self._seconds = 0
        self.bar.setValue(0)
        self.bar.setFormat("…")
        self._clock.start()
        self.show()

    def advance(self, share: float, text: str) -> None:
        """Show how far the work is; a share below 0 means unknown."""
        if share >= 0:
            self.bar.setFormat("%p%")
            self.bar.setValue(round(1000 * min(share, 1.0)))
        if text:
            self.text.setText(text)

    def end(self) -> None:
        """Hide the bar."""
        self._clock.stop()
        self.hide()

    def _tick(self) -> None:
        self._seconds += 1
        if self.bar.value() == 0:
            self.bar.setFormat(f"{self._seconds} s")


class LevelBar(QWidget):
    """A reading as a bar from 0 to full scale, with the extremes seen so far as ticks."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setMinimumSize(80, 26)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._level = self._low = self._high = float("nan")
        self._full = 1.0
        self.color = QColor(LIGHT.accent)
        self.skin = LIGHT

    def show_level(self, level: float, low: float, high: float, full: float) -> None:
        """Show a level and the extremes; full is the reading at the bar's right end."""
        if (level, low, high, full) != (self._level, self._low, self._high, self._full):
            self._level, self._low, self._high, self._full = level, low, high, full
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        frame = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.setPen(QColor(self.skin.edge))
        painter.setBrush(QColor(self.skin.window))
        painter.drawRoundedRect(frame, 5, 5)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.color)
        if np.isfinite(self._level):
            share = min(max(self._level / self._full, 0.0), 1.0)
            painter.drawRoundedRect(
                QRectF(frame.x(), frame.y(), share * frame.width(), frame.height()), 5, 5)
        painter.setPen(QColor(self.skin.text))
        for value in (self._low, self._high):
            if np.isfinite(value):
                x = frame.x() + min(max(value / self._full, 0.0), 1.0) * frame.width()
                painter.drawLine(round(x), 3, round(x), self.height() - 4)


class FigureView(pg.GraphicsLayoutWidget):
    """One figure of `bench.plots` as a live widget."""

    def __init__(self, name: str, skin: Skin, column: str | None = None) -> None:
        super().__init__()
        self.name, self.column = name, column
        title = FIGURES[name].title + (f" of {column}" if column else "")
        self.setAccessibleName(title)
        self.setMinimumSize(160, 120)
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
