"""The figures of a desk: each is read large and seen small, in a tile with name and number."""

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from analysis.pedal.findings import Findings
from bench.plots import Look, draw, title_for
from bench.plots.fitting import title_of
from bench.window.figure_view import FigureView
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.widgets import label

# With Shift, an arrow key goes so many steps.
KEY_LEAP = 10
# Ems of width below which a tile has too little for its name and number.
NARROW = 6.8
# Ems of width and height from which the large figure has large print.
ROOMY, HIGH = 45.0, 22.0


class Tile(QFrame):
    """One small figure with its name and its number; picked with mouse or keyboard."""

    picked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("tile")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(6, 4, 6, 4)
        self.body.setSpacing(1)
        self.name = label("", "tileName", wrap=True)
        self.number = label("", "tileNumber", wrap=True)
        self.mark = label("shown large", "quiet")
        self.mark.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.body.addWidget(self.name)
        self.body.addWidget(self.number)
        self.body.addWidget(self.mark, 1)
        self.mark.hide()

    def minimumSizeHint(self) -> QSize:
        return QSize(em(5), em(7.5))

    def sizeHint(self) -> QSize:
        return QSize(em(10), em(8.5))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self.rect().contains(
                event.position().toPoint()):
            self.picked.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.picked.emit()
        elif event.key() == Qt.Key.Key_Right:
            self.focusNextChild()
        elif event.key() == Qt.Key.Key_Left:
            self.focusPreviousChild()
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        area = self.parentWidget()
        while area is not None and not isinstance(area, QScrollArea):
            area = area.parentWidget()
        if area is not None:
            area.ensureWidgetVisible(self)


class Strip(QWidget):
    """Tiles side by side, in two rows where one would leave each too little for its words."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("scrolled")
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(6)
        self._tiles: list[Tile] = []
        self._columns = 0

    def show_tiles(self, tiles: Sequence[Tile]) -> None:
        """Show these tiles in place of those before."""
        self._tiles, self._columns = list(tiles), 0
        self._arrange()

    def minimumSizeHint(self) -> QSize:
        rows = -(-len(self._tiles) // self._columns) if self._columns else 1
        return QSize(em(20), rows * em(7.5) + (rows - 1) * 6)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        count = len(self._tiles)
        if not count:
            return
        columns = count if self.width() >= count * em(NARROW) else -(-count // 2)
        if columns == self._columns:
            return
        self._columns = columns
        for place in range(max(self._grid.columnCount(), columns)):
            self._grid.setColumnStretch(place, 1 if place < columns else 0)
        for place, tile in enumerate(self._tiles):
            self._grid.addWidget(tile, *divmod(place, columns))
        rows = -(-count // columns)
        self.setMaximumHeight(rows * em(8.5) + (rows - 1) * 6)
        self.updateGeometry()


class DeskFigure(FigureView):
    """A figure that is read large and seen small. `pointed(x, y)`: the mouse is at that place."""

    pointed = Signal(float, float)
    left = Signal()
    stepped = Signal(int)
    asked = Signal(object)

    def __init__(self, name: str, skin: Skin, column: str | None = None) -> None:
        super().__init__(name, skin, column)
        self.large = self.drawn_roomy = False
        self.setMouseTracking(True)
        self.scene().sigMouseMoved.connect(self._moved)

    def apply_theme(self, look: Look) -> None:
        """Take on a look; the figure itself must be drawn again."""
        super().apply_theme(look)
        self.whole_look = look

    def show_size(self, large: bool) -> None:
        """Be the large figure, which is pointed into, or a small one, which is only seen."""
        self.large = large
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus if large else Qt.FocusPolicy.NoFocus)
        # A click on a small one is one on its tile.
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents, not large)
        self.setMinimumSize(*((200, 150) if large else (40, 30)))
        self.plot.showAxis("bottom", large)
        self.plot.showAxis("left", large)
        self.ci.layout.setContentsMargins(*((4, 4, 8, 2) if large else (0, 0, 0, 0)))

    @property
    def roomy(self) -> bool:
        """Say whether there is room for large print."""
        return self.large and self.width() >= em(ROOMY) and self.height() >= em(HIGH)

    def show_findings(self, findings: Findings, before: Findings | None = None) -> None:
        """Draw the figure of these findings, whole when it is large, bare when it is small."""
        self.drawn_roomy = self.roomy
        self.look = self.whole_look if self.roomy else self.whole_look.small()
        self.plot.bare = not self.large
        # A small one is seen, not zoomed: its long data are reduced once and for all.
        draw(self.name, self.plot, findings, self.look, column=self.column, before=before,
             thin=not self.large)
        title = title_for(self.name, findings, self.column)
        self.setAccessibleDescription(title.forms[0])
        if not self.large:
            self.bare()
        self.show_size(self.large)

    def bare(self) -> None:
        """Leave nothing but what is drawn: name and number stand above it."""
        title_of(self.plot, (), self.look.foreground, 8)
        self.plot.legend.setVisible(False)
        self.plot.legend.setMaximumHeight(0)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        if self.large:
            self.asked.emit(event.globalPos())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        ways = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
        if self.large and event.key() in ways:
            leap = KEY_LEAP if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
            self.stepped.emit(leap * ways[Qt.Key(event.key())])
            return
        event.ignore()

    def leaveEvent(self, event: object) -> None:
        super().leaveEvent(event)
        self.left.emit()

    def _moved(self, at: QPointF) -> None:
        box = self.plot.getViewBox()
        if self.large and box.sceneBoundingRect().contains(at):
            place = box.mapSceneToView(at)
            self.pointed.emit(place.x(), place.y())
