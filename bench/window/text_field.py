"""A text field that leaves Undo to the window when it has no typing of its own to undo."""

from PySide6.QtCore import QEvent
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit


class TextField(QLineEdit):
    """A field that leaves Undo to the window when it has no typing of its own to undo."""

    def event(self, event: QEvent) -> bool:
        """Let the window's shortcut have Ctrl+Z once the name was taken over."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride and (
                (event.matches(QKeySequence.StandardKey.Undo) and not self.isUndoAvailable())
                or (event.matches(QKeySequence.StandardKey.Redo) and not self.isRedoAvailable())):
            event.ignore()
            return False
        return super().event(event)
