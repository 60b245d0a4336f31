"""Wire up: a silent board is told as such, numbers that stand still are no numbers, and nothing
that was filled in beforehand counts before somebody looked at it."""

import os

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QApplication, QDoubleSpinBox
from window_driver import PATIENCE_MS, open_window, press, served_pedal

from bench.acquisition import recorder
from bench.acquisition.boards.pty_server import can_serve
from bench.acquisition.listener import Rows

pytestmark = pytest.mark.skipif(not can_serve(), reason="needs pseudo terminals")


def connected(qtbot, window, port):
    page = window.pages["wire_up"]
    window.go_to("wire_up")
    window.session.accept_cautions()
    page.board.setCurrentText(port)
    press(qtbot, page.connect_button)
    qtbot.waitUntil(lambda: window.session.board_state.kind == "live", timeout=PATIENCE_MS)
    return page


def test_no_board_is_chosen_for_anybody(qtbot, tmp_path):
    """At the first start the field is empty: a simulated pedal must not pass for one's own."""
    window = open_window(qtbot, tmp_path)
    page = window.pages["wire_up"]
    window.session.accept_cautions()
    assert page.board.currentText() == ""
    assert not window.step_bar.action.isEnabled()
    page.connect_board()
    assert page.board_trouble.wrong
    assert window.session.bench.link.state == "idle"
    window.go_to("senders")
    assert (window.step_bar.text.text(), window.step_bar.action.text()) == (
        "Choose a board first.", "Wire up")


def test_wired_up_is_ticked_once_every_track_has_moved(qtbot, tmp_path):
    """That a board sends proves no wire to the pedal; and the focus goes to the next step."""
    window = open_window(qtbot, tmp_path)
    page = window.pages["wire_up"]
    window.go_to("wire_up")
    window.session.accept_cautions()
    page.board.setFocus()
    page.board.setCurrentText("simulated")
    qtbot.keyClick(page.board.lineEdit(), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window.session.board_state.kind == "live", timeout=PATIENCE_MS)
    page.timer.stop()
    page.rows.forget_extremes()
    window.show_step()
    assert window.step_bar.text.text() == "Press the pedal: both tracks should move."
    assert not page.status().done
    assert QApplication.focusWidget() is window.step_bar.action
    page.rows.low[:], page.rows.high[:] = 0.0, 4.0
    assert page.status().done


def test_what_a_field_is_for_can_be_read_in_it(qtbot, tmp_path):
    """WCAG 2.2, 1.4.3: the words in an empty field have the contrast of other quiet words."""
    window = open_window(qtbot, tmp_path)
    field = window.pages["wire_up"].board.lineEdit()
    field.ensurePolished()
    for skin in ("light", "dark"):
        window.choose_look(skin)
        shown = field.palette().color(QPalette.ColorRole.PlaceholderText)
        assert shown.name() == window.session.skin.quiet
        assert shown.alpha() == 255


def test_a_silent_board_is_told_as_such(qtbot, tmp_path, monkeypatch):
    """A port from which not a byte comes: named as silent, with its port and what to check."""
    monkeypatch.setattr(recorder, "SILENT_S", 0.3)
    ours, theirs = os.openpty()
    try:
        window = open_window(qtbot, tmp_path)
        page = window.pages["wire_up"]
        window.session.accept_cautions()
        page.board.setCurrentText(os.ttyname(theirs))
        page.connect_board()
        qtbot.waitUntil(lambda: window.step_bar.text.text() == "The board is silent.",
                        timeout=PATIENCE_MS)
        more = window.step_bar.more.text()
        assert os.ttyname(theirs) in more
        for what in ("powered", "port", "sketch", "speed"):
            assert what in more
        assert "not a byte" in page.board_trouble.text().lower()
    finally:
        os.close(ours)
        os.close(theirs)


