"""The columns of a log as a table: what each is, in which unit, and its first rows."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QAbstractItemView, QComboBox, QTableWidget, QTableWidgetItem

from bench.services.import_log import ImportPreview
from bench.window.sizes import em
from bench.wording.imports import PARTS

PART, UNIT = 0, 1
HEADS = ("is", "in")
AS_FOUND = "as found"
UNITS = ("V", "mV", "counts")
TIMES = ("s", "ms", "us", "min", "h", "days")


class ImportTable(QTableWidget):
    """Combos for part and unit above each column, its first rows below them.

    `changed` when the user picks another part or unit; then `picked` is true, and only what is
    picked counts.
    """

    changed = Signal()

    def __init__(self) -> None:
        super().__init__(2, 0)
        self.setAccessibleName("The columns of the log: what each is, its unit, its first rows")
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setTabKeyNavigation(False)
        self.picked = False
        self.parts: list[QComboBox] = []
        self.units: list[QComboBox] = []

    def begin(self) -> None:
        """Forget the log before."""
        self.picked = False
        self.parts, self.units = [], []
        self.setColumnCount(0)
        self.setRowCount(2)

    def show_preview(self, found: ImportPreview) -> None:
        """Show what was found; what the user picked stays as it is."""
        names = [name or f"column {k}" for k, name in enumerate(found.names, start=1)]
        if len(names) != len(self.parts):
            self._make(names)
        self.setHorizontalHeaderLabels(names)
        self.setRowCount(2 + len(found.rows))
        self.setVerticalHeaderLabels([*HEADS, *map(str, range(1, len(found.rows) + 1))])
        roles = {place: role for role, place in found.places.items()}
        if found.time_place is not None:
            roles[found.time_place] = "time"
        for place, combo in enumerate(self.parts):
            role = roles.get(place, "")
            if not self.picked or (role and combo.currentData() == "" and role not in self.taken()):
                combo.setCurrentIndex(combo.findData(role))
            self._offer_units(place, found)
        for row, cells in enumerate(found.rows):
            for place, cell in enumerate(cells[: len(names)]):
                self.setItem(2 + row, place, QTableWidgetItem(cell))

    def taken(self) -> dict[str, int]:
        """Return the part -> column, from 0, as the combos stand; without those left out."""
        return {str(combo.currentData()): place for place, combo in enumerate(self.parts)
                if combo.currentData()}

    def unit_of(self, place: int) -> str:
        """Return the unit picked for a column, "" where it is as found."""
        return str(self.units[place].currentData() or "")

    def _make(self, names: list[str]) -> None:
        self.setColumnCount(len(names))
        self.parts, self.units = [], []
        for place, name in enumerate(names):
            part = self._combo(f"What {name} is", self._picked)
            for key, words in PARTS.items():
                part.addItem(words, key)
            unit = self._combo(f"Unit of {name}", self._unit_picked)
            self.parts.append(part)
            self.units.append(unit)
            self.setCellWidget(PART, place, part)
            self.setCellWidget(UNIT, place, unit)
            self.setColumnWidth(place, em(11))
        for row in (PART, UNIT):
            self.setRowHeight(row, em(3))

    def _combo(self, name: str, act: Callable[[], object]) -> QComboBox:
        made = QComboBox()
        made.setAccessibleName(name)
        made.setMinimumContentsLength(6)
        made.activated.connect(lambda _index: act())
        return made

    def _offer_units(self, place: int, found: ImportPreview) -> None:
        """Offer the units that a column of its part can be in, the one found said first."""
        part, combo = self.parts[place].currentData(), self.units[place]
        wanted = combo.currentData()
        seen = found.time_unit if part == "time" else found.units_taken.get(str(part), "")
        combo.clear()
        if part:
            combo.addItem(f"{seen} ({AS_FOUND})" if seen else AS_FOUND, "")
            for unit in TIMES if part == "time" else UNITS:
                combo.addItem(unit, unit)
            combo.setCurrentIndex(max(combo.findData(wanted), 0))
        combo.setEnabled(bool(part))

    def doubled(self) -> str:
        """Return the part that two columns are picked for, in words; "" for none."""
        parts = [str(combo.currentData()) for combo in self.parts if combo.currentData()]
        return next((PARTS[part] for part in parts if parts.count(part) > 1), "")

    def _picked(self) -> None:
        # Whoever steps through the entries by keys passes parts of other columns: theirs stay.
        self.picked = True
        self.changed.emit()

    def _unit_picked(self) -> None:
        self.changed.emit()
