"""The files opened last, newest first; forgetting them can be taken back."""

from pathlib import Path

from PySide6.QtCore import QObject, QSettings, Signal
from PySide6.QtGui import QUndoStack

from bench.window.change import Change

MOST = 12


class RecentFiles(QObject):
    """Remember which files were opened."""

    changed = Signal()

    def __init__(self, preferences: QSettings, undo: QUndoStack,
                 parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._preferences, self._undo = preferences, undo

    def all(self) -> list[str]:
        """Return the recent files, newest first."""
        stored = self._preferences.value("recent", [])
        return [stored] if isinstance(stored, str) else (
            [str(name) for name in stored] if isinstance(stored, list) else [])

    def add(self, path: Path | None) -> None:
        """Put a file at the head; None, of a recording that has no file, changes nothing."""
        if path is None:
            return
        name = str(path.resolve())
        self._put([name, *(f for f in self.all() if f != name)][:MOST])

    def forget(self) -> None:
        """Forget them; the files themselves stay."""
        before = self.all()
        self._undo.push(Change("forgetting the list", lambda: self._put([]),
                               lambda: self._put(before), "keep"))

    def _put(self, files: list[str]) -> None:
        self._preferences.setValue("recent", files)
        self.changed.emit()
