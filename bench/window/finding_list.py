"""A list of findings: a line each under the word of its gravity, the reasons folded below it.

What is in order stands last; beside something grave it is one quiet line, folded, for it changes
nothing there.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QListWidget, QListWidgetItem

from bench.window.finding_view import NOT_SEEN, WORDS, Said
from bench.window.sentences import MARKS, Part, SentenceDelegate

# From here on a word stands over what must be repaired.
GRAVE = 2
FINE = "In order"
ROW_ROLE = int(Qt.ItemDataRole.UserRole)


@dataclass
class Row:
    """Hold what one row of the list shows.

    said: a finding, None for a heading. word: of a heading. count: of what a folded heading
    hides, 0 for one that hides nothing. quiet: painted without any colour of its own.
    """

    said: Said | None
    word: str = ""
    gravity: int = 0
    count: int = 0
    quiet: bool = False
    unfolded: bool = False


class FindingList(QListWidget):
    """The list; `picked(fault)` when a finding is chosen that tells of a fault."""

    picked = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Findings, gravest first; Enter unfolds the reasons")
        self.delegate = FindingDelegate(self)
        self.setItemDelegate(self.delegate)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.currentItemChanged.connect(self._chosen)
        self.itemClicked.connect(self.toggle)

    def show_said(self, said: Sequence[Said]) -> None:
        """List findings, the state of the sweep first, then gravest first; nothing is unfolded."""
        self.blockSignals(True)
        self.clear()
        grave = max((s.gravity for s in said), default=0) >= GRAVE
        if said:
            self._add(Row(said[0], gravity=said[0].gravity))
        for gravity, over in ((3, WORDS[3]), (2, WORDS[2]), (2, NOT_SEEN), (1, WORDS[1]),
                              (1, NOT_SEEN), (0, "")):
            group = [s for s in said[1:] if (s.gravity, s.word) == (gravity, over)]
            if not group:
                continue
            quiet = gravity == 0 and grave
            word = over or f"{FINE} ({len(group)})"
            self._add(Row(None, word, gravity, len(group) if quiet else 0, quiet))
            for each in group:
                item = self._add(Row(each, gravity=gravity, quiet=quiet))
                item.setHidden(quiet)
        self.blockSignals(False)

    def row_of(self, item: QListWidgetItem | None) -> Row | None:
        """Return what a row shows."""
        row = item.data(ROW_ROLE) if item is not None else None
        return row if isinstance(row, Row) else None

    def said_of(self, item: QListWidgetItem | None) -> Said | None:
        """Return the finding of a row, None for a heading."""
        row = self.row_of(item)
        return row.said if row is not None else None

    def toggle(self, item: QListWidgetItem | None) -> None:
        """Unfold what a row hides, or fold it again."""
        row = self.row_of(item)
        if row is not None and item is not None:
            self._unfold(item, row, not row.unfolded)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        item, key = self.currentItem(), event.key()
        row = self.row_of(item)
        if row is not None and item is not None and key in (
                Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space, Qt.Key.Key_Right,
                Qt.Key.Key_Left):
            self._unfold(item, row, key == Qt.Key.Key_Right if key in (
                Qt.Key.Key_Right, Qt.Key.Key_Left) else not row.unfolded)
            return
        super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # Lines break elsewhere now.
        self.scheduleDelayedItemsLayout()

    def _add(self, row: Row) -> QListWidgetItem:
        text = row.said.head if row.said is not None else row.word
        item = QListWidgetItem(text)
        item.setData(ROW_ROLE, row)
        if row.said is not None:
            word = row.said.word or FINE
            item.setData(Qt.ItemDataRole.AccessibleTextRole,
                         f"{word}: {row.said.head}. {row.said.reasons}")
        elif not row.count:
            item.setFlags(Qt.ItemFlag.NoItemFlags)
        self.addItem(item)
        return item

    def _unfold(self, item: QListWidgetItem, row: Row, unfolded: bool) -> None:
        row.unfolded = unfolded
        if row.said is None:
            first = self.row(item) + 1
            for place in range(first, min(first + row.count, self.count())):
                self.item(place).setHidden(not unfolded)
        self.scheduleDelayedItemsLayout()
        self.viewport().update()
        self.scrollToItem(item)

    def _chosen(self, item: QListWidgetItem | None, _old: object = None) -> None:
        said = self.said_of(item)
        if said is not None and said.fault is not None:
            self.picked.emit(said.fault)


class FindingDelegate(SentenceDelegate):
    """Paint the rows of a `FindingList`, wrapped to its width."""

    def _can_be_picked(self, each: Row) -> bool:
        return each.said is not None

    def _stripe(self, each: Row) -> str:
        return "" if each.quiet else self.skin.gravity(each.gravity)

    def _parts(self, each: Row) -> list[Part]:
        small, word = self._small_fonts()
        arrow = "▾" if each.unfolded else "▸"
        if each.said is None:
            color = self.skin.quiet if each.quiet else self.skin.gravity(each.gravity)
            return [(f"{arrow} {each.word}" if each.count else f"{MARKS[each.gravity]} {each.word}",
                     word, color)]
        color = self.skin.quiet if each.quiet else self.skin.text
        folded = f"{arrow} " if each.said.reasons else ""
        parts = [(f"{folded}{each.said.head}", self._view.font(), color)]
        if each.unfolded and each.said.reasons:
            parts.append((each.said.reasons, small, self.skin.quiet))
        return parts
