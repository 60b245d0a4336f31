"""What of a sweep counts so far, by the signal: presses, lift-offs and rests, one mark for each."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from bench.services.record import Tally
from bench.window.sizes import em
from bench.window.theme import LIGHT, Skin
from bench.wording.guided import counted
from bench.wording.limb import FOOT, Limb

# More marks than this are not told apart: the figures alone stand there.
MOST_MARKS = 16


class SweepCounts(QWidget):
    """Paint the counts; a mark is set only for what was seen in the signal."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("What counts so far")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.skin: Skin = LIGHT
        self.tally = Tally()
        self.wanted = (0, 0)
        self.limb: Limb = FOOT

    def sizeHint(self) -> QSize:
        return QSize(500, round(2.6 * em(1)))

    minimumSizeHint = sizeHint

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        self.skin = skin
        self.update()

    def show_tally(self, tally: Tally, presses: int, lift_offs: int) -> None:
        """Show what counts; presses, lift_offs: how many are wanted of each."""
        if (tally, (presses, lift_offs)) != (self.tally, self.wanted):
            self.tally, self.wanted = tally, (presses, lift_offs)
            self.setAccessibleDescription(", ".join(self.texts()))
            self.update()

    def texts(self) -> tuple[str, ...]:
        """Return the counts in words."""
        rests = sum(self.wanted) + 1
        return (*counted((self.tally.presses, self.tally.lift_offs), self.wanted, self.limb),
                f"{min(self.tally.rests, rests)} of {rests} rests")

    def marks(self, quick: bool, wanted: int) -> list[str]:
        """Return for each mark "counts", why not, or "" for one still to come."""
        tried = [state for fast, state in self.tally.tried if fast == quick]
        left = max(wanted - tried.count("counts"), 0)
        return [*tried, *[""] * left]

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        one = em(1)
        font = QFont(self.font())
        font.setPixelSize(round(1.35 * one))
        font.setBold(True)
        painter.setFont(font)
        texts = list(self.texts())
        groups = [(self.marks(False, self.wanted[0]), bool(self.wanted[0])),
                  (self.marks(True, self.wanted[1]), bool(self.wanted[1])), ([], True)]
        shown = [marks for marks, there in groups if there]
        room = QFontMetricsF(font)
        side, gap = 1.15 * one, 2.2 * one
        words = sum(room.horizontalAdvance(t) for t in texts) + gap * (len(texts) - 1)
        marks_fit = (all(len(m) <= MOST_MARKS for m in shown)
                     and words + sum((len(m) + 0.5) * side for m in shown) < self.width() - one)
        x, middle = 0.2 * one, self.height() / 2
        for text, marks in zip(texts, shown, strict=True):
            painter.setPen(QColor(self.skin.text))
            wide = room.horizontalAdvance(text)
            painter.drawText(QRectF(x, 0, wide + 2, self.height()),
                             Qt.AlignmentFlag.AlignVCenter, text)
            x += wide + 0.5 * one
            for state in marks if marks_fit else ():
                self._mark(painter, QPointF(x + side / 2, middle), 0.42 * one, state)
                x += side
            x += gap - 0.5 * one

    def _mark(self, painter: QPainter, at: QPointF, half: float, state: str) -> None:
        """Paint a filled disc for one that counts, a triangle for one that does not, else a ring.

        Told apart by shape, not by colour alone.
        """
        skin = self.skin
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if state == "counts":
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(skin.good))
            painter.drawEllipse(at, half, half)
        elif state:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(skin.mend))
            painter.drawPolygon([at + QPointF(0, -half), at + QPointF(half, half),
                                 at + QPointF(-half, half)])
        else:
            painter.setPen(QPen(QColor(skin.quiet), 1.5))
            painter.drawEllipse(at, half * 0.85, half * 0.85)
