"""Everyday habits: keys, focus, recent files, a file dropped in, names for who cannot see."""

import re

import pytest
from findings_by_hand import SAMPLES
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QMenu,
    QPlainTextEdit,
    QSlider,
)
from recorded_sweeps import swept
from window_driver import link_is, open_file, wait_opened

from bench.window.page_table import TABLE
from bench.window.pages.page import NextStep

ONE = SAMPLES / "synthetic_off_at_rest.csv"
OTHER = SAMPLES / "synthetic_healthy_pair.csv"
CONTROLS = (QAbstractButton, QComboBox, QSlider, QAbstractSpinBox, QAbstractItemView,
            QPlainTextEdit, QLineEdit)


@pytest.fixture
def opened(qtbot, window):
    """The window with one file opened after another, on the page Read."""
    if window.session.path != ONE:
        open_file(qtbot, window, OTHER)
        open_file(qtbot, window, ONE)
    window.go_to("read")
    return window


def focused(window):
    return window.focusWidget()


def controls(place):
    """The controls a person can use there, whole ones: the field of a combo box is part of it."""
    return [w for kind in CONTROLS for w in place.findChildren(kind)
            if w.focusPolicy() != Qt.FocusPolicy.NoFocus
            and not isinstance(w.parent(), QComboBox | QAbstractSpinBox)
            and not w.objectName().startswith("qt_")
            and not w.parent().inherits("QComboBoxPrivateContainer")
            and not isinstance(w.window(), QMenu)]


def test_the_rail_is_a_table_of_the_pages(window):
    """What the rail says of a page that was not made yet is what the page says itself."""
    for key, entry in TABLE.items():
        page = window.pages[key]
        assert (page.key, page.title) == (key, entry.title)


def test_the_focus_goes_where_the_next_step_is(qtbot, opened):
    """A page that comes to the front has the focus on its next step; Enter or Space does it."""
    window = opened
    for key in ("decide", "keep", "read"):
        qtbot.mouseClick(window.sidebar.buttons[list(TABLE).index(key)], Qt.MouseButton.LeftButton)
        assert window.page.key == key
        field = window.page.first_focus()
        assert focused(window) is (field or window.step_bar.action)
    qtbot.keyClick(focused(window), Qt.Key.Key_Space)
    assert window.page.key == "decide"


