"""What happened, and how far long work is: in a place of fixed height that never moves the page."""

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, QPoint, QRect, Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from bench.window.sizes import em
from bench.window.widgets import announce, button, label

FOOT_EMS = 3.4
# What went well has been read by then, and stands in the state bar where it matters.
GOOD_MS = 12_000
MARKS = {"good": "✓ Done", "know": "Note", "mend": "▲ Mind", "grave": "■ Trouble"}


class NoticeBar(QFrame):
    """What happened, in one sentence, with answers where a question is asked; never a box.

    It lies on `place`, and grows upwards over the page where its sentence needs more lines than
    fit there. over: the parent of both, over whose children it lies.
    """

    def __init__(self, place: QWidget, over: QWidget) -> None:
        super().__init__(over)
        self._place = place
        self.setObjectName("notice")
        self.setAccessibleName("Notice")
        column = QVBoxLayout(self)
        column.setContentsMargins(em(1), em(0.2), em(0.4), em(0.2))
        column.setSpacing(em(0.4))
        row = QHBoxLayout()
        self._mark = label("", "know")
        self.text = label("", wrap=True)
        self.text.setAccessibleName("Notice")
        self.text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.dismiss = button("&Dismiss", self.hide, name="Dismiss the notice", tip="Esc")
        row.addWidget(self._mark, 0, Qt.AlignmentFlag.AlignVCenter)
        row.addWidget(self.text, 1)
        row.addWidget(self.dismiss)
        column.addLayout(row, 1)
        self._below = QHBoxLayout()
        self._below.addStretch(1)
        column.addLayout(self._below)
        self._answers: list[QPushButton] = []
        self._asking = False
        self._kind = self._about = ""
        self._gone = QTimer(self)
        self._gone.setSingleShot(True)
        self._gone.setInterval(GOOD_MS)
        self._gone.timeout.connect(self.hide)
        place.installEventFilter(self)
        self.hide()

    def show_notice(self, text: str, kind: str = "know", about: str = "",
             answers: tuple[tuple[str, Callable[[], object]], ...] = ()) -> None:
        """Show a sentence; kind, about: as of `Session.notify`. A question cannot be dismissed."""
        self._mark.setText(MARKS[kind])
        self._mark.setObjectName(kind)
        self._mark.style().unpolish(self._mark)
        self._mark.style().polish(self._mark)
        self._kind, self._about = kind, about
        self.text.setText(text)
        self.text.setAccessibleDescription(text)
        announce(self.text, f"{self._mark.text()}: {text}")
        for old in self._answers:
            self._below.removeWidget(old)
            old.hide()
            old.deleteLater()
        self._asking = bool(answers)
        self.dismiss.setVisible(not answers)
        self._answers = [button(words, self._answer(act)) for words, act in answers]
        for made in self._answers:
            self._below.addWidget(made)
            # At once: the height below is that of what is shown.
            made.show()
        self._gone.stop()
        if kind == "good" and not answers:
            self._gone.start()
        self.show()
        self.raise_()
        self.take_place()
        if self._answers:
            self._answers[-1].setFocus()

    def take_place(self) -> None:
        """Lie on the place, over all of its width, and as high as the sentence needs."""
        if not self.isVisible():
            return
        over = self.parentWidget()
        assert over is not None
        place = QRect(self._place.mapTo(over, QPoint(0, 0)), self._place.size())
        inner = self.layout()
        assert inner is not None
        inner.activate()
        needed = max(inner.totalHeightForWidth(place.width()), inner.totalMinimumSize().height())
        high = max(place.height(), needed)
        self.setGeometry(place.left(), place.bottom() + 1 - high, place.width(), high)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() in (QEvent.Type.Resize, QEvent.Type.Move):
            self.take_place()
        return super().eventFilter(watched, event)

    def stop_asking(self) -> None:
        """Hide a question that no longer matters."""
        if self._asking:
            self._asking = False
            self.hide()

    def settle(self, about: str) -> None:
        """Hide what was told about a matter that is settled."""
        if about and about == self._about and not self._asking:
            self.hide()

    def leave(self, name: str) -> None:
        """Hide what was told of another recording than the one of that name; trouble stays."""
        if not self._asking and self._kind != "grave" and name not in self.text.text():
            self.hide()

    @property
    def answers(self) -> list[QPushButton]:
        """Return the buttons shown."""
        return list(self._answers) if self._asking else [self.dismiss]

    def _answer(self, act: Callable[[], object]) -> Callable[[], None]:
        def run() -> None:
            self._asking = False
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
        self.setObjectName("notice")
        row = QHBoxLayout(self)
        row.setContentsMargins(em(1), em(0.2), em(0.4), em(0.2))
        self.text = QLabel()
        self.text.setTextFormat(Qt.TextFormat.PlainText)
        self.bar = QProgressBar()
        self.bar.setAccessibleName("Progress")
        self.bar.setRange(0, 1000)
        self.stop = button("&Cancel", self.cancelled.emit)
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


class Foot(QWidget):
    """The fixed place at the foot of the window: notices, and long work beside them."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("foot")
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(em(1), 0, em(1), em(0.5))
        self.place = QWidget()
        self.work = WorkBar()
        self._row.addWidget(self.place, 3)
        self._row.addWidget(self.work, 2)
        self.setFixedHeight(em(FOOT_EMS))
