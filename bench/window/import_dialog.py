"""Bring in a log of other origin: columns picked in a table, with what was understood below it."""

from pathlib import Path
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from analysis.model.pedal_kind import RECORDED
from bench.errors import BadCall
from bench.services.import_log import (
    Imported,
    ImportOptions,
    ImportPreview,
    import_file,
    preview,
)
from bench.window.field_trouble import FieldTrouble
from bench.window.import_table import AS_FOUND, ImportTable
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import button, label
from bench.window.worker import Worker
from bench.wording.face import capital
from bench.wording.imports import DOUBLED, FIELDS
from bench.wording.in_window import in_window
from bench.wording.parameters import WORDS

# field of ImportOptions -> text, choices
CHOICES = {
    "decimal": ("Decimal sign", (".", ",")),
    "delimiter": ("Between columns", (",", ";", "tab", " ")),
}
WIDE = 4
NOT_STATED = "not stated"


class ImportDialog(QWidget):
    """Preview and import of one log; `done` when it is over, either way."""

    done = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.setObjectName("page")
        self.session = session
        self.path: Path | None = None
        self.found: ImportPreview | None = None
        self._work = Worker(self)
        self._work.failed.connect(self._refused)
        self._begun = False
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 12, 12, 12)
        column.setSpacing(8)
        self.question = label("", "mend", wrap=True)
        self.question.setAccessibleName("What must still be said")
        # It keeps its room: the table must not move under the pointer.
        self.question.setMinimumHeight(em(2.6))
        head = QHBoxLayout()
        head.addWidget(self.question, 1)
        self.take = button("&Import", self.bring_in)
        head.addWidget(button("Cancel", self.done.emit))
        head.addWidget(self.take)
        column.addLayout(head)
        self.table = ImportTable()
        self.table.changed.connect(self._look)
        self.table.setMinimumHeight(em(14))
        column.addWidget(self.table, 1)
        self.understood = label("", wrap=True)
        self.understood.setAccessibleName("What was understood")
        self.not_understood = label("", wrap=True)
        self.not_understood.setAccessibleName("What was not understood")
        self.notes = label("", "quiet", wrap=True)
        for made in (self.understood, self.not_understood, self.notes):
            column.addWidget(made)
        column.addLayout(self._more())

    def _more(self) -> QGridLayout:
        """Return what holds of the whole log: signs, supply, rate, and what counts mean."""
        grid = QGridLayout()
        grid.setHorizontalSpacing(em(1))
        grid.setVerticalSpacing(2)
        self.choices: dict[str, QComboBox] = {}
        self.numbers: dict[str, QLineEdit] = {}
        self.troubles: dict[str, FieldTrouble] = {}
        place = 0
        for name, (text, values) in CHOICES.items():
            combo = self.choices[name] = QComboBox()
            combo.setAccessibleName(text)
            combo.addItems([AS_FOUND, *values])
            combo.activated.connect(lambda _index: self._look())
            self._put(grid, place, text, combo)
            place += 1
        self.kinds: dict[str, QComboBox] = {}
        for name in ("pedal_kind", "pedal_use"):
            combo = self.kinds[name] = QComboBox()
            combo.setAccessibleName(WORDS[name].label)
            combo.addItem(NOT_STATED, None)
            for key, words in WORDS[name].options.items():
                # Nothing was recorded yet that could say it.
                if key != RECORDED:
                    combo.addItem(words, key)
            self._put(grid, place, WORDS[name].label, combo)
            place += 1
        for name, text in FIELDS.items():
            field = self.numbers[name] = QLineEdit()
            field.setAccessibleName(text)
            field.editingFinished.connect(self._look)
            self._put(grid, place, text, field)
            trouble = self.troubles[name] = FieldTrouble(field, lines=0)
            grid.addWidget(trouble, 3 * (place // WIDE) + 2, place % WIDE)
            place += 1
        return grid

    def _put(self, grid: QGridLayout, place: int, text: str, field: QWidget) -> None:
        caption = label(text, "quiet", wrap=True)
        caption.setBuddy(field)
        grid.addWidget(caption, 3 * (place // WIDE), place % WIDE)
        grid.addWidget(field, 3 * (place // WIDE) + 1, place % WIDE)

    def begin(self, path: Path) -> None:
        """Look into a log."""
        self.path, self.found, self._begun = path, None, True
        self.table.begin()
        for combo in self.choices.values():
            combo.setCurrentIndex(0)
        for combo in self.kinds.values():
            combo.setCurrentIndex(0)
        for field in self.numbers.values():
            field.clear()
        for made in (self.question, self.understood, self.not_understood, self.notes):
            made.setText("")
        self.take.setEnabled(False)
        self._look()

    def options(self) -> ImportOptions:
        """Return what the fields say; raise BadCall on a number that is none."""
        values: dict[str, Any] = {
            name: {"tab": "\t"}.get(c.currentText(), c.currentText())
            for name, c in self.choices.items() if c.currentIndex() > 0}
        values |= {name: combo.currentData() for name, combo in self.kinds.items()}
        for name, field in self.numbers.items():
            text = field.text().strip().replace(",", ".")
            if text:
                try:
                    values[name] = float(text)
                except ValueError:
                    said = f"{text!r} is no number"
                    self.troubles[name].say(capital(said), focus=False)
                    raise BadCall(f"{FIELDS[name]}: {said}") from None
        if doubled := self.table.doubled():
            raise BadCall(DOUBLED.format(part=doubled))
        # Numbers from 1, as the command line counts them: two columns may share a name.
        taken = self.table.taken()
        units = {part: self.table.unit_of(place) for part, place in taken.items()
                 if self.table.unit_of(place)}
        time_unit = units.pop("time", None)
        if not self.table.picked:
            return ImportOptions(units=units, time_unit=time_unit, **values)
        time = taken.pop("time", None)
        return ImportOptions(
            columns={part: str(place + 1) for part, place in taken.items()},
            time=None if time is None else str(time + 1), units=units, time_unit=time_unit,
            **values)

    def _look(self) -> None:
        if self.path is None:
            return
        path = self.path
        try:
            options = self.options()
        except BadCall as error:
            self._refused(str(error))
            return
        self._work.run("Looking into the log", lambda _progress: preview(path, options),
                       self._show)

    def _refused(self, text: str) -> None:
        self.question.setText(capital(in_window(text)))
        self.take.setEnabled(False)

    def _show(self, found: ImportPreview) -> None:
        self.found = found
        self.table.show_preview(found)
        self.question.setText(f"{capital(found.asked)}." if found.asked else "")
        self.take.setEnabled(found.asked is None)
        self.understood.setText(capital(found.understood))
        self.not_understood.setText(capital(found.not_understood))
        self.notes.setText("  ".join(found.said))
        if self._begun:
            # Where it goes on from here; afterwards the focus stays where the user put it.
            self._begun = False
            self.next_field().setFocus()

    def next_field(self) -> QWidget:
        """Return where the next step is done: a column that is nothing yet, else the button."""
        if self.take.isEnabled():
            return self.take
        taken = self.table.taken().values()
        return next((c for place, c in enumerate(self.table.parts) if place not in taken),
                    self.table)

    def bring_in(self) -> None:
        """Write the recording beside the log and open it."""
        path = self.path
        if path is None:
            return
        try:
            options = self.options()
        except BadCall as error:
            self._refused(str(error))
            return
        self.session.work.run(f"Bringing in {path.name}",
                              lambda progress: import_file(path, options, progress=progress),
                              self._brought)

    def _brought(self, made: object) -> None:
        assert isinstance(made, Imported)
        self.session.notify(f"Brought in as {made.path}", "good")
        self.done.emit()
        self.session.open(made.path)
