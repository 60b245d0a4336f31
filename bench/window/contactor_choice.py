"""What the contactor does at these key-ons: three large choices, none of them made beforehand."""

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QButtonGroup, QPushButton, QSizePolicy, QWidget

from bench.window.sizes import em
from bench.wording.car_live import CONTACTOR_CHOICES

NOT_CHOSEN = "not chosen"
# Ems of width below which the choices stand one below the other.
NARROW_EMS = 34.0


class ContactorChoice(QWidget):
    """Three buttons of which one is pressed; `picked` with the word of it.

    choice: "open", "closed", None for not known, NOT_CHOSEN before any was picked.
    """

    picked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Contactor at these key-ons")
        # Its least width is that of one choice: it decides by itself how they stand.
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        row = self._row = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(em(0.8))
        self._group = QButtonGroup(self)
        self._group.setExclusive(True)
        self.buttons: dict[str | None, QPushButton] = {}
        for word, (title, about) in CONTACTOR_CHOICES.items():
            made = QPushButton(title)
            made.setCheckable(True)
            made.setObjectName("choice")
            made.setAccessibleName(f"Contactor: {title}")
            made.setAccessibleDescription(about)
            made.setToolTip(about)
            made.setMinimumHeight(em(3.6))
            made.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            made.clicked.connect(lambda _checked=False: self.picked.emit())
            self._group.addButton(made)
            self.buttons[word] = made
            row.addWidget(made)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        way = (QBoxLayout.Direction.TopToBottom if self.width() < em(NARROW_EMS) else
               QBoxLayout.Direction.LeftToRight)
        if way != self._row.direction():
            self._row.setDirection(way)
            self.updateGeometry()

    def minimumSizeHint(self) -> QSize:
        widest = max(made.minimumSizeHint().width() for made in self.buttons.values())
        return QSize(widest, super().minimumSizeHint().height())

    @property
    def choice(self) -> str | None:
        """Return the word that was picked."""
        return next((word for word, made in self.buttons.items() if made.isChecked()), NOT_CHOSEN)

    @property
    def about(self) -> str:
        """Return what the choice means for the log, "" before there is one."""
        return "" if self.choice == NOT_CHOSEN else CONTACTOR_CHOICES[self.choice][1]

    def show_choice(self, word: str | None) -> None:
        """Show a choice; NOT_CHOSEN takes it back."""
        self._group.setExclusive(False)
        for each, made in self.buttons.items():
            made.setChecked(each == word)
        self._group.setExclusive(True)
