"""One large figure above a strip of small ones: a click, or Enter, makes a small one large.

Every figure is drawn once and moves between the strip and the desk, so that what is marked in it
moves along. What is on show is drawn first, the strip in the turns of the event loop after it.
"""

import time
from collections.abc import Sequence
from functools import partial

import numpy as np
from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QVBoxLayout,
    QWidget,
)

from analysis.pedal.findings import Findings
from bench.plots import title_for
from bench.plots.crosshair import Crosshair
from bench.plots.readout import Reading, Readout
from bench.window.desk_figures import DeskFigure, Strip, Tile
from bench.window.theme import LIGHT, Skin
from bench.window.widgets import button, label
from bench.wording.readout import readout_line

Key = tuple[str, str | None]
# Of the view's width, a press of an arrow key.
KEY_STEP = 0.005
# So long a key may wait for its answer while small figures are drawn.
TURN_S = 0.05
HINT = "Point into the plot (or ← →): the reading of every track there"


def view_key(view: DeskFigure) -> Key:
    """Return what a figure is called on its desk."""
    return view.name, view.column


class FigureDesk(QWidget):
    """The large figure, what is read under the crosshair, its buttons, and the strip below.

    `menu_asked(point)`: right click or the menu key on the large figure.
    """

    menu_asked = Signal(object)
    enlarged = Signal()

    def __init__(self, skin: Skin = LIGHT) -> None:
        super().__init__()
        self.setObjectName("scrolled")
        self.skin = skin
        self.views: dict[Key, DeskFigure] = {}
        self.tiles: dict[Key, Tile] = {}
        self.large: Key | None = None
        self._findings: Findings | None = None
        self._before: Findings | None = None
        self._readout: Readout | None = None
        self._crosshair: Crosshair | None = None
        self._waiting: list[Key] = []
        self._next = QTimer(self)
        self._next.setSingleShot(True)
        self._next.setInterval(0)
        self._next.timeout.connect(self._draw_next)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(6)
        self.frame = QFrame()
        self.frame.setObjectName("card")
        self._inside = QVBoxLayout(self.frame)
        self._inside.setContentsMargins(8, 6, 8, 6)
        self._inside.setSpacing(2)
        head = QHBoxLayout()
        self.readout = label(HINT, "quiet", wrap=True)
        self.readout.setAccessibleName("Reading under the crosshair")
        self.readout.setMinimumHeight(2 * self.readout.fontMetrics().height())
        self.readout.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        head.addWidget(self.readout, 1)
        self.corner = head
        self._inside.addLayout(head)
        whole.addWidget(self.frame, 1)
        self._strip = Strip()

    @property
    def strip(self) -> QWidget:
        """Return the strip of small figures, for the page to place."""
        return self._strip

    @property
    def view(self) -> DeskFigure | None:
        """Return the large figure."""
        return self.views.get(self.large) if self.large is not None else None

    def add_button(self, text: str, act: object, name: str, tip: str) -> QWidget:
        """Put a button into the large figure's corner and return it."""
        made = button(text, act, name=name, tip=tip)  # type: ignore[arg-type]
        made.setObjectName("corner")
        self.corner.addWidget(made)
        return made

    def show_figures(self, wanted: Sequence[Key], large: Key) -> None:
        """Make the figures of that name and column, one of them large; kept where they are alike.
        """
        if list(self.views) == list(wanted):
            return
        self._drop()
        for key in wanted:
            view = DeskFigure(key[0], self.skin, key[1])
            view.pointed.connect(self._pointed)
            view.left.connect(self._nothing_pointed)
            view.stepped.connect(self._stepped)
            view.asked.connect(self.menu_asked)
            tile = Tile()
            tile.picked.connect(partial(self.enlarge, key))
            self.views[key], self.tiles[key] = view, tile
            tile.body.addWidget(view, 1)
            view.show_size(False)
        self._strip.show_tiles(list(self.tiles.values()))
        self._place(large)

    def enlarge(self, key: Key) -> None:
        """Make a small figure large; the large one goes back to its place in the strip."""
        if key == self.large or key not in self.views:
            return
        old = self.large
        self._place(key)
        if self._findings is not None:
            self._draw(key)
            if old is not None:
                self._draw(old)
            self._next.start()
        self.enlarged.emit()

    def show_findings(self, findings: Findings, before: Findings | None) -> None:
        """Draw every figure of these findings, the large one at once."""
        self._findings, self._before = findings, before
        self._readout = Readout(findings)
        self._nothing_pointed()
        for key, tile in self.tiles.items():
            title = title_for(key[0], findings, key[1])
            name, number = title.thumb
            tile.name.setText(name)
            tile.number.setText(number)
            tile.setAccessibleName(f"{title.forms[0]}; Enter shows it large")
            tile.setToolTip(title.forms[0])
        if self.large is not None:
            self._draw(self.large)
        self._waiting = [key for key in self.views if key != self.large]
        self._next.start()

    @property
    def busy(self) -> bool:
        """Say whether a figure is still to be drawn."""
        return bool(self._waiting) or self._next.isActive()

    def finish(self) -> None:
        """Draw at once what was left for later turns."""
        while self._waiting:
            self._draw_next()

    def wipe(self) -> None:
        """Take everything of a recording off the figures."""
        self._next.stop()
        self._waiting = []
        self._findings = self._before = self._readout = None
        self._nothing_pointed()
        for view in self.views.values():
            view.wipe()
        for tile in self.tiles.values():
            tile.name.setText("")
            tile.number.setText("")

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin; the figures must be drawn again."""
        self.skin = skin
        self._crosshair = None
        for view in self.views.values():
            view.apply_theme(skin.look)

    def see_whole(self) -> None:
        """Show the large figure whole, as it was drawn first."""
        if self.large is not None and self._findings is not None:
            self._draw(self.large)

    def _place(self, key: Key) -> None:
        self._nothing_pointed()
        if self.large is not None and self.large in self.views:
            old = self.views[self.large]
            old.show_size(False)
            self.tiles[self.large].mark.hide()
            self.tiles[self.large].body.addWidget(old, 1)
        self.large = key
        view = self.views[key]
        view.show_size(True)
        self._inside.addWidget(view, 1)
        self.tiles[key].mark.show()
        self._crosshair = None

    def _drop(self) -> None:
        self._nothing_pointed()
        self._crosshair = None
        gone: list[QWidget] = [*self.views.values(), *self.tiles.values()]
        for each in gone:
            # Seen until Qt deletes it: pieces of it would stand between the new ones.
            each.hide()
            each.setParent(None)
            each.deleteLater()
        self.views, self.tiles, self.large, self._waiting = {}, {}, None, []

    def _draw(self, key: Key) -> None:
        assert self._findings is not None
        if key == self.large:
            self._crosshair = None
        self.views[key].show_findings(self._findings, self._before)

    def _draw_next(self) -> None:
        # Some at a time: each turn of the event loop paints, and answers whoever presses a key.
        began = time.monotonic()
        while self._waiting and self._findings is not None:
            self._draw(self._waiting.pop(0))
            if time.monotonic() - began > TURN_S:
                break
        if self._waiting:
            self._next.start()
            return
        view = self.view
        if view is not None and self._findings is not None and view.roomy != view.drawn_roomy:
            # Only now does it have the size that it is seen with.
            self._draw(view_key(view))
            self.enlarged.emit()

    def _pointed(self, x: float, y: float) -> None:
        view = self.view
        if view is None or self._readout is None:
            return
        box = view.plot.getViewBox()
        wide, high = box.viewPixelSize()
        self._show(self._readout.at(view.name, x, y, column=view.column,
                                    scale=(1.0 / (wide or 1.0), 1.0 / (high or 1.0))))

    def _stepped(self, steps: int) -> None:
        view = self.view
        if view is None or self._readout is None:
            return
        low, high = view.plot.viewRange()[0]
        # Returns are counted: a step there is one of them.
        step = 1.0 if view.name == "rest" else KEY_STEP * (high - low)
        at = self._crosshair.x if self._crosshair is not None else np.nan
        at = at if np.isfinite(at) else low - step
        self._show(self._readout.at(view.name, min(max(at + steps * step, low), high),
                                    column=view.column))

    def _show(self, reading: Reading | None) -> None:
        view = self.view
        if view is None or reading is None:
            return
        if self._crosshair is None:
            self._crosshair = Crosshair(view.plot, self.skin.look)
        self._crosshair.show_at(reading)
        text = readout_line(reading.time_s, reading.volts, reading.travel_percent,
                            reading.values, reading.number)
        self.readout.setText(text)
        self.readout.setAccessibleDescription(text)

    def forget_place(self) -> None:
        """Take the crosshair away: the figure shows another place now."""
        self._nothing_pointed()

    def _nothing_pointed(self) -> None:
        if self._crosshair is not None:
            self._crosshair.hide()
        self.readout.setText(HINT)