def test_numbers_that_stand_still_are_dashes_and_extremes_start_anew(qtbot, tmp_path):
    window = open_window(qtbot, tmp_path)
    with served_pedal("healthy") as server:
        page = connected(qtbot, window, server.port)
        row = page.rows.rows[0]
        qtbot.waitUntil(lambda: row.volts.text().endswith("\N{NO-BREAK SPACE}V"),
                        timeout=PATIENCE_MS)
        qtbot.waitUntil(lambda: not page.rows.unmoved, timeout=PATIENCE_MS)
        server.unplug()
        qtbot.waitUntil(lambda: row.volts.text() == "–", timeout=PATIENCE_MS)
        assert row.volts.property("frozen")
        assert np.isnan(row.bar.level)
        server.plug()
        qtbot.waitUntil(lambda: row.volts.text().endswith("V"), timeout=PATIENCE_MS)
        assert not row.volts.property("frozen")
        press(qtbot, page.disconnect_button)
        page.connect_board()
        # Another pedal may hang there now: what the one before did is forgotten at once.
        assert page.rows.unmoved == ("a", "b")


def test_remembered_inputs_are_looked_at_before_a_sweep(qtbot, tmp_path):
    """What was said of a board last time fills the rows in; it counts when it was confirmed."""
    window = open_window(qtbot, tmp_path)
    with served_pedal("healthy") as server:
        page = connected(qtbot, window, server.port)
        qtbot.waitUntil(lambda: bool(page.rows.rows), timeout=PATIENCE_MS)
        assert not page.recalled.isVisible()
        page.rows.rows[0].name.setText("upper")
        page.rows.rows[0].name.editingFinished.emit()
        window.close()
        again = open_window(qtbot, tmp_path)
        page = connected(qtbot, again, server.port)
        qtbot.waitUntil(lambda: page.recalled.isVisible(), timeout=PATIENCE_MS)
        assert again.step_bar.text.text() == "Are the inputs still what they were?"
        again.go_to("sweep")
        assert again.step_bar.text.text() == "Look at the inputs first."
        assert again.step_bar.action.text() == "Wire up"
        again.go_to("wire_up")
        press(qtbot, page.right)
        assert not page.recalled.isVisible()
        again.go_to("sweep")
        qtbot.waitUntil(lambda: again.step_bar.action.text() == "Start the sweep",
                        timeout=PATIENCE_MS)


def test_a_track_that_does_not_move_is_named(qtbot, tmp_path):
    """Rows as a board sends them: track a goes through 3 V, track b stands still."""
    window = open_window(qtbot, tmp_path)
    with served_pedal("healthy") as server:
        page = connected(qtbot, window, server.port)
        qtbot.waitUntil(lambda: bool(page.rows.rows), timeout=PATIENCE_MS)
        link, count = window.session.bench.link, len(page.rows.rows)
        page.timer.stop()
        link.take()
        readings = np.full((50, count), 700)
        readings[:, 0] = np.linspace(700, 3200, 50)
        page.rows.forget_extremes()
        link.tap.pieces.clear()
        link.tap.pieces.append(Rows(np.arange(50) / 500.0, readings, np.zeros(50, np.int64)))
        page.paint_readings()
        assert page.next_step().text == "Track b has not moved yet."


def test_an_unstated_supply_is_not_stated_by_passing_through(qtbot, tmp_path):
    """Opening the fields of an input and leaving them changes nothing."""
    window = open_window(qtbot, tmp_path)
    with served_pedal("healthy") as server:
        page = connected(qtbot, window, server.port)
        qtbot.waitUntil(lambda: len(page.rows.rows) == 3, timeout=PATIENCE_MS)
        before = window.session.bench.edits.channels
        press(qtbot, page.rows.rows[2].more)
        for field in page.rows.details.findChildren(QDoubleSpinBox):
            field.setFocus()
            field.clearFocus()
        assert window.session.bench.edits.channels == before
        assert not window.session.bench.edits.edited
