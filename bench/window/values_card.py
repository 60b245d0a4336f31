"""The card of the values to enter: each in the unit picked, with its reason, to be copied."""

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QHBoxLayout,
    QSizePolicy,
    QTableWidgetItem,
)

from analysis.pedal.settings import Setting
from bench.errors import BadCall
from bench.services.settings import Sheet, convert, units_of
from bench.window.session import Session
from bench.window.widgets import Card, button, label, rows_to_pick
from bench.wording.face import WINDOW
from bench.wording.reasons import in_words
from bench.wording.settings import label as setting_label

VALUES, NOT_PROVEN = "Values to enter", "NOT PROVEN"
UNITS = (("volts", "volts"), ("millivolts", "millivolts"),
         ("percent_of_supply", "% of supply"), ("counts10", "10-bit counts"),
         ("counts12", "12-bit counts"), ("counts16", "16-bit counts"))


class ValuesCard(Card):
    """The list of settings; `unit_changed` when the user picks another unit."""

    unit_changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self._sheet: Sheet | None = None
        self._in_doubt: tuple[str, ...] = ()
        head = QHBoxLayout()
        self.head = label(VALUES, "head", wrap=True)
        head.addWidget(self.head, 1)
        self.unit = QComboBox()
        self.unit.setAccessibleName("Unit of the values")
        for key, text in UNITS:
            self.unit.addItem(text, key)
        self.unit.currentIndexChanged.connect(lambda _index: self.unit_changed.emit())
        head.addWidget(self.unit)
        self.copy_button = button("Copy value", self.copy, tip="Copy the picked value (Ctrl+C)")
        head.addWidget(self.copy_button)
        self.body.addLayout(head)
        self.table = rows_to_pick("Recommended values", ["setting", "value", "why"])
        self.table.cellDoubleClicked.connect(lambda *_: self.copy())
        self.table.setMinimumHeight(150)
        self.body.addWidget(self.table)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_sheet(self, sheet: Sheet | None, in_doubt: Sequence[str] = ()) -> None:
        """List the values of a sheet, None for nothing; in_doubt: tracks without a promise."""
        self._sheet, self._in_doubt = sheet, tuple(in_doubt)
        settings = sheet.settings if sheet is not None else ()
        self.head.setText(VALUES + (
            f": {NOT_PROVEN} for track {', '.join(in_doubt)}" if in_doubt else ""))
        self.copy_button.setEnabled(bool(settings))
        picked = self.table.currentRow()
        self.table.setRowCount(len(settings))
        for row, setting in enumerate(settings):
            for place, text in enumerate((setting_label(setting), self.text_of(setting),
                                          in_words(setting.why, WINDOW))):
                item = self.table.item(row, place)
                if item is None:
                    item = QTableWidgetItem()
                    self.table.setItem(row, place, item)
                if item.text() != text:
                    item.setText(text)
                    item.setToolTip(text)
        self.table.resizeColumnToContents(0)
        self.table.resizeColumnToContents(1)
        if picked < len(settings):
            self.table.setCurrentCell(picked, 0)

    def text_of(self, setting: Setting) -> str:
        """Return a setting in the unit picked, rounded to the safe side."""
        unit = self.unit.currentData()
        asked = unit if unit in units_of(setting) else ""
        if self._sheet is None:
            return "not known"
        try:
            made = convert(setting, asked, self._sheet)
        except BadCall:
            return "not known"
        names = dict(UNITS) | {"volts": "V", "millivolts": "mV", "percent_of_supply": "%"}
        shown = names[asked] if asked else setting.unit
        return f"{made.rounded():.{made.decimals}f} {shown}"

    def level_of(self, name: str, column: str) -> str:
        """Return the level of that name of a track as it stands in the list."""
        settings = self._sheet.settings if self._sheet is not None else ()
        setting = next((x for x in settings if (x.name, x.channel) == (name, column)), None)
        return self.text_of(setting) if setting is not None else "not known"

    def copy(self) -> None:
        """Copy the picked value, or the whole list with its warnings when none is picked."""
        self._session.settle()
        if self._sheet is None or not self._sheet.settings:
            self._session.notify("There is no value to copy.", "mend")
            return
        row = self.table.currentRow()
        if row >= 0:
            setting = self._sheet.settings[row]
            text = self.text_of(setting)
            doubted = setting.channel in self._in_doubt
            told = f"Copied {text}, which is {NOT_PROVEN}." if doubted else f"Copied {text}."
        else:
            doubted = bool(self._in_doubt)
            lines = [f"{setting_label(s)}\t{self.text_of(s)}" for s in self._sheet.settings]
            text = "\n".join((*(f"! {w}" for w in self._sheet.warnings), *lines))
            told = "Copied all values" + (f", {NOT_PROVEN} for track {', '.join(self._in_doubt)}."
                                          if doubted else ".")
        QApplication.clipboard().setText(text)
        self._session.notify(told, "mend" if doubted else "good")
