"""Paint rows of wrapped sentences in a list, each with a stripe in the colour of its gravity."""

from typing import Any

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter
from PySide6.QtWidgets import QListWidget, QStyledItemDelegate, QStyleOptionViewItem

from bench.window.finding_view import WORDS, Said
from bench.window.theme import LIGHT, Skin

EDGE = 10
# Pixels above the first line, between two, and below the last.
ABOVE, BETWEEN, BELOW = 6, 3, 5
MARKS = {3: "■", 2: "▲", 1: "●", 0: "✓"}
Part = tuple[str, QFont, str]


class SentenceDelegate(QStyledItemDelegate):
    """Paint `Said` items, wrapped to the width of the list: word, sentence, evidence below it."""

    def __init__(self, view: QListWidget) -> None:
        super().__init__(view)
        self._view = view
        self.skin: Skin = LIGHT

    def paint(self, painter: QPainter, option: QStyleOptionViewItem,
              index: QModelIndex | QPersistentModelIndex) -> None:
        each = index.data(Qt.ItemDataRole.UserRole)
        if each is None:
            return
        painter.save()
        area = option.rect
        can_be_picked = self._can_be_picked(each)
        if can_be_picked and index.row() == self._view.currentRow():
            painter.fillRect(area, QColor(self.skin.picked))
        if stripe := self._stripe(each):
            painter.fillRect(QRect(area.left(), area.top(), 4, area.height()), QColor(stripe))
        if can_be_picked:
            painter.setPen(QColor(self.skin.edge))
            painter.drawLine(area.bottomLeft(), area.bottomRight())
        top = area.top() + ABOVE
        for text, font, color in self._parts(each):
            box = self._box(text, font, area.left() + EDGE + 4, top)
            painter.setFont(font)
            painter.setPen(QColor(color))
            painter.drawText(box, Qt.TextFlag.TextWordWrap, text)
            top = box.bottom() + BETWEEN
        painter.restore()

    def sizeHint(self, _option: QStyleOptionViewItem,
                 index: QModelIndex | QPersistentModelIndex) -> QSize:
        each = index.data(Qt.ItemDataRole.UserRole)
        bottom = ABOVE
        for text, font, _ in self._parts(each):
            bottom = self._box(text, font, 0, bottom).bottom() + BETWEEN
        return QSize(self._width(), bottom + (BELOW if self._can_be_picked(each) else 1))

    def texts(self, index: QModelIndex | QPersistentModelIndex) -> list[str]:
        """Return what is painted in a row, line by line."""
        return [text for text, _, _ in self._parts(index.data(Qt.ItemDataRole.UserRole))]

    def _can_be_picked(self, _each: Any) -> bool:
        return True

    def _stripe(self, each: Any) -> str:
        """Return the colour of a row's stripe, "" for none."""
        return self.skin.gravity(each.gravity)

    def _parts(self, each: Any) -> list[Part]:
        said: Said = each
        small, word = self._small_fonts()
        mark = f"{MARKS[said.gravity]} {WORDS.get(said.gravity, 'Fine')}"
        parts = [(mark, word, self.skin.gravity(said.gravity)),
                 (said.sentence, self._view.font(), self.skin.text)]
        if said.evidence:
            parts.append((said.evidence, small, self.skin.quiet))
        return parts

    def _small_fonts(self) -> tuple[QFont, QFont]:
        """Return the font of reasons, and that of the word above a sentence."""
        small = QFont(self._view.font())
        small.setPointSizeF(small.pointSizeF() * 0.88)
        word = QFont(small)
        word.setBold(True)
        return small, word

    def _width(self) -> int:
        return max(self._view.viewport().width() - 1, 120)

    def _box(self, text: str, font: QFont, left: int, top: int) -> QRect:
        room = QRect(left, top, self._width() - 2 * EDGE - 6, 10_000)
        return QFontMetrics(font).boundingRect(room, int(Qt.TextFlag.TextWordWrap), text)
