"""The steps of a job in a list, each with a box whose shape and word say where it stands."""

from collections.abc import Sequence

from PySide6.QtCore import (
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRect,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from bench.services.proof import Proof
from bench.window.sizes import em
from bench.window.theme import LIGHT, Skin
from bench.wording.pages.proof import state_line
from bench.wording.proof import TITLES, mark_of_state, state_words

BOX_EMS, ROW_EMS, PAD_EMS = 1.7, 3.7, 0.7


def paint_state(painter: QPainter, box: QRectF, state: str, skin: Skin) -> None:
    """Paint a state's box: a filled square with a tick, an octagon with a bar, a ring, a frame.

    Shape and filling differ, so that no colour is needed to tell them apart.
    """
    colour = QColor({"proved": skin.good, "failed": skin.grave, "open": skin.mend}.get(
        state, skin.quiet))
    thick = max(box.width() / 11.0, 1.5)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    pen = QPen(colour, thick)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    inner = box.adjusted(thick, thick, -thick, -thick)
    x, y, w = inner.x(), inner.y(), inner.width()
    if state == "proved":
        painter.setBrush(colour)
        painter.drawRoundedRect(inner, 3, 3)
        painter.setPen(QPen(QColor(skin.card), 1.6 * thick))
        painter.drawPolyline(QPolygonF([QPointF(x + 0.22 * w, y + 0.52 * w),
                                        QPointF(x + 0.43 * w, y + 0.73 * w),
                                        QPointF(x + 0.79 * w, y + 0.27 * w)]))
    elif state == "failed":
        painter.setBrush(colour)
        cut = 0.3 * w
        painter.drawPolygon(QPolygonF([QPointF(x + cut, y), QPointF(x + w - cut, y),
                                       QPointF(x + w, y + cut), QPointF(x + w, y + w - cut),
                                       QPointF(x + w - cut, y + w), QPointF(x + cut, y + w),
                                       QPointF(x, y + w - cut), QPointF(x, y + cut)]))
        painter.setPen(QPen(QColor(skin.card), 1.8 * thick))
        painter.drawLine(QPointF(x + 0.5 * w, y + 0.2 * w), QPointF(x + 0.5 * w, y + 0.56 * w))
        painter.drawPoint(QPointF(x + 0.5 * w, y + 0.8 * w))
    elif state in ("open", "simulated"):
        painter.drawEllipse(inner)
        font = QFont(painter.font())
        font.setPixelSize(max(1, round(0.8 * w)))
        font.setBold(True)
        painter.setFont(font)
        painter.drawText(inner, int(Qt.AlignmentFlag.AlignCenter),
                         "?" if state == "open" else "~")
    else:
        pen.setWidthF(thick * 0.8)
        painter.setPen(pen)
        painter.drawRoundedRect(inner, 3, 3)


class _Painter(QStyledItemDelegate):
    """Paint one step: its box, its title, and below it the state in words."""

    def __init__(self, view: QListWidget) -> None:
        super().__init__(view)
        self._view = view
        self.skin = LIGHT

    def sizeHint(self, _option: QStyleOptionViewItem,
                 _index: QModelIndex | QPersistentModelIndex) -> QSize:
        return QSize(em(14), em(ROW_EMS))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem,
              index: QModelIndex | QPersistentModelIndex) -> None:
        proof: Proof = index.data(Qt.ItemDataRole.UserRole)
        if proof is None:
            return
        painter.save()
        area: QRect = option.rect
        if index.row() == self._view.currentRow():
            painter.fillRect(area, QColor(self.skin.picked))
        painter.setPen(QColor(self.skin.edge))
        painter.drawLine(area.bottomLeft(), area.bottomRight())
        side, pad = em(BOX_EMS), em(PAD_EMS)
        paint_state(painter, QRectF(area.left() + pad, area.center().y() - side / 2, side, side),
                    mark_of_state(proof.state, proof.simulated), self.skin)
        words = area.adjusted(2 * pad + side, em(0.45), -pad, -em(0.45))
        font = QFont(self._view.font())
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(self.skin.text))
        left = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        elided = painter.fontMetrics().elidedText
        painter.drawText(words, left, elided(TITLES[proof.step], Qt.TextElideMode.ElideRight,
                                             words.width()))
        font.setBold(proof.state == "failed")
        painter.setFont(font)
        painter.setPen(QColor(self.skin.grave if proof.state == "failed" else self.skin.quiet))
        elided = painter.fontMetrics().elidedText
        painter.drawText(words, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignBottom),
                         elided(state_line(proof.step, proof.state, proof.because,
                                        proof.simulated),
                                Qt.TextElideMode.ElideRight, words.width()))
        painter.restore()


class ProofList(QListWidget):
    """The list; `picked(step)` when the user chooses one."""

    picked = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Steps of the job, each with where it stands")
        self._painter = _Painter(self)
        self.setItemDelegate(self._painter)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.currentItemChanged.connect(self._chosen)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        self._painter.skin = skin
        self.viewport().update()

    def show_steps(self, steps: Sequence[Proof], pick: str) -> None:
        """List the steps of a job and pick one by its name."""
        self.blockSignals(True)
        self.clear()
        for proof in steps:
            # Read out by a screen reader; painted as title and state.
            item = QListWidgetItem(f"{TITLES[proof.step]}: "
                                   f"{state_words(proof.state, step=proof.step)}")
            item.setData(Qt.ItemDataRole.UserRole, proof)
            item.setToolTip(state_line(proof.step, proof.state, proof.because,
                                        proof.simulated))
            self.addItem(item)
            if proof.step == pick:
                self.setCurrentItem(item)
        self.blockSignals(False)

    def _chosen(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.picked.emit(item.data(Qt.ItemDataRole.UserRole).step)
