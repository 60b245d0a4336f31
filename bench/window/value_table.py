"""The values to enter as a table: a row for each setting, the tracks beside one another.

Where the tracks have no room side by side each value has a row of its own, under its whole name.
"""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidgetItem

from analysis.pedal.settings import Setting
from bench.window.sizes import em
from bench.window.widgets import PlainTable
from bench.wording.settings import label, name_of

ROW_EMS = 1.9
# Room left and right of a text in a cell.
AIR_EMS = 0.7
# Too long a unit to stand beside every number: it stands above them.
LONG_UNIT = " counts"
SETTING = int(Qt.ItemDataRole.UserRole)


class ValueTable(PlainTable):
    """The table; `picked` when another value is the current one, `asked` at a double click."""

    picked = Signal()
    asked = Signal()

    def __init__(self) -> None:
        super().__init__("Recommended values", ["setting", "value"])
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setStyleSheet(f"QTableWidget::item {{ padding: 0 {em(AIR_EMS / 2)}px; }}")
        self.verticalHeader().setMinimumSectionSize(em(ROW_EMS))
        self.verticalHeader().setDefaultSectionSize(em(ROW_EMS))
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._settings: Sequence[Setting] = ()
        self._texts: list[str] = []
        self._struck = False
        self._abreast: tuple[bool, bool] | None = None
        self.currentCellChanged.connect(self._moved)
        self.cellDoubleClicked.connect(lambda *_: self.asked.emit())

    def show_settings(self, settings: Sequence[Setting], text_of: Callable[[Setting], str],
                      struck: bool) -> None:
        """List these settings; struck: nobody may drive with them."""
        kept = self.current()
        self._settings, self._struck = settings, struck
        self._texts = [text_of(s) for s in settings]
        self._abreast = None
        self._arrange()
        if kept is not None:
            self.pick(kept.name, kept.channel)

    def current(self) -> Setting | None:
        """Return the setting that is picked, None for none."""
        item = self.currentItem()
        return item.data(SETTING) if item is not None else None

    def pick(self, name: str, channel: str | None) -> None:
        """Make the value of that setting the current one."""
        cell = self._cell(name, channel)
        if cell is not None:
            self.setCurrentItem(cell)

    def shown(self) -> dict[str, str]:
        """Return what stands in the table: the whole name of each setting, and its value."""
        return {label(s): cell.text() for s in self._settings
                if (cell := self._cell(s.name, s.channel)) is not None}

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # The names cannot be picked: Left stays on the first value.
        if event.key() == Qt.Key.Key_Left and self.currentColumn() <= 1:
            return
        super().keyPressEvent(event)

    def _cell(self, name: str, channel: str | None) -> QTableWidgetItem | None:
        for row in range(self.rowCount()):
            for place in range(1, self.columnCount()):
                item = self.item(row, place)
                found = item.data(SETTING) if item is not None else None
                if found is not None and (found.name, found.channel) == (name, channel):
                    return item
        return None

    def _moved(self, row: int, place: int, *_old: int) -> None:
        if row >= 0 and place == 0:
            self.setCurrentCell(row, 1)
        else:
            self.picked.emit()

    def _arrange(self) -> None:
        """Place tracks side by side where there is room, else one value a row."""
        tracks = list(dict.fromkeys(s.channel for s in self._settings if s.channel))
        room, long_heads = self.viewport().width(), [f"track {t}" for t in tracks]
        abreast = len(tracks) > 1 and self._needed(tracks, tracks) <= room
        heads = long_heads if abreast and self._needed(long_heads, tracks) <= room else tracks
        if (abreast, heads == tracks) == self._abreast:
            return
        kept = self.current()
        self._abreast = abreast, heads == tracks
        self.blockSignals(True)
        self.clearSpans()
        if abreast:
            self._fill_abreast(tracks, heads)
        else:
            self._fill_listed()
        sections = self.horizontalHeader()
        sections.setStretchLastSection(False)
        sections.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        sections.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        # As high as its rows: what is to be entered is seen whole.
        self.setFixedHeight(sections.sizeHint().height() + em(ROW_EMS) * max(self.rowCount(), 1)
                            + 4)
        self.blockSignals(False)
        if kept is not None:
            self.pick(kept.name, kept.channel)

    def _needed(self, heads: Sequence[str], tracks: Sequence[str]) -> int:
        """Return the pixels that the tracks side by side need under these heads."""
        wide, air = self.fontMetrics().horizontalAdvance, em(AIR_EMS) + 4
        names = max((wide(name_of(s)) for s in self._settings), default=0) + air
        texts = [text.removesuffix(LONG_UNIT) for text in self._texts]
        values = [max(wide(head) + em(1.3), *(
            wide(text) for s, text in zip(self._settings, texts, strict=True)
            if s.channel == track)) + air for head, track in zip(heads, tracks, strict=True)]
        return names + sum(values)

    def _fill_abreast(self, tracks: Sequence[str], heads: Sequence[str]) -> None:
        names = list(dict.fromkeys(s.name for s in self._settings))
        self.setColumnCount(1 + len(tracks))
        counts = any(text.endswith(LONG_UNIT) for text in self._texts)
        self.setHorizontalHeaderLabels([f"in{LONG_UNIT}" if counts else "setting",
                                        *heads])
        self.setRowCount(len(names))
        for row in range(len(names)):
            for place in range(1, 1 + len(tracks)):
                self.setItem(row, place, _empty())
        for setting, text in zip(self._settings, self._texts, strict=True):
            row = names.index(setting.name)
            place = 1 + tracks.index(setting.channel) if setting.channel else 1
            self.setItem(row, 0, _name(name_of(setting)))
            self.setItem(row, place, self._value(setting, text, text.removesuffix(LONG_UNIT)))
            if not setting.channel:
                self.setSpan(row, 1, 1, len(tracks))

    def _fill_listed(self) -> None:
        self.setColumnCount(2)
        self.setHorizontalHeaderLabels(["setting", "value"])
        self.setRowCount(len(self._settings))
        for row, (setting, text) in enumerate(zip(self._settings, self._texts, strict=True)):
            self.setItem(row, 0, _name(label(setting)))
            self.setItem(row, 1, self._value(setting, text))

    def _value(self, setting: Setting, text: str, short: str = "") -> QTableWidgetItem:
        item = QTableWidgetItem(short or text)
        item.setData(SETTING, setting)
        item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{label(setting)}: {text}")
        item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        font = item.font()
        font.setStrikeOut(self._struck)
        item.setFont(font)
        return item


def _name(text: str) -> QTableWidgetItem:
    item = QTableWidgetItem(text)
    item.setFlags(Qt.ItemFlag.ItemIsEnabled)
    return item


def _empty() -> QTableWidgetItem:
    item = QTableWidgetItem("–")
    item.setFlags(Qt.ItemFlag.ItemIsEnabled)
    item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
    return item
