"""Start the window."""

from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication

from bench.window.main_window import MainWindow


def application() -> QApplication:
    """Return the running Qt application, started if need be."""
    running = QApplication.instance()
    if isinstance(running, QApplication):
        return running
    made = QApplication(["stillpedal"])
    made.setApplicationName("Stillpedal")
    made.setApplicationDisplayName("Stillpedal")
    # One style everywhere: the style sheet was looked at with it, in light and dark.
    made.setStyle("Fusion")
    return made


def remembered() -> QSettings:
    """Return where the window remembers its state."""
    return QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "Stillpedal",
                     "window")


def run(recording: Path | None = None, before: Path | None = None) -> int:
    """Open the window, with recordings if any are given, and return its exit status."""
    qt = application()
    window = MainWindow(remembered())
    window.show()
    if recording is not None:
        window.open_both(recording, before)
    return int(qt.exec())
