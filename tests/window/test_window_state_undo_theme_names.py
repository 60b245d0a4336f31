"""What the window remembers, takes back, looks like, and says to screen readers."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QPlainTextEdit,
)
from recorded_sweeps import swept
from window_driver import cleared, figures_of, open_file, open_window, wait_opened


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


def test_state_is_remembered(qtbot, tmp_path, sound):
    """Parameters, look, page, board, channel names and recent files are there the next time."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    window.session.set_parameters(margin_volts=0.033)
    window.choose_look("dark")
    window.go_to("decide")
    window.close()
    again = open_window(qtbot, tmp_path)
    assert again.session.parameters.margin_volts == pytest.approx(0.033)
    assert again.session.skin.look.name == "dark"
    assert again.page is again.pages["decide"]
    assert again.session.recent_files.all() == [str(sound)]
    recent = again.pages["keep"].recent
    again.go_to("keep")
    recent.setCurrentRow(0)
    recent.setFocus()
    qtbot.keyClick(recent, Qt.Key.Key_Return)
    wait_opened(qtbot, again, sound)


def test_channel_edits_are_undone_and_redone(qtbot, tmp_path):
    """Ctrl+Z takes the last channel edit back; two channels never share a name."""
    window = open_window(qtbot, tmp_path)
    edits = window.session.bench.edits
    edits.begin(swept("healthy").recording.channels)
    assert edits.edit(0, "column", "upper") is None
    assert edits.edit(1, "role", "position") is None
    assert "called 'upper'" in edits.edit(1, "column", "upper")
    qtbot.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert [c.role for c in edits.channels[:2]] == ["track", "track"]
    qtbot.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert edits.channels[0].column == "a"
    edits.undo_stack.redo()
    assert edits.channels[0].column == "upper"
    assert edits.options().columns == ("upper", "b", "supply")


def test_ctrl_z_in_the_name_field_takes_the_edit_back(qtbot, tmp_path):
    """With the cursor still in the field, Ctrl+Z undoes the edit of the channel, not the typing."""
    window = open_window(qtbot, tmp_path)
    edits = window.session.bench.edits
    edits.begin(swept("healthy").recording.channels)
    window.go_to("wire_up")
    name = window.pages["wire_up"].rows.rows[0].name
    name.setFocus()
    name.selectAll()
    qtbot.keyClicks(name, "upper")
    qtbot.keyClick(name, Qt.Key.Key_Return)
    assert edits.channels[0].column == "upper"
    qtbot.keyClick(name, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert edits.channels[0].column == "a"
    assert name.text() == "a"


def test_one_undo_covers_changes_of_every_page(qtbot, tmp_path, sound):
    """Ctrl+Z takes back the last change, wherever it was made, and shows it; the menu names it."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    session = window.session
    usual = session.parameters.margin_volts
    session.set_parameters(margin_volts=0.033)
    edits = session.bench.edits
    edits.begin(swept("healthy").recording.channels)
    edits.edit(0, "column", "upper")
    session.recent_files.forget()
    window.go_to("read")
    back, control = Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier
    assert window.undo.text() == "&Undo forgetting the list"
    qtbot.keyClick(window, back, control)
    assert session.recent_files.all() == [str(sound)]
    assert window.page.key == "keep"
    assert window.undo.text() == "&Undo name of a: upper"
    qtbot.keyClick(window, back, control)
    assert edits.channels[0].column == "a"
    assert window.page.key == "wire_up"
    qtbot.keyClick(window, back, control)
    assert session.parameters.margin_volts == usual
    assert window.page.key == "decide"
    assert not window.undo.isEnabled()
    qtbot.keyClick(window, back, control | Qt.KeyboardModifier.ShiftModifier)
    assert session.parameters.margin_volts == pytest.approx(0.033)
    assert window.redo.text() == "&Redo name of a: upper"


def test_a_name_typed_for_the_files_stays(qtbot, window, sound, worn):
    """Laying an earlier recording under it does not change where things are saved."""
    open_file(qtbot, window, sound)
    page = window.pages["keep"]
    page.name.setText("left pedal")
    window.session.take_before(window.session.findings, worn)
    assert page.name.text() == "left pedal"
    open_file(qtbot, window, worn)
    assert page.name.text() == worn.stem


def test_light_and_dark(qtbot, window, sound):
    """Every page takes on the dark look, figures included, and the choice is a menu entry."""
    open_file(qtbot, window, sound)
    for choice, dark in (("dark", True), ("light", False)):
        window.look_actions[choice].trigger()
        for title in window.pages:
            window.go_to(title)
            image = window.grab().toImage()
            # Somewhere in the middle of the page's lower edge: plain ground in every page.
            assert (image.pixelColor(image.width() - 4, image.height() - 4).lightness()
                    < 128) == dark, title
        ground = figures_of(window.pages["read"])["traces", None].backgroundBrush().color()
        assert (ground.lightness() < 128) == dark


def test_about_shows_version_and_licence_without_blocking(qtbot, tmp_path):
    """Help shows the licence as it was delivered, in a pane that blocks nothing."""
    window = open_window(qtbot, tmp_path)
    next(a for a in window.help_menu.actions() if "About" in a.text()).trigger()
    pane = window.findChildren(QDialog)[-1]
    assert not pane.isModal()
    text = pane.findChild(QPlainTextEdit).toPlainText()
    assert "Permission is hereby granted, free of charge" in text  # MIT licence, SPDX text
    pane.close()
