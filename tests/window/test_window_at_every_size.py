"""The window is whole on every common screen, with the usual font and with one twice as large."""

import pytest
from findings_by_hand import SAMPLES
from PySide6.QtCore import QPoint, QRect
from PySide6.QtGui import QFontDatabase, QFontInfo
from PySide6.QtWidgets import QApplication, QLabel, QScrollArea
from window_driver import close_for_good, open_file, shared_window

from bench.window.sizes import em
from bench.wording.cautions import BENCH

SIZES = [(1000, 700), (1366, 728), (1920, 1040)]
# WCAG 2.2, 1.4.4: text can be made twice as large without loss of content or function.
SCALES = (1.0, 2.0)
# Ten lines of text high, and as wide as two fields (common practice, no source).
LEAST_PLOT_EMS = (20.0, 10.0)


@pytest.fixture(scope="module", params=SCALES, ids=["usual font", "twice as large"])
def window(request, qapp, tmp_path_factory):
    """A window made with that size of the font, as the system would have it."""
    made = shared_window(tmp_path_factory.mktemp("sizes"), SIZES[1], request.param)
    usual = QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont)
    # The pages go by it, whatever was made before.
    assert em(10) == round(10 * QFontInfo(usual).pixelSize() * request.param)
    yield made
    close_for_good(made)
    QApplication.setFont(usual)


def in_window(window, made):
    return QRect(made.mapTo(window, QPoint(0, 0)), made.size())


@pytest.mark.parametrize("size", SIZES)
def test_nothing_of_the_shell_is_cut_on_any_page(qtbot, window, size):
    """The sentence, its button, the state bar and the rail stand in the window, whole."""
    path = SAMPLES / "synthetic_wiper_dropouts.csv"
    if window.session.path != path:
        open_file(qtbot, window, path)
    window.resize(*size)
    # Those with the longest sentences, and the one with the most to show.
    for key in ("read", "decide", "in_car"):
        window.go_to(key)
        QApplication.processEvents()
        assert window.size().toTuple() == size, key
        bar = window.step_bar
        for made in (bar.text, bar.more):
            if made.isVisible():
                assert made.height() >= made.heightForWidth(made.width()), (key, made.text())
        for made in (bar, bar.action, window.state_bar, window.state_bar.board,
                     window.sidebar.buttons[-1], window.room):
            if made.isVisible():
                assert window.rect().contains(in_window(window, made)), (key, made)
        # Beside the page there is always room for some of the page.
        assert window.room.height() >= size[1] / 5, key


def test_no_page_has_to_be_scrolled_sideways(qtbot, window):
    """WCAG 2.2, 1.4.10: with twice the font a page is read by scrolling one way only."""
    path = SAMPLES / "synthetic_wiper_dropouts.csv"
    if window.session.path != path:
        open_file(qtbot, window, path)
    window.resize(*SIZES[0])
    # As a page is while it is worked on: with what its cautions stand before.
    window.session.accept_cautions()
    window.session.accept_car_cautions()
    for key in window.pages:
        window.go_to(key)
        areas = (window.room, *window.page.findChildren(QScrollArea))

        def sideways(among=areas):
            return [(a.accessibleName(), a.horizontalScrollBar().maximum()) for a in among
                    if a.isVisible() and a.horizontalScrollBar().maximum()]

        for _ in range(20):
            QApplication.processEvents()
            if not sideways():
                break
        assert not sideways(), (key, sideways())
        # From its head on, wherever the page before was scrolled to.
        assert window.room.verticalScrollBar().value() == 0, key
        window.room.verticalScrollBar().setValue(window.room.verticalScrollBar().maximum())


def test_a_log_in_the_car_is_whole_at_its_least_width(window):
    """While it runs nothing is cut sideways, the window stays on its screen, and no state is cut
    so that it says the opposite.

    No outside source: the promise is the project's own.
    """
    window.resize(*SIZES[2])
    QApplication.processEvents()
    window.resize(*SIZES[0])
    bar, page = window.state_bar, window.pages["in_car"]
    window.go_to("in_car")
    usual = page.stack.currentIndex()
    page.live.begin(3)
    page.live.now.show()
    page.live.mark.hide()
    page.stack.setCurrentWidget(page.live)
    for made, text in ((bar.board, "simulated 12-bit board: live"),
                       (bar.values, "values not saved"),
                       (bar.recording, "● Logging 0:10, 11 080 rows")):
        made.setText(text)
        made.show()
    try:
        for _ in range(20):
            QApplication.processEvents()
        # Told to be small at once, it is: its least height is no larger while it has its words.
        assert window.size().toTuple() == SIZES[0]
        assert window.room.horizontalScrollBar().maximum() == 0
        foot = page.live.foot
        for made in (page.live.cycle, page.live.sound, page.live.now, page.live.stop):
            assert foot.rect().contains(QRect(made.mapTo(foot, QPoint(0, 0)), made.size()))
        assert bar.values.shown.startswith("values not")
        assert "0:10" in bar.recording.shown
        assert bar.board.shown.endswith("live")
    finally:
        page.stack.setCurrentIndex(usual)
        bar.recording.setText("")
        bar.recording.hide()
        bar.show_values()


def test_the_large_plot_is_large_at_every_size(qtbot, window):
    """Beside its words or below them, the plot keeps the room that its axes and curves need."""
    path = SAMPLES / "synthetic_wiper_dropouts.csv"
    if window.session.path != path:
        open_file(qtbot, window, path)
    window.go_to("read")
    for size in SIZES:
        window.resize(*size)
        QApplication.processEvents()
        desk = window.pages["read"].desk
        assert desk.view.height() >= em(LEAST_PLOT_EMS[1]), size
        assert desk.view.width() >= em(LEAST_PLOT_EMS[0]), size


def test_it_starts_as_large_as_the_screen_allows(window):
    """The first size leaves room for the window's own frame and the panel of the system."""
    room = window.screen().availableGeometry()
    first = window.first_size()
    assert first.width() <= room.width()
    assert first.height() <= room.height() - 30


@pytest.mark.parametrize("size", [*SIZES, (992, 650)])
def test_no_caution_is_cut(qtbot, window, size):
    """1000 x 700 less the frame of a window too: what may hurt is read whole, at any width."""
    window.resize(*size)
    window.go_to("wire_up")
    page = window.pages["wire_up"]
    lines = page.caution_lines.findChildren(QLabel)
    assert len(lines) == len(BENCH)
    qtbot.waitUntil(lambda: not [made.text() for made in lines
                                 if made.height() < made.heightForWidth(made.width())],
                    timeout=2000)
    kind, use = page.kinds.values()
    kind.setCurrentIndex(kind.findData("rheostat"))
    qtbot.waitUntil(lambda: kind.geometry().bottom() + 4 < use.geometry().top()
                    and use.geometry().bottom() + 4 < page.card.known.geometry().top(),
                    timeout=2000)
    kind.setCurrentIndex(0)
