"""Whether readings come from the board now, or stand still: what the state bar and pages ask."""

import time

from PySide6.QtCore import QObject, QTimer, Signal

from bench.window.board_controller import BoardController

POLL_MS = 250
# A board that has sent nothing for so long is told as silent; a slow one may take three rows.
SILENT_S, SILENT_ROWS = 1.5, 3.0


class BoardState(QObject):
    """Watch the link to the board.

    kind: "none", "opening", "waiting" (open, nothing said yet), "live", "silent" (open, but no
    reading came lately), "out" (the cable) or "lent" (a sender is checked with it). changed: any
    of it is another, and once a second while it records or is silent. replaced: another board, or
    perhaps another pedal, was connected: extremes and counts shown of the one before are to be
    forgotten.
    """

    changed = Signal()
    replaced = Signal()

    def __init__(self, bench: BoardController, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bench, self._link = bench, bench.link
        self._shown: tuple[object, ...] = ()
        self._connections = 0
        self.kind = "none"
        self._timer = QTimer(self)
        self._timer.setInterval(POLL_MS)
        self._timer.timeout.connect(self._look)
        self._link.changed.connect(self._look)

    @property
    def fresh(self) -> bool:
        """Say whether numbers on show are of now; else they are greyed or shown as "-"."""
        return self.kind == "live"

    @property
    def frozen(self) -> bool:
        """Say whether a board is open whose last numbers stand still."""
        return self.kind in ("silent", "out")

    @property
    def name(self) -> str:
        """Return what the board calls itself, or the port it is on; "" for none."""
        source = self._link.source
        if source is not None and source.board_name:
            return source.board_name
        return self._bench.board_name if self.kind != "none" else ""

    @property
    def silent_s(self) -> float:
        """Return for how long no reading has come, seconds; 0 where none is awaited."""
        latest = self._link.latest_at
        return 0.0 if latest is None else time.monotonic() - latest

    @property
    def recording(self) -> tuple[str, float, int] | None:
        """Return what is recorded ("sweep", "key-on"), for how long (s), how many rows; or None."""
        link = self._link
        if link.state != "recording":
            return None
        file = link.file
        rows = file.writer.rows if file is not None and file.writer is not None else 0
        return link.purpose, file.last_s if file is not None and rows else 0.0, rows

    def _kind(self) -> str:
        link = self._link
        if link.state == "idle":
            return "lent" if link.paused else "none"
        if link.state == "opening":
            return "opening"
        if link.lost:
            return "out"
        if link.source is None or link.latest_at is None:
            return "waiting"
        rate = link.source.rate_hz
        patience = max(SILENT_S, SILENT_ROWS / rate) if rate else SILENT_S
        return "silent" if self.silent_s > patience else "live"

    def _look(self) -> None:
        self.kind = self._kind()
        if (self.kind == "none") == self._timer.isActive():
            self._timer.stop() if self.kind == "none" else self._timer.start()
        if self._link.connections != self._connections:
            self._connections = self._link.connections
            self.replaced.emit()
        recording = self.recording
        shown = (self.kind, self.name, int(self.silent_s) if self.kind == "silent" else 0,
                 recording and (recording[0], int(recording[1])))
        if shown != self._shown:
            self._shown = shown
            self.changed.emit()
