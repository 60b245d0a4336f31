"""Paint a finding in a list: its gravity as a word, the sentence, and its evidence below."""

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter
from PySide6.QtWidgets import QListWidget, QStyledItemDelegate, QStyleOptionViewItem

from bench.window.finding_view import WORDS, Said
from bench.window.theme import LIGHT, Skin

EDGE = 10
MARKS = {3: "■", 2: "▲", 1: "●", 0: "✓"}


class SentenceDelegate(QStyledItemDelegate):
    """Paint `Said` items, wrapped to the width of the list."""

    def __init__(self, view: QListWidget) -> None:
        super().__init__(view)
        self._view = view
        self.skin: Skin = LIGHT

    def paint(self, painter: QPainter, option: QStyleOptionViewItem,
              index: QModelIndex | QPersistentModelIndex) -> None:
        each: Said = index.data(Qt.ItemDataRole.UserRole)
        if each is None:
            return
        painter.save()
        area = option.rect
        if index.row() == self._view.currentRow():
            painter.fillRect(area, QColor(self.skin.picked))
        painter.fillRect(QRect(area.left(), area.top(), 4, area.height()),
                         QColor(self.skin.gravity(each.gravity)))
        painter.setPen(QColor(self.skin.edge))
        painter.drawLine(area.bottomLeft(), area.bottomRight())
        top = area.top() + 7
        for text, font, color in self._parts(each):
            box = self._box(text, font, area.left() + EDGE + 4, top)
            painter.setFont(font)
            painter.setPen(QColor(color))
            painter.drawText(box, Qt.TextFlag.TextWordWrap, text)
            top = box.bottom() + 3
        painter.restore()

    def sizeHint(self, _option: QStyleOptionViewItem,
                 index: QModelIndex | QPersistentModelIndex) -> QSize:
        each: Said = index.data(Qt.ItemDataRole.UserRole)
        bottom = 7
        for text, font, _ in self._parts(each):
            bottom = self._box(text, font, 0, bottom).bottom() + 3
        return QSize(self._width(), bottom + 6)

    def _parts(self, each: Said) -> list[tuple[str, QFont, str]]:
        small = QFont(self._view.font())
        small.setPointSizeF(small.pointSizeF() * 0.88)
        word = QFont(small)
        word.setBold(True)
        mark = f"{MARKS[each.gravity]} {WORDS.get(each.gravity, 'Fine')}"
        parts = [(mark, word, self.skin.gravity(each.gravity)),
                 (each.sentence, self._view.font(), self.skin.text)]
        if each.evidence:
            parts.append((each.evidence, small, self.skin.quiet))
        return parts

    def _width(self) -> int:
        return max(self._view.viewport().width() - 1, 120)

    def _box(self, text: str, font: QFont, left: int, top: int) -> QRect:
        room = QRect(left, top, self._width() - 2 * EDGE - 6, 10_000)
        return QFontMetrics(font).boundingRect(room, int(Qt.TextFlag.TextWordWrap), text)
