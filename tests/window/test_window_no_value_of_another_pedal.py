"""No value of another pedal ever stands on a page, whatever was recorded or goes wrong."""

import re
from dataclasses import replace

import pytest
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QDoubleSpinBox, QLabel, QTableWidget
from recorded_sweeps import swept
from window_driver import PATIENCE_MS, cleared, open_file, open_window, start_label, target_field

from analysis.model.recording import Recording
from bench.files.recording_file import write_recording
from bench.window.figure_view import FigureView
from bench.window.pages import decide as decide_page
from bench.window.pages import keep as keep_page
from bench.window.pages import read as read_page

NO_NUMBER = re.compile(r"\b(nan|inf)\b", re.IGNORECASE)


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    """A sweep stopped after a press or two, as Ctrl-C after a few seconds leaves it."""
    made = swept("off-at-rest", seed=2)
    rows = int((made.recording.time_s < 12.0).sum())
    path = tmp_path_factory.mktemp("short") / "short.csv"
    write_recording(path, Recording(
        made.recording.time_s[:rows],
        tuple(replace(c, readings=c.readings[:rows]) for c in made.recording.channels),
        rate_hz=500.0))
    return path


def texts(page):
    """Return every text a person sees on a page: labels, tables, number fields."""
    shown = [w.text() for w in page.findChildren(QLabel) if w.isVisible()]
    shown += [w.text() for w in page.findChildren(QDoubleSpinBox) if w.isVisible()]
    for table in page.findChildren(QTableWidget):
        shown += [table.item(r, c).text() for r in range(table.rowCount())
                  for c in range(table.columnCount()) if table.isVisible()]
    for view in page.findChildren(FigureView):
        if view.isVisible():
            shown += [text for axis in ("left", "bottom")
                      for ticks in view.plot.getAxis(axis)._tickLevels or ()
                      for _, text in ticks]
            shown.append(view.plot.titleLabel.text)
    return shown


def numbers(page):
    """Return the volts to three decimals that stand on a page."""
    return {found for text in texts(page) for found in re.findall(r"\d\.\d{3} V", text)}


def test_a_short_sweep_shows_nothing_of_the_pedal_before(qtbot, window, sound, short):
    """What the sweep does not suffice for is said in words: no old value, no nan, no inf."""
    open_file(qtbot, window, sound)
    window.go_to("decide")
    page, session = window.pages["decide"], window.session
    old = {text for text in page.values.table.shown().values() if text.endswith(" V")}
    assert len(old) > 6
    open_file(qtbot, window, short)
    assert all(len(t.rest_levels) < 3 for t in session.findings.tracks.values())
    assert page.wrong == ""
    rows = page.values.table.shown()
    assert rows["start of travel, a"] == rows["start of travel, b"] == "not known"
    assert [start_label(page, c).text() for c in "ab"] == ["not known", "not known"]
    wanted = {f"{s.value:.3f} V" for s in session.findings.settings}
    assert not (old - wanted) & numbers(page)
    for title in ("read", "decide", "keep"):
        window.go_to(title)
        qtbot.waitUntil(window.pages[title].isVisible, timeout=PATIENCE_MS)
        assert not [t for t in texts(window.pages[title]) if NO_NUMBER.search(t)]
        said = [window.pages[title].safe_status(), window.step_bar.text.text()]
        assert not NO_NUMBER.search(str(said))
        assert window.pages[title].safe_status()[1] is False
    read = window.pages["read"]
    for row in range(read.sentences.count()):
        each = read.sentences.said_of(read.sentences.item(row))
        if each is None:
            continue
        assert not NO_NUMBER.search(f"{each.sentence} {each.evidence}")


def test_a_short_sweep_opened_first_is_shown_as_well(qtbot, tmp_path, short):
    """No earlier recording is needed to show that nothing is known."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, short)
    window.go_to("decide")
    assert window.step_bar.action.text() == "Sweep again"
    assert not [t for t in texts(window.pages["decide"]) if NO_NUMBER.search(t)]


BROKEN = {
    "read": (read_page.ReadPage, "_fill_faults"),
    "decide": (decide_page.DecidePage, "_show_track"),
    "keep": (keep_page.KeepPage, "_enable"),
}


@pytest.mark.parametrize("title", BROKEN)
def test_a_page_that_fails_to_refresh_is_empty_and_says_so(qtbot, window, monkeypatch, sound,
                                                           short, title):
    """Whatever goes wrong, the page holds no value, no picture, nothing to press."""
    open_file(qtbot, window, sound)
    window.go_to(title)
    page = window.pages[title]
    do_what_it_says = next(a for a in window.findChildren(QAction)
                           if a.shortcut() == QKeySequence("Ctrl+Return"))
    usual = getattr(*BROKEN[title])

    def fail(self, *args):
        if title != "keep" or not args:
            raise ZeroDivisionError("made up\nby a test")
        return usual(self, *args)

    with qtbot.capture_exceptions() as seen:
        monkeypatch.setattr(*BROKEN[title], fail)
        open_file(qtbot, window, short)
        window.go_to(title)
        assert window.step_bar.text.text() == "This recording cannot be shown here."
        assert "ZeroDivisionError: made up by a test" in window.step_bar.more.text()
        assert not window.step_bar.action.isVisible()
        assert "\n" not in window.notice.text.text()
        assert "made up by a test" in window.notice.text.text()
        assert page.safe_status() == ("cannot be shown", False)
        assert not (numbers(page) - {f"{window.session.parameters.margin_volts:.3f} V",
                                     f"{window.session.parameters.car_allowance_volts:.3f} V"})
        assert not any(view.plot.items for view in page.findChildren(FigureView)
                       if view.isVisible())
        do_what_it_says.trigger()  # Ctrl+Enter has nothing to do either
        assert window.page is page
    assert [kind for kind, *_ in seen] == [ZeroDivisionError] * len(seen)
    assert seen  # also told on the terminal, where it can be mended
    # The next recording is shown as if nothing had happened.
    monkeypatch.undo()
    open_file(qtbot, window, sound)
    window.go_to(title)
    assert page.wrong == ""
    assert window.step_bar.text.text() != "This recording cannot be shown here."


def test_with_no_value_there_is_nothing_to_copy(qtbot, tmp_path, sound):
    """The button to copy is dead, and Ctrl+C leaves the clipboard alone, until there is a value."""
    window = open_window(qtbot, tmp_path)
    window.go_to("decide")
    page = window.pages["decide"]
    QGuiApplication.clipboard().setText("before")
    assert not page.values.copy_button.isEnabled()
    page.values.copy()
    assert QGuiApplication.clipboard().text() == "before"
    open_file(qtbot, window, sound)
    window.go_to("decide")
    assert page.values.copy_button.isEnabled()


def test_a_target_that_was_not_found_shows_no_earlier_one(qtbot, window, sound):
    """A field whose level is not known says so instead of keeping what stood there."""
    open_file(qtbot, window, sound)
    window.go_to("decide")
    field = target_field(window.pages["decide"], "rest of a")
    assert re.fullmatch(r"\d\.\d{3} V", field.field.text())
    field.show_value(None, float("nan"))
    assert field.field.text() == "not known"
