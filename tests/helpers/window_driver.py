"""Drive the real window in tests: open it on settings of its own, wait for what it does."""

import inspect
from pathlib import Path

from PySide6.QtCore import QEvent, QSettings, Qt
from PySide6.QtWidgets import QApplication, QCheckBox, QLabel, QPushButton, QScrollArea, QWidget

from analysis.parameters import TABLE, Parameters
from analysis.simulation import Motion
from bench.acquisition.boards.pty_server import PtyServer
from bench.acquisition.boards.simulated import SimulatedPedalBoard
from bench.acquisition.guided_plan import guided_plan
from bench.window.app import application
from bench.window.figure_view import FigureView
from bench.window.main_window import MainWindow
from bench.window.pages.keep import KeepPage

# Generous: the machine may be doing something else. What must be fast is measured by the bars.
PATIENCE_MS = 30_000
FASTER = 6.0


def settings_in(folder: Path) -> QSettings:
    """Return what a window remembers there; sweeps go into the same folder."""
    made = QSettings(str(folder / "window.ini"), QSettings.Format.IniFormat)
    made.setValue("sweep/folder", str(folder / "sweeps"))
    return made


def open_window(qtbot, folder: Path) -> MainWindow:
    """Return a shown window that remembers its state in `folder`."""
    application()
    window = MainWindow(settings_in(folder))
    qtbot.addWidget(window)
    window.resize(1280, 860)
    window.show()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow, timeout=PATIENCE_MS)
    return window


class FollowingPedal(SimulatedPedalBoard):
    """A simulated pedal whose person begins anew with every sweep, as a person at a bench does."""

    def write(self, data: bytes) -> None:
        """Begin at the first prompt when told to start."""
        super().write(data)
        if b"start" in data:
            self.open()


def served_pedal(pedal: str = "off-at-rest", cycles: int = 60) -> PtyServer:
    """Return a simulated pedal on a pty, several times faster than real time."""
    usual = {name: inspect.signature(guided_plan).parameters[name].default
             for name in ("press_s", "hold_s", "release_s", "rest_s", "first_rest_s")}
    return PtyServer(FollowingPedal(pedal, motion=Motion(cycles=cycles, quick=0, **usual),
                                    speed=FASTER))


def press(qtbot, made: QPushButton) -> None:
    """Click a button with the mouse, as a person would.

    It must be there, enabled, and be what lies under the pointer: a page is scrolled to it, and
    whatever covers it fails the test.
    """
    # What was just made is shown with the next turn of the event loop.
    qtbot.waitUntil(made.isVisible, timeout=5000)
    assert made.isEnabled(), made.text()
    qtbot.waitUntil(lambda: is_under_pointer(made), timeout=5000)
    qtbot.mouseClick(made, Qt.MouseButton.LeftButton)


def is_under_pointer(made: QWidget) -> bool:
    """Scroll to a widget; return whether a pointer on its middle would hit it and nothing else."""
    into_view(made)
    under = made.window().childAt(made.mapTo(made.window(), made.rect().center()))
    return under is made or (under is not None and made.isAncestorOf(under))


def into_view(made: QWidget) -> None:
    """Scroll every page around a widget until it is in view, as a person would."""
    around = made.parentWidget()
    while around is not None:
        if isinstance(around, QScrollArea):
            around.ensureWidgetVisible(made)
        around = around.parentWidget()


def keys(qtbot, window: QWidget, key: Qt.Key,
         modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.ControlModifier) -> None:
    """Press a key with a modifier where the focus is."""
    qtbot.keyClick(window.focusWidget() or window, key, modifier)


def connect(qtbot, window: MainWindow, port: str) -> None:
    """Accept the cautions and connect a board by its typed path."""
    page = window.pages["wire_up"]
    window.session.accept_cautions()
    page.board.setCurrentText(port)
    page.connect_board()
    qtbot.waitUntil(lambda: window.session.bench.link.source is not None, timeout=PATIENCE_MS)


def start_sweep(qtbot, window: MainWindow, cycles: int = 3, quick: int = 0) -> Path:
    """Start a guided sweep and return the file it goes to, once rows have come."""
    window.go_to("sweep")
    page = window.pages["sweep"]
    page.cycles.setValue(cycles)
    page.quick.setValue(quick)
    page.start()
    link = window.session.bench.link
    qtbot.waitUntil(lambda: link.state == "recording" and link.file is not None
                    and link.file.writer is not None and link.file.writer.rows > 0,
                    timeout=PATIENCE_MS)
    return link.file.path


