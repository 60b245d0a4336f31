"""Start the window."""

import threading
from pathlib import Path

from PySide6.QtCore import QLibraryInfo, QSettings, QTimer
from PySide6.QtGui import QFontDatabase
from PySide6.QtWidgets import QApplication

from bench.services.findings import warm_up
from bench.window.main_window import MainWindow

# Once the window stands and can be used.
PAGES_MS, WARM_UP_MS = 100, 400


def application() -> QApplication:
    """Return the running Qt application, started if need be."""
    running = QApplication.instance()
    if isinstance(running, QApplication):
        # Whoever painted for paper before set its face; the window has the system's.
        usual = QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont)
        if running.font() != usual:
            # Every widget there is is laid out anew.
            running.setFont(usual)
        return running
    made = QApplication(["stillpedal"])
    made.setApplicationName("Stillpedal")
    made.setApplicationDisplayName("Stillpedal")
    # One style everywhere: the style sheet was looked at with it, in light and dark.
    made.setStyle("Fusion")
    return made


def x11_part() -> Path:
    """Return the file of Qt's part for X11, which loads more system libraries than the rest."""
    return Path(QLibraryInfo.path(QLibraryInfo.LibraryPath.PluginsPath),
                "platforms", "libqxcb.so")


def remembered() -> QSettings:
    """Return where the window remembers its state."""
    return QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "Stillpedal",
                     "window")


def run(recording: Path | None = None, before: Path | None = None) -> int:
    """Open the window, with recordings if any are given, and return its exit status."""
    qt = application()
    window = MainWindow(remembered())
    window.show()
    QTimer.singleShot(WARM_UP_MS, lambda: threading.Thread(
        target=warm_up, name="warm up", daemon=True).start())
    QTimer.singleShot(PAGES_MS, window.make_pages)
    if recording is not None:
        window.open_both(recording, before)
    return int(qt.exec())
