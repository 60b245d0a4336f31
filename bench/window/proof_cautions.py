"""The cautions of one proof, each ticked by hand before it may start, and every time anew."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QVBoxLayout, QWidget

from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import Card, Sentence, label
from bench.wording.limb import FOOT, Limb
from bench.wording.pages.proof import CAR_LINES, CAR_MET, CAR_TICK
from bench.wording.proof import CAUTIONED, cautions


class _Words(Sentence):
    """The words beside a box, wrapped; a click on them ticks it."""

    def __init__(self, text: str, box: QCheckBox) -> None:
        super().__init__(text)
        self._box = box
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)

    def mousePressEvent(self, _event: QMouseEvent) -> None:
        self._box.toggle()
        self._box.setFocus()


class TickLine(QWidget):
    """One caution with its box; a check box of its own would not wrap its text."""

    toggled = Signal()

    def __init__(self, text: str) -> None:
        super().__init__()
        self.setObjectName("onCard")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(em(0.65))
        self.box = QCheckBox()
        self.box.setAccessibleName(text)
        self.box.toggled.connect(lambda _on: self.toggled.emit())
        self.words = _Words(text, self.box)
        row.addWidget(self.box, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.words, 1)


class ProofCautions(Card):
    """The cautions of a proof; `changed` when a tick comes or goes."""

    changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__("Before you start: tick what is so")
        self.session = session
        self.task = ""
        self.limb: Limb = FOOT
        self.ticks: list[TickLine] = []
        self._room = QVBoxLayout()
        self._room.setSpacing(em(0.55))
        self.body.addLayout(self._room)

    @property
    def met(self) -> bool:
        """Return whether every caution on show is ticked."""
        return bool(self.ticks) and all(t.box.isChecked() for t in self.ticks)

    def show_task(self, task: str) -> None:
        """Show the cautions of a proof, none ticked."""
        self.task = task
        while (item := self._room.takeAt(0)) is not None:
            old = item.widget()
            if old is not None:
                old.hide()
                old.deleteLater()
        self.ticks = []
        if task in CAUTIONED:
            if self.session.car_cautions_read:
                self._room.addWidget(label(CAR_MET, "good", wrap=True))
            else:
                for text in CAR_LINES:
                    self._room.addWidget(label(f"•  {text}", wrap=True))
                self._add(CAR_TICK)
            for text in cautions(task, self.limb):
                self._add(text)
        self.changed.emit()

    def _add(self, text: str) -> None:
        made = TickLine(text)
        made.toggled.connect(self.changed)
        self.ticks.append(made)
        self._room.addWidget(made)
