"""The window: the rail of pages, the sentence of the moment, the page, notices and progress."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QByteArray, QSettings, QSize, Qt, QTimer, QUrl
from PySide6.QtGui import (
    QAction,
    QActionGroup,
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QMainWindow,
    QVBoxLayout,
    QWidget,
)

from bench.services.job_files import is_job
from bench.window import about, theme
from bench.window.change import PAGES
from bench.window.notice import Foot, NoticeBar
from bench.window.page_table import TABLE, Pages
from bench.window.pages.page import Page, on_show
from bench.window.sentences import SentenceDelegate
from bench.window.session import Session
from bench.window.sidebar import Sidebar
from bench.window.sizes import em
from bench.window.state_bar import StateBar
from bench.window.step_bar import StepBar
from bench.window.widgets import FrontStack, scrolled
from bench.wording import window_told as told

if TYPE_CHECKING:
    from bench.window.pages.keep import KeepPage
    from bench.window.pages.proof import ProofPage

# Below this width the rail shows the numbers of the pages alone.
FOLD_EMS = 62
# Of the recent files, so many stand in the menu; the page Keep has all.
MENU_FILES = 8
# Between two pages that are made in advance: what the user does comes first.
TURN_MS = 30
# What the system's frame and title of a window take at most, in pixels.
FRAME = (8, 40)


class MainWindow(QMainWindow):
    """The bench window."""

    def __init__(self, preferences: QSettings) -> None:
        super().__init__()
        self.setWindowTitle("Stillpedal")
        self.setAcceptDrops(True)
        self.session = Session(preferences, self)
        self.pages = Pages(self.session, self._page_made)
        self._build()
        self._menus()
        self._connect()
        self._restore()

    def _build(self) -> None:
        self.sidebar = Sidebar([entry.title for entry in TABLE.values()])
        self.step_bar, self.state_bar = StepBar(), StateBar(self.session)
        self.stack = FrontStack()
        whole = QWidget()
        row = QHBoxLayout(whole)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.sidebar)
        column = QVBoxLayout()
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.step_bar)
        column.addWidget(self.state_bar)
        # Smaller than its pages need, the window scrolls them; it never refuses to fit a screen.
        self.room = scrolled(self.stack)
        column.addWidget(self.room, 1)
        beside = QWidget()
        beside.setObjectName("page")
        foot = Foot(beside)
        self.notice, self.work_bar = NoticeBar(foot.place, beside), foot.work
        column.addWidget(foot)
        beside.setLayout(column)
        row.addWidget(beside, 1)
        whole.setObjectName("page")
        self.setCentralWidget(whole)
        # From the rail to what is to be done now, then to what was told of it.
        QWidget.setTabOrder(self.sidebar.buttons[-1], self.step_bar.action)
        QWidget.setTabOrder(self.step_bar.action, self.notice.dismiss)

    def _action(self, text: str, act: Callable[[], object],
                keys: str | QKeySequence = "") -> QAction:
        made = QAction(text, self)
        if keys:
            made.setShortcut(QKeySequence(keys))
        made.triggered.connect(lambda _checked=False: act())
        return made

    def _menus(self) -> None:
        files = self.menuBar().addMenu("&File")
        files.addAction(self._action("&Open a recording…", lambda: self.keep.choose(), "Ctrl+O"))
        self.recent_menu = files.addMenu("Open &recent")
        self.recent_menu.aboutToShow.connect(self._fill_recent)
        files.addAction(self._action("Lay an earlier one &under it…",
                                     lambda: self.keep.choose_before(), "Ctrl+B"))
        files.addSeparator()
        files.addAction(self._action("&Save the settings as text",
                                     lambda: self.keep.save_settings("text"), "Ctrl+S"))
        files.addSeparator()
        files.addAction(self._action("&Quit", self.close, "Ctrl+Q"))
        self.edit_menu = self.menuBar().addMenu("&Edit")
        stack = self.session.undo
        self.undo = self._action("&Undo", self.take_back, "Ctrl+Z")
        self.redo = self._action("&Redo", self.do_again, "Ctrl+Shift+Z")
        for made, word, may, text in (
                (self.undo, "&Undo", stack.canUndoChanged, stack.undoTextChanged),
                (self.redo, "&Redo", stack.canRedoChanged, stack.redoTextChanged)):
            made.setEnabled(False)
            may.connect(made.setEnabled)
            text.connect(lambda what, m=made, w=word: m.setText(f"{w} {what}".strip()))
            self.edit_menu.addAction(made)
        view = self.menuBar().addMenu("&View")
        view.addAction(self._action("&Do what the sentence says", self._act, "Ctrl+Return"))
        view.addSeparator()
        for number, (key, entry) in enumerate(TABLE.items(), start=1):
            view.addAction(self._action(f"&{number} {entry.title}", partial(self.go_to, key),
                                        f"Alt+{number}"))
        view.addSeparator()
        group = QActionGroup(self)
        self.look_actions = {}
        for choice in theme.CHOICES:
            made = self._action(f"Look: {choice}", partial(self.choose_look, choice))
            made.setCheckable(True)
            group.addAction(made)
            view.addAction(made)
            self.look_actions[choice] = made
        self.help_menu = self.menuBar().addMenu("&Help")
        self.help_menu.addAction(self._action("&Keys", lambda: about.show_keys(self), "F1"))
        self.help_menu.addAction(self._action("&About Stillpedal", lambda: about.show_about(self)))

    def _connect(self) -> None:
        session = self.session
        self.sidebar.group.idClicked.connect(lambda n: self.go_to(list(self.pages)[n]))
        self.step_bar.pressed.connect(self._act)
        session.notified.connect(self.notice.show_notice)
        session.settled_matter.connect(self.notice.settle)
        session.asked.connect(
            lambda text, answers: self.notice.show_notice(text, "mend", answers=answers))
        session.answered.connect(self.notice.stop_asking)
        session.foreign.connect(self._bring_in)
        session.findings_changed.connect(self._opened)
        session.key_on_opened.connect(self._key_on_opened)
        session.work.started.connect(self.work_bar.begin)
        session.work.progressed.connect(self.work_bar.advance)
        session.work.ended.connect(self.work_bar.end)
        self.work_bar.cancelled.connect(session.work.cancel)
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._dress)

    def _restore(self) -> None:
        preferences = self.session.preferences
        self.resize(self.first_size())
        geometry = preferences.value("window/geometry")
        if isinstance(geometry, QByteArray):
            self.restoreGeometry(geometry)
        # Before it is shown: it would begin as large as the words of the rail need.
        self._fold()
        choice = str(preferences.value("window/look", theme.CHOICES[0]))
        self.choose_look(choice if choice in theme.CHOICES else theme.CHOICES[0])
        page = str(preferences.value("window/page", ""))
        self.go_to(page if page in self.pages else next(iter(self.pages)))
        self._focus_next_step()

    def first_size(self) -> QSize:
        """Return a size that fits the screen, less what its own frame and title take."""
        room = self.screen().availableGeometry().size()
        return QSize(min(em(112), room.width() - FRAME[0]), min(em(68), room.height() - FRAME[1]))

    def _page_made(self, page: Page) -> None:
        """Take in a page that was just made."""
        self.stack.addWidget(page)
        page.apply_theme(self.session.skin)
        for delegate in page.findChildren(SentenceDelegate):
            delegate.skin = self.session.skin
        page.step_changed.connect(self.show_step)
        page.go_to.connect(self.go_to)
        page.focus_next.connect(self._focus_next_step)

    def make_pages(self) -> None:
        """Make the pages that are not there yet, one at each turn while nothing else is to do."""
        if self.session.work.busy or self.pages.make_one():
            QTimer.singleShot(TURN_MS, self.make_pages)
        else:
            for page in self.pages.made():
                page.prepare()
        self.show_step()

    @property
    def keep(self) -> "KeepPage":
        """Return the page Keep, which does what the menu File says."""
        return cast("KeepPage", self.pages["keep"])

    @property
    def page(self) -> Page:
        """Return the page in front."""
        front = self.stack.currentWidget()
        assert isinstance(front, Page)
        return front

    def go_to(self, key: str) -> None:
        """Bring a page to the front."""
        page = self.pages[key]
        turned = self.page is not page
        if turned:
            self.page.left()
        self.stack.setCurrentWidget(page)
        self.sidebar.buttons[list(self.pages).index(key)].setChecked(True)
        self.page.shown()
        self.show_step()
        if turned:
            # Where the one before was scrolled to is no place of this one.
            self.room.verticalScrollBar().setValue(0)
            self.room.horizontalScrollBar().setValue(0)
        # Whoever walks the rail by keys stays there.
        if turned and not any(made.hasFocus() for made in self.sidebar.buttons):
            self._focus_next_step()

    def _focus_next_step(self) -> None:
        """Put the focus where the next step is: a field of the page, else the large button."""
        field, action = self.page.first_focus(), self.step_bar.action
        if field is not None and field.isEnabled() and field.isVisibleTo(self.page):
            field.setFocus()
        elif action.isVisibleTo(self) and action.isEnabled():
            action.setFocus()
        else:
            self.page.setFocus()

    def _fold(self) -> None:
        self.sidebar.fold(self.width() < em(FOLD_EMS))

    def _fill_recent(self) -> None:
        """Show the files opened last; which two of the same name are, their tips tell."""
        self.recent_menu.clear()
        self.recent_menu.setToolTipsVisible(True)
        paths = [Path(name) for name in self.session.recent_files.all()[:MENU_FILES]]
        for number, path in enumerate(paths, start=1):
            made = self._action(f"&{number} {path.name.replace('&', '&&')}",
                                partial(self.session.open, path))
            made.setToolTip(str(path))
            self.recent_menu.addAction(made)
        if not paths:
            self.recent_menu.addAction("None yet").setEnabled(False)

    def take_back(self) -> None:
        """Take the last change back, on the page where that is seen."""
        stack = self.session.undo
        self._see(stack.index() - 1)
        stack.undo()

    def do_again(self) -> None:
        """Make the change again that was taken back last, on the page where it is seen."""
        stack = self.session.undo
        self._see(stack.index())
        stack.redo()

    def _see(self, place: int) -> None:
        """Go to the page on which the change at this place of the stack is seen."""
        stack = self.session.undo
        if 0 <= place < stack.count():
            key = PAGES.get(stack.command(place).id(), self.page.key)
            # Whoever sweeps must keep seeing what to do.
            if key != self.page.key and self.session.bench.link.state != "recording":
                self.go_to(key)

    def choose_look(self, choice: str) -> None:
        """Wear light, dark, or what the system wears; remembered."""
        self.session.preferences.setValue("window/look", choice)
        self.look_actions[choice].setChecked(True)
        self._dress()

    def _dress(self) -> None:
        chosen = theme.skin_for(str(
            self.session.preferences.value("window/look", theme.CHOICES[0])))
        self.session.skin = chosen
        QApplication.setPalette(theme.palette(chosen))
        self.setStyleSheet(theme.style_sheet(chosen))
        self.sidebar.apply_theme(chosen)
        for delegate in self.findChildren(SentenceDelegate):
            delegate.skin = chosen
        for page in self.pages.made():
            page.apply_theme(chosen)

    def _act(self) -> None:
        step = self.page.safe_next_step()
        if step.enabled and not self.page.wrong:
            self.page.act()

    def show_step(self) -> None:
        step, action = self.page.safe_next_step(), self.step_bar.action
        had = action.hasFocus()
        self.step_bar.show_step(step.text, step.more, step.label, step.enabled, step.loud)
        # Qt would hand the focus to whatever comes next, were it the rail.
        if had and not (action.isVisibleTo(self) and action.isEnabled()):
            self._focus_next_step()
        self.state_bar.show_subject(self.page.subject() or on_show(self.session))
        for made, key in zip(self.sidebar.buttons, self.pages, strict=True):
            made.show_state(*self.pages.status(key))

    def _opened(self) -> None:
        name = self.session.path.name if self.session.path else "unsaved"
        self.setWindowTitle(f"{name} – Stillpedal")
        self.notice.leave(name)
        # Whoever sweeps must keep seeing what to do, whatever was dropped on the window.
        recording = self.session.bench.link.state == "recording"
        if self.page.key in ("keep", "sweep", "wire_up") and not recording:
            self.go_to("read")

    def _bring_in(self, path: Path) -> None:
        self.go_to("keep")
        self.keep.open_foreign(path)

    def _key_on_opened(self) -> None:
        path = self.session.key_on_path
        self.notice.leave(path.name if path is not None else "unsaved")
        if self.page.key in ("keep", "sweep", "wire_up", "read"):
            self.go_to("in_car")

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._fold()
        super().resizeEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _local_files(event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        files = _local_files(event.mimeData().urls())
        if files:
            event.acceptProposedAction()
            self.drop(files)

    def drop(self, files: list[Path]) -> None:
        """Open what was dropped; of two files the first is laid under the second.

        A folder is a job's, and is put on the page Proof.
        """
        two = len(files) > 1 and not files[0].is_dir()
        self.open_both(*((files[1], files[0]) if two else (files[0], None)))

    def open_job(self, folder: Path) -> None:
        """Put the job of a folder on the page Proof; a folder without one is named as such."""
        if self.session.bench.link.state == "recording":
            self.session.trouble(told.WAIT_FOR_RECORDING, "reading")
        elif not is_job(folder):
            self.session.trouble(told.no_job(folder.name), "reading")
        else:
            self.session.settled("reading")
            self.go_to("proof")
            cast("ProofPage", self.page).open_job(folder)

    def open_both(self, path: Path, before: Path | None) -> None:
        """Open a recording and, if there is one, lay an earlier one under it; a job's folder."""
        if path.is_dir():
            self.open_job(path)
            return
        self.session.open(path, then=None if before is None else
                          lambda: self.session.open_before(before))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.notice.isVisible():
            self.notice.hide()
        else:
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        self.session.preferences.setValue("window/geometry", self.saveGeometry())
        self.session.preferences.setValue("window/page", self.page.key)
        for page in self.pages.made():
            page.left()
            page.shut()
        self.session.work.cancel()
        self.session.bench.link.shut()
        super().closeEvent(event)


def _local_files(urls: list[QUrl]) -> list[Path]:
    return [Path(u.toLocalFile()) for u in urls if u.isLocalFile()]