def wait_opened(qtbot, window: MainWindow, path: Path | None = None) -> None:
    """Wait until a recording is on show."""
    qtbot.waitUntil(lambda: window.session.findings is not None and not window.session.work.busy
                    and (path is None or window.session.path == path), timeout=PATIENCE_MS)


def open_file(qtbot, window: MainWindow, path: Path) -> None:
    """Open a recording and wait until it is on show."""
    window.session.open(path)
    wait_opened(qtbot, window, path)


def wait_told(qtbot, window: MainWindow, words: str) -> str:
    """Wait until the notice bar says these words and return its sentence."""
    qtbot.waitUntil(lambda: window.notice.isVisible() and words in window.notice.text.text(),
                    timeout=PATIENCE_MS)
    return window.notice.text.text()


def link_is(window: MainWindow, patch, **what) -> None:
    """Let the link say this of itself, as it would with a board; patch: pytest's monkeypatch."""
    link = window.session.bench.link
    for name, value in what.items():
        patch.setattr(link, name, value)
    link.changed.emit()


def _there(made: QWidget, page: QWidget) -> bool:
    """Return whether nothing from a widget up to its page was hidden.

    A page that has not been up yet has shown nothing, and hidden nothing either.
    """
    while made is not page:
        if made.isHidden() and made.testAttribute(
                Qt.WidgetAttribute.WA_WState_ExplicitShowHide):
            return False
        made = made.parentWidget()
    return True


def figures_of(page: QWidget) -> dict[tuple[str, str | None], FigureView]:
    """Return the figures of a page, by name and column."""
    return {(view.name, view.column): view for view in page.findChildren(FigureView)
            if _there(view, page)}


def start_label(page: QWidget, column: str) -> QLabel:
    """Return the large number of a track on Decide, by the name that screen readers tell."""
    return next(made for made in page.findChildren(QLabel)
                if made.accessibleName() == f"Start of travel of track {column}"
                and _there(made, page))


def said_beside(page: QWidget, column: str) -> list[str]:
    """Return what stands around that number on its card."""
    start = start_label(page, column)
    block = start.parentWidget()
    return [made.text() for made in (*block.findChildren(QLabel), block.more)
            if made is not start and _there(made, page)]


def target_field(page: QWidget, name: str) -> QWidget:
    """Return the field of a target on Decide; name: `rest of a`."""
    return next(made.parentWidget() for made in page.findChildren(QCheckBox)
                if made.accessibleName() == f"State a {name}" and _there(made, page))


def shared_window(folder: Path, size: tuple[int, int] = (1366, 700),
                  scale: float = 1.0) -> MainWindow:
    """Return a shown window for a whole module: whoever makes it closes it.

    scale: how many times as large as usual its font is, as the system would have it.
    """
    application()  # has the usual font again
    font = QApplication.font()
    font.setPointSizeF(font.pointSizeF() * scale)
    QApplication.setFont(font)
    window = MainWindow(settings_in(folder))
    window.resize(*size)
    window.show()
    window.activateWindow()
    for _ in range(3):
        QApplication.processEvents()
    return window


def close_for_good(window: QWidget) -> None:
    """Close a window and let go of it: one that is kept is dressed again when the next opens."""
    window.close()
    window.deleteLater()
    let_go()


def let_go() -> None:
    """Let go of the windows that were closed: Qt would keep them until something is waited for."""
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def cleared(window: MainWindow) -> MainWindow:
    """Return a shared window with nothing opened, changed or told by the tests before.

    Its pages and plots stay: to make them anew costs 0.7 s. What a page itself remembers, as which
    plot was picked, stays too: tests of that open a window of their own.
    """
    session = window.session
    window.go_to("wire_up")
    session.stop_asking()
    session.findings = session.path = session.key_on = session.key_on_path = None
    session.key_on_changed.emit()
    session.take_before(None, None)
    session.set_parameters(**{name: getattr(Parameters(), name) for name in TABLE})
    session.saved.look(None)
    session.undo.clear()
    for page in window.pages.made():
        if isinstance(page, KeepPage):
            page.save_card.clear()
    window.notice.hide()
    window.show_step()
    return window
