"""Bring in a log of other origin: see what was found in it, say what could not be found."""

from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from bench.errors import BadCall, BenchError
from bench.services.import_log import (
    ROLES,
    Imported,
    ImportOptions,
    ImportPreview,
    import_file,
    preview,
)
from bench.window.session import Session
from bench.window.widgets import Card, button, label, scrolled
from bench.window.worker import Worker
from bench.wording.in_window import in_window

FOUND = "as found"
# field of ImportOptions -> text, choices
CHOICES = {
    "unit": ("Values are in", ("V", "mV", "counts")),
    "time_unit": ("Times are in", ("s", "ms", "us", "min", "h", "days")),
    "decimal": ("Decimal sign", (".", ",")),
    "delimiter": ("Between columns", (",", ";", "tab", " ")),
}
NUMBERS = {
    "supply_volts": "Nominal supply, V", "rate_hz": "Rows a second, without times",
    "full_scale": "Full scale, counts", "reference_volts": "Volts at full scale",
}


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
        self._filling = False
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 12, 12, 12)
        row.setSpacing(12)
        card = Card("What is in the log?", "Change what was found wrongly; the rest stays.")
        form = QFormLayout()
        self.columns: dict[str, QComboBox] = {}
        for name in ("time", *ROLES):
            text = {"time": "Time", "a": "Track a", "b": "Track b"}.get(name, name.capitalize())
            self.columns[name] = self._combo(f"Column of {text.lower()}")
            form.addRow(text, self.columns[name])
        self.choices: dict[str, QComboBox] = {}
        for name, (text, values) in CHOICES.items():
            self.choices[name] = self._combo(text)
            self.choices[name].addItems([FOUND, *values])
            form.addRow(text, self.choices[name])
        self.numbers: dict[str, QLineEdit] = {}
        for name, text in NUMBERS.items():
            field = QLineEdit()
            field.setAccessibleName(text)
            field.editingFinished.connect(self._look)
            self.numbers[name] = field
            form.addRow(text, field)
        card.body.addLayout(form)
        card.body.addStretch(1)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.addWidget(card)
        area = scrolled(inside)
        area.setFixedWidth(380)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        row.addWidget(area)
        column = QVBoxLayout()
        self.question = label("", "mend", wrap=True)
        self.question.setAccessibleName("What must still be said")
        self.notes = label("", "quiet", wrap=True)
        self.table = QTableWidget(0, 0)
        self.table.setAccessibleName("The first rows of the log")
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)
        buttons = QHBoxLayout()
        self.take = button("Import", self.bring_in, main=True)
        buttons.addStretch(1)
        buttons.addWidget(button("Cancel", self.done.emit))
        buttons.addWidget(self.take)
        column.addWidget(self.question)
        column.addWidget(self.table, 1)
        column.addWidget(self.notes)
        column.addLayout(buttons)
        row.addLayout(column, 1)

    def _combo(self, name: str) -> QComboBox:
        made = QComboBox()
        made.setAccessibleName(name)
        made.currentIndexChanged.connect(lambda _index: self._look())
        return made

    def begin(self, path: Path) -> None:
        """Look into a log."""
        self.path, self.found = path, None
        self._filling = True
        for combo in self.columns.values():
            combo.clear()
            combo.addItem(FOUND)
        for combo in self.choices.values():
            combo.setCurrentIndex(0)
        for field in self.numbers.values():
            field.clear()
        self._filling = False
        self._look()

    def options(self) -> ImportOptions:
        """Return what the fields say; raise BadCall on a number that is none."""
        values: dict[str, Any] = {
            name: {"tab": "\t"}.get(c.currentText(), c.currentText())
            for name, c in self.choices.items() if c.currentIndex() > 0}
        for name, field in self.numbers.items():
            text = field.text().strip().replace(",", ".")
            if text:
                try:
                    values[name] = float(text)
                except ValueError:
                    raise BadCall(f"{NUMBERS[name]}: {text!r} is no number") from None
        roles = {name: str(c.currentIndex()) for name, c in self.columns.items()
                 if name != "time" and c.currentIndex() > 0}
        time = self.columns["time"]
        return ImportOptions(columns=roles, time=str(time.currentIndex())
                             if time.currentIndex() > 0 else None, **values)

    def _look(self) -> None:
        if self._filling or self.path is None:
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
        self.question.setText(in_window(text))
        self.take.setEnabled(False)

    def _show(self, found: ImportPreview) -> None:
        self.found = found
        names = [name or f"column {k}" for k, name in enumerate(found.names, start=1)]
        self._filling = True
        for combo in self.columns.values():
            if combo.count() != len(names) + 1:
                combo.clear()
                combo.addItems([FOUND, *names])
        self._filling = False
        used = {place: role for role, place in found.roles.items()}
        heads = [f"{name}\n{'time' if name == found.time else used.get(name, 'not used')}"
                 for name in found.names]
        self.table.setColumnCount(len(heads))
        self.table.setHorizontalHeaderLabels(heads)
        self.table.setRowCount(len(found.rows))
        for row, cells in enumerate(found.rows):
            for place, cell in enumerate(cells[: len(heads)]):
                self.table.setItem(row, place, QTableWidgetItem(cell))
        self.question.setText(found.question or "")
        self.question.setVisible(found.question is not None)
        self.take.setEnabled(found.question is None)
        units = ", ".join(f"{role} in {unit}" for role, unit in found.units_taken.items())
        self.notes.setText(" · ".join(t for t in (
            f"{found.row_count} rows", f"times in {found.time_unit}" if found.time_unit else "",
            units, *found.notes) if t))

    def bring_in(self) -> None:
        """Write the recording beside the log and open it."""
        path = self.path
        if path is None:
            return
        try:
            options = self.options()
        except BenchError as error:
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
