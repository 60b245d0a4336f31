"""Nothing moves the page, and what is told no longer than it holds."""

import pytest
from findings_by_hand import SAMPLES
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QLineEdit
from recorded_sweeps import swept
from window_driver import PATIENCE_MS, open_file, press, served_pedal

from analysis.pedal.findings import analyse
from bench.acquisition.boards.pty_server import can_serve
from bench.window.field_trouble import FieldTrouble
from bench.window.pages.page import NextStep


@pytest.fixture
def opened(qtbot, window):
    """The window with a sweep on show and nothing told."""
    if window.session.path != SAMPLES / "synthetic_off_at_rest.csv":
        open_file(qtbot, window, SAMPLES / "synthetic_off_at_rest.csv")
    window.notice.hide()
    return window


def stands(window):
    """Where the page lies in the window, and how large it is."""
    return window.room.mapTo(window, QPoint(0, 0)), window.room.size()


@pytest.mark.parametrize("size", [(1000, 700), (1366, 700), (1920, 1000)])
def test_no_notice_question_or_sentence_moves_the_page(qtbot, opened, size):
    """Whatever is told, asked, or being worked on: the page keeps its place and its size."""
    window = opened
    window.resize(*size)
    window.go_to("keep")
    qtbot.waitUntil(lambda: window.size().toTuple() == size, timeout=PATIENCE_MS)
    qtbot.wait(1)
    before = stands(window)
    long_one = "The recording had been cut short; every whole row of it is used. " * 4
    window.session.notify("Copied.", "good")
    assert stands(window) == before
    window.session.notify(long_one, "mend")
    qtbot.wait(1)
    assert stands(window) == before
    assert window.notice.text.height() >= window.notice.text.heightForWidth(
        window.notice.text.width())
    window.session.asked.emit(long_one, (("Import", list), ("Cancel", list)))
    qtbot.wait(1)
    assert stands(window) == before
    for made in window.notice.answers:
        assert window.notice.rect().contains(made.geometry())
    window.session.stop_asking()
    window.work_bar.begin("Reading a file with a long name.csv")
    qtbot.wait(1)
    assert stands(window) == before
    window.work_bar.end()
    for step in (NextStep(""), NextStep("Save.", "", "Save"),
                 NextStep("Repair before driving: track b rests 159 mV further towards pressed "
                          "than track a, 4.8 % of its travel.", "Turn or trim track b. " * 5,
                          "Decide what to set"),
                 NextStep("Foot off the pedal.", "Press 3 of 8", "Stop and keep", loud=True)):
        window.step_bar.show_step(step.text, step.more, step.action, step.enabled, step.loud)
        qtbot.wait(1)
        assert stands(window) == before, step.text


def test_long_words_are_set_smaller_and_never_cut(qtbot, opened):
    """A sentence too long for any size makes its room higher rather than lose a word."""
    bar = opened.step_bar
    for count in (1, 5, 12, 30):
        bar.show_step("Do not drive with this pedal now. " * count, "Repair it. " * 12, "Go", True,
                      False)
        qtbot.wait(1)
        for made in (bar.text, bar.more):
            assert made.height() >= made.heightForWidth(made.width())
            assert bar.rect().contains(made.geometry())


def test_what_stands_below_a_sentence_is_shortened_rather_than_move_the_page(qtbot, opened):
    """However long it is; the whole of it is in the tip and told to screen readers."""
    opened.resize(1000, 700)
    qtbot.waitUntil(lambda: opened.size().toTuple() == (1000, 700), timeout=PATIENCE_MS)
    qtbot.wait(50)
    bar, more = opened.step_bar, "Turn or trim track b, or give each track its own start. " * 9
    bar.show_step("Save.", "", "Save", True, False)
    qtbot.wait(50)
    before = stands(opened)
    bar.show_step("Repair before driving: track b rests 159 mV further towards pressed than track "
                  "a, 4.8 % of its travel.", more, "Go", True, False)
    qtbot.wait(1)
    assert stands(opened) == before
    assert bar.more.text().endswith(" …")
    assert more.startswith(bar.more.text().removesuffix(" …"))
    assert bar.more.toolTip() == bar.more.accessibleDescription() == more
    assert bar.more.height() >= bar.more.heightForWidth(bar.more.width())


