"""When a picture of the window was painted: the clocks of `window_frames.py`."""

import time

from PySide6.QtCore import QEvent, QObject, QTimer

from bench.acquisition.listener import Rows
from bench.window.figure_desk import FigureDesk
from bench.window.figure_view import FigureView
from bench.window.pages.sweep import SweepPage


class PaintWatch(QObject):
    """Note when the picture of the sweep was painted, and up to which row.

    times: seconds of the monotonic clock, taken when the event loop is free again: the paint is
    then through, and the numbers below it as well.
    """

    def __init__(self, page: SweepPage) -> None:
        super().__init__(page.picture)
        self.times: list[float] = []
        self.numbers: list[int] = []
        self._newest: int | None = None
        self._take = page.link.take
        page.link.take = self._take_note
        page.picture.installEventFilter(self)

    def _take_note(self) -> list[Rows]:
        pieces = self._take()
        if pieces:
            self._newest = int(pieces[-1].readings[-1, -1])
        return pieces

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Paint and self._newest is not None:
            QTimer.singleShot(0, lambda newest=self._newest: self._painted(newest))
        return False

    def _painted(self, newest: int) -> None:
        self.times.append(time.monotonic())
        self.numbers.append(newest)


class FigureWatch(QObject):
    """Note when the large figure of a desk was painted, and when every one of them was.

    first, all: seconds of the monotonic clock, after the paint; None before. Only paints of figures
    that were drawn since count: what is on a figure before is of another recording, or nothing.
    """

    def __init__(self, desk: FigureDesk) -> None:
        super().__init__(desk)
        self._desk = desk
        self.round = 0
        self.begin()
        for view in desk.views.values():
            view.viewport().installEventFilter(self)
            self._watch(view)

    def begin(self) -> None:
        """Wait for the next recording; what was painted before it is not of it."""
        self.round += 1
        self.first = self.all = None
        self._drawn: set[int] = set()
        self._painted: set[int] = set()

    def _watch(self, view: FigureView) -> None:
        usual = view.show_findings

        def show(*each: object) -> None:
            usual(*each)
            self._drawn.add(id(view))
            self._painted.discard(id(view))

        view.show_findings = show

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Paint:
            view = watched.parent()
            if id(view) in self._drawn:
                QTimer.singleShot(0, lambda begun=self.round: self._note(view, begun))
        return False

    def _note(self, view: QObject, begun: int) -> None:
        if begun != self.round:
            return
        self._painted.add(id(view))
        if self.first is None and view is self._desk.view:
            self.first = time.monotonic()
        if self.all is None and not self._desk.busy and all(
                id(v) in self._painted for v in self._desk.views.values()):
            self.all = time.monotonic()
