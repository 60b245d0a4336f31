"""What is chosen before a sweep: how many presses, its name, its folder, and what it adds to."""

from pathlib import Path

from PySide6.QtCore import QStandardPaths, Signal
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QGridLayout,
    QLabel,
    QLineEdit,
    QSizePolicy,
    QSpinBox,
    QWidget,
)

from analysis.pedal.returns import MORE_LIFT_OFFS
from bench.services.record import Plan
from bench.window.field_trouble import FieldTrouble
from bench.window.remembered_numbers import whole_number
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import label
from bench.wording.dead_band import added_words
from bench.wording.limb import FOOT, Limb, limb_of

# Ems of width below which the name has a row of its own.
NARROW_EMS = 44.0


class SweepSetup(QWidget):
    """The fields before a sweep; `changed` when another plan comes of them."""

    changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        grid = self._grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setColumnStretch(5, 1)
        self.cycles, self.quick = QSpinBox(), QSpinBox()
        self._names: list[QLabel] = []
        for place, (text, field, low, value) in enumerate((
                ("Slow &presses", self.cycles, 1, 8), ("&Quick lift-offs", self.quick, 0, 4))):
            field.setRange(low, 100)
            field.setValue(whole_number(
                session.preferences, f"sweep/{'cycles' if not place else 'quick'}", value))
            field.setAccessibleName(text.replace("&", ""))
            field.setMinimumWidth(em(5.8))
            field.setButtonSymbols(QSpinBox.ButtonSymbols.NoButtons)
            field.valueChanged.connect(lambda _value: self.changed.emit())
            named = label(text)
            named.setBuddy(field)
            self._names.append(named)
            grid.addWidget(named, 0, 2 * place)
            grid.addWidget(field, 0, 2 * place + 1)
        self.name = QLineEdit()
        self.name.setAccessibleName("What is swept, in your words")
        self.name.setPlaceholderText("What is swept, in your words (becomes the title)")
        grid.addWidget(self.name, 0, 5)
        self.folder = QLineEdit(str(session.preferences.value(
            "sweep/folder", QStandardPaths.writableLocation(
                QStandardPaths.StandardLocation.DocumentsLocation) or str(Path.home()))))
        self.folder.setAccessibleName("Folder the recording goes to")
        named = label("&Into folder")
        named.setBuddy(self.folder)
        grid.addWidget(named, 1, 0)
        grid.addWidget(self.folder, 1, 1, 1, 5)
        self.folder_trouble = FieldTrouble(self.folder, lines=0)
        grid.addWidget(self.folder_trouble, 2, 1, 1, 5)
        self.adding, self._adding_words = QCheckBox(""), ""
        self._name_by(FOOT)
        # Its words name a file, however long that is: they break rather than widen the page.
        self.adding.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        self.adding.toggled.connect(lambda _on: self.changed.emit())
        self.adding.hide()
        grid.addWidget(self.adding, 3, 1, 1, 5)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._name_by(limb_of(self.session.bench.use))

    def _name_by(self, of: Limb) -> None:
        """Name what is counted: on Wire up the pedal may have become a hand throttle."""
        slow = "Slow &presses" if of.by_foot else "Slow o&penings"
        for made, field, text in zip(self._names, (self.cycles, self.quick),
                                     (slow, f"&Quick {of.lift_off}s"), strict=True):
            made.setText(text)
            field.setAccessibleName(text.replace("&", ""))
        self.adding.setAccessibleName(f"Add the {of.lift_off}s to the sweep on show")
        self.adding.setToolTip(
            "Both files are kept; a new one beside the sweep has the two together. More "
            f"{of.lift_off}s make the bound on later ones narrower.")

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # With a large font its words would not be read beside the counts.
        row, first, columns = (4, 1, 5) if self.width() < em(NARROW_EMS) else (0, 5, 1)
        if self._grid.getItemPosition(self._grid.indexOf(self.name)) != (row, first, 1, columns):
            self._grid.addWidget(self.name, row, first, 1, columns)
        self._break_words()

    def _break_words(self) -> None:
        """Write the offer in as many lines as its width asks for: a tick box breaks none itself."""
        room = self.width() - self.folder.x() - em(3)
        measure = self.adding.fontMetrics()
        lines: list[str] = []
        for word in self._adding_words.split(" "):
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and measure.horizontalAdvance(longer) <= room:
                lines[-1] = longer
            else:
                lines.append(word)
        text = "\n".join(lines)
        if text != self.adding.text():
            self.adding.setText(text)

    @property
    def adds(self) -> bool:
        """Return whether lift-offs are to be added to the sweep on show."""
        return self.adding.isChecked() and self.adding.isVisibleTo(self)

    @property
    def counts(self) -> tuple[int, int]:
        """Return how many slow presses and how many lift-offs are asked for."""
        return (0, MORE_LIFT_OFFS) if self.adds else (self.cycles.value(), self.quick.value())

    def plan(self) -> Plan | None:
        """Return the plan that these fields make with the board that is named; None for none."""
        return self.session.bench.plan_ahead(*self.counts)

    def remember(self) -> None:
        """Keep the fields for the next time."""
        preferences = self.session.preferences
        preferences.setValue("sweep/folder", self.folder.text())
        preferences.setValue("sweep/cycles", self.cycles.value())
        preferences.setValue("sweep/quick", self.quick.value())

    def offer(self) -> None:
        """Offer to add lift-offs to the sweep on show, with what they would save."""
        findings, path = self.session.findings, self.session.path
        self.adding.setVisible(findings is not None and path is not None)
        self.adding.setChecked(False)
        if findings is not None and path is not None:
            self._adding_words = added_words(findings, path.name)
            self._break_words()
        self.changed.emit()