def test_saved_falls_away_with_the_first_change_and_returns_with_undo(qtbot, opened):
    """The moment a value changes, "saved" is no longer said anywhere; taken back, it is again."""
    window = opened
    window.go_to("keep")
    assert window.state_bar.values.text() == "values not saved"
    path = window.session.path
    kept = path.with_name("kept.txt")
    window.session.note_saved(kept)
    assert window.state_bar.values.text() == "values saved"
    assert window.notice.isVisible()
    window.session.set_parameters(margin_volts=0.017)
    assert window.state_bar.values.text() == "values changed since saved"
    assert not window.notice.isVisible()
    assert not window.pages["keep"].safe_status().done
    assert "kept.txt" not in window.step_bar.text.text()
    window.session.undo.undo()
    assert window.state_bar.values.text() == "values saved"
    window.session.take(analyse(swept("healthy").recording), None)
    assert window.state_bar.values.text() == "values not saved"


def test_trouble_leaves_when_its_matter_is_settled(qtbot, opened):
    """What was wrong is not told any longer than it is wrong; other trouble stays."""
    session, notice = opened.session, opened.notice
    session.trouble("The board does not answer.", "board")
    session.settled("reading")
    assert notice.isVisible()
    session.settled("board")
    assert not notice.isVisible()
    session.trouble("The disk is full.")
    session.settled("board")
    assert notice.isVisible()
    qtbot.keyClick(opened, Qt.Key.Key_Escape)
    assert not notice.isVisible()


@pytest.mark.parametrize("make", [QLineEdit, QDoubleSpinBox, QComboBox])
def test_what_is_wrong_stands_beside_its_field_until_it_is_another(qtbot, window, make):
    """The field is marked, a screen reader told; the first change of the value clears both."""
    field = make()
    field.setAccessibleName("Full scale")
    if isinstance(field, QComboBox):
        field.setEditable(True)
    trouble = FieldTrouble(field)
    for made in (field, trouble):
        qtbot.addWidget(made)
        made.show()
    high = trouble.height()
    trouble.say("0 is no full scale: give the reading at the reference.", focus=False)
    assert trouble.wrong
    assert field.property("wrong")
    assert "no full scale" in field.accessibleDescription()
    qtbot.keyClicks(field, "4")
    assert not trouble.wrong
    assert not field.property("wrong")
    assert not field.accessibleDescription()
    assert trouble.isVisible()
    assert trouble.height() == high


@pytest.mark.skipif(not can_serve(), reason="needs pseudo terminals")
def test_the_state_bar_tells_live_from_frozen(qtbot, window):
    """Live while rows come; a board that falls silent is told within two seconds or so."""
    state, bar = window.session.board_state, window.state_bar
    replaced = []
    state.replaced.connect(lambda: replaced.append(True))
    window.session.accept_cautions()
    assert bar.board.text() == "No board"
    with served_pedal() as server:
        page = window.pages["wire_up"]
        page.board.setCurrentText(server.port)
        page.connect_board()
        qtbot.waitUntil(lambda: bar.board.text().endswith(": live"), timeout=PATIENCE_MS)
        assert state.fresh
        assert not state.frozen
        assert replaced == [True]
        window.session.bench.link.recorder.board.read = lambda: b""
        qtbot.waitUntil(lambda: "numbers frozen" in bar.board.text(), timeout=PATIENCE_MS)
        assert state.frozen
        assert not state.fresh
        window.session.bench.disconnect_board()
    assert bar.board.text() == "No board"
    press(qtbot, window.sidebar.buttons[0])