def test_the_keys_of_a_page_work_wherever_the_focus_is(qtbot, opened):
    """Ctrl+C copies what the page in front has, with the focus still on the large button."""
    window, board = opened, QApplication.clipboard()
    for key, copied in (("read", "Track b"), ("decide", "0.")):
        window.go_to(key)
        board.setText("")
        qtbot.keyClick(window.step_bar.action, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
        assert copied in board.text(), key


def test_keys_walk_the_rail_and_stay_there(qtbot, opened):
    """Arrow keys on the rail go from page to page; Tab leaves it for the next step."""
    window = opened
    window.sidebar.buttons[2].setFocus()
    qtbot.keyClick(focused(window), Qt.Key.Key_Down)
    assert window.page.key == "decide"
    assert focused(window) is window.sidebar.buttons[3]
    qtbot.keyClick(focused(window), Qt.Key.Key_Tab)
    assert focused(window) is window.step_bar.action


def test_the_focus_stays_with_the_work(qtbot, opened):
    """When the large button goes away the page has the focus, never the rail or nothing."""
    window = opened
    bar = window.step_bar
    bar.action.setFocus()
    usual = window.page.next_step
    window.page.next_step = lambda: NextStep("Recording: press 1 of 12.")
    try:
        window.page.step_changed.emit()
        assert not bar.action.isVisible()
        assert focused(window) is (window.page.first_focus() or window.page)
    finally:
        window.page.next_step = usual
    window.page.step_changed.emit()
    assert bar.action.isVisible()


@pytest.mark.parametrize("key", list(TABLE))
def test_tab_reaches_every_control_and_comes_back(qtbot, opened, key):
    """From the next step on, Tab goes through all that can be used on the page, and round."""
    window = opened
    window.go_to(key)
    QApplication.processEvents()
    wanted = {w for w in controls(window.page) if w.isVisible() and w.isEnabled()
              and w.focusPolicy() & Qt.FocusPolicy.TabFocus}
    seen, here = set(), window.step_bar.action
    here.setFocus()
    for _ in range(400):
        window.focusNextChild()
        here = focused(window)
        if here in seen:
            break
        seen.add(here)
    groups = {w for w in wanted if isinstance(w, QAbstractButton) and w.group() is not None}
    assert not [(type(w).__name__, w.accessibleName()) for w in wanted - seen - groups]


@pytest.mark.parametrize("key", list(TABLE))
def test_no_two_letters_do_different_things(opened, key):
    """No letter of Alt stands twice on a page, nor on a page and in the menus."""
    window = opened
    window.go_to(key)
    texts = [a.text() for a in window.menuBar().actions()]
    texts += [w.text() for w in (window.step_bar.action, *window.page.findChildren(
        QAbstractButton), *window.notice.answers) if w.isVisible()]
    texts += [w.text() for w in window.page.findChildren(QLabel) if w.isVisible() and w.buddy()]
    letters = [m.lower() for text in texts for m in re.findall(r"&(\w)", text)]
    assert len(letters) == len(set(letters)), sorted(letters)


def test_every_control_has_a_name_for_who_cannot_see(opened):
    """Every widget of the window that can be used, on every page, says what it is."""
    window = opened
    window.session.bench.edits.begin(swept("healthy").recording.channels)
    for key in window.pages:
        window.go_to(key)
    nameless = [w for w in controls(window) if not w.accessibleName()
                and not (isinstance(w, QAbstractButton) and w.text())]
    assert not [(type(w).__name__, w.objectName(), w.parent()) for w in nameless]


def test_what_is_told_is_announced(opened):
    """The sentence, the state and a notice are there for a screen reader as they are on show."""
    window = opened
    window.session.notify("Copied.", "good")
    assert window.notice.text.accessibleDescription() == "Copied."
    assert window.step_bar.text.accessibleDescription() == window.step_bar.text.text()
    assert window.state_bar.file.accessibleName()


def test_recent_files_are_in_the_menu(qtbot, opened):
    """The newest stands first; picking one opens it."""
    window = opened
    window.recent_menu.aboutToShow.emit()
    names = [a.text() for a in window.recent_menu.actions()]
    assert names[:2] == [f"&1 {ONE.name}", f"&2 {OTHER.name}"]
    window.recent_menu.actions()[1].trigger()
    wait_opened(qtbot, window, OTHER)


def drop(window, *paths):
    """Let go of files over the window, as a file manager does."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(p)) for p in paths])
    event = QDropEvent(QPointF(400, 300), Qt.DropAction.CopyAction, data,
                       Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)
    window.dropEvent(event)
    return event.isAccepted()


def test_a_job_dragged_in_stands_on_the_page_proof(qtbot, opened, tmp_path):
    """A job is a folder: it is opened as one, and a folder without a job is told to be none."""
    window = opened
    assert drop(window, tmp_path)
    assert tmp_path.name in window.notice.text.text()
    assert "Is a directory" not in window.notice.text.text()
    assert drop(window, SAMPLES / "job_with_a_loose_plug")
    assert window.page.key == "proof"
    assert not window.notice.isVisible()
    qtbot.waitUntil(lambda: window.page.proofs is not None, timeout=30_000)
    assert window.page.desk.folder == SAMPLES / "job_with_a_loose_plug"


def test_a_file_dragged_in_is_opened(qtbot, opened):
    """One file is opened; of two, the first is laid under the second."""
    window = opened
    assert drop(window, OTHER)
    wait_opened(qtbot, window, OTHER)
    assert window.page.key == "read"
    drop(window, OTHER, ONE)
    wait_opened(qtbot, window, ONE)
    qtbot.waitUntil(lambda: window.session.before_path == OTHER, timeout=30_000)
    window.session.take_before(None, None)


def test_only_files_may_be_dropped(opened):
    """A word or a page of the web dragged over the window is not taken, and opens nothing."""
    window = opened
    for urls, taken in (([QUrl.fromLocalFile(str(OTHER))], True),
                        ([QUrl("https://example.org/a.csv")], False), ([], False)):
        data = QMimeData()
        data.setUrls(urls)
        event = QDragEnterEvent(QPoint(400, 300), Qt.DropAction.CopyAction, data,
                                Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)
        event.ignore()
        window.dragEnterEvent(event)
        assert event.isAccepted() is taken
    assert not drop(window)
    assert not window.session.work.busy


def test_an_empty_list_of_recent_files_says_so(opened):
    window, recent = opened, opened.session.recent_files
    recent.forget()
    window.recent_menu.aboutToShow.emit()
    action, = window.recent_menu.actions()
    assert (action.text(), action.isEnabled()) == ("None yet", False)
    window.take_back()
    # The change is seen on Keep, so the window went there; what is not there is not taken back.
    assert window.page.key == "keep"
    assert str(ONE.resolve()) in recent.all()
    window.session.undo.clear()
    window.take_back()
    window.do_again()
    assert window.page.key == "keep"


def test_undoing_never_takes_whoever_sweeps_away_from_what_to_do(opened, monkeypatch):
    """While it records the page stays; the change is taken back all the same."""
    window, recent = opened, opened.session.recent_files
    recent.forget()
    window.go_to("sweep")
    link_is(window, monkeypatch, state="recording", purpose="sweep")
    window.take_back()
    assert window.page.key == "sweep"
    assert recent.all()
