"""Read: one large plot and a strip, a crosshair that tells readings, before and after as a table.
"""

import functools
import re

import numpy as np
import pyqtgraph as pg
from findings_by_hand import SAMPLES
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QContextMenuEvent, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu
from window_driver import PATIENCE_MS, cleared, press

from analysis.pedal.findings import analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep
from bench.files.exports.brief_comparison import brief_comparison
from bench.files.exports.comparison import comparison_text
from bench.services.compare import compare
from bench.services.findings import open_findings
from bench.window.figure_desk import HINT, FigureDesk
from bench.window.finding_list import FindingList
from bench.window.finding_view import doubt_of, few, grave_count, said
from bench.wording.compare import label as quantity
from bench.wording.face import capital

HEALTHY = SAMPLES / "synthetic_healthy_pair.csv"
OFF = SAMPLES / "synthetic_off_at_rest.csv"
DROPOUTS = SAMPLES / "synthetic_wiper_dropouts.csv"
WINDOW_SIZE = (1366, 760)


@functools.cache
def swept(path):
    """Return the findings of a sample, analysed once."""
    return open_findings(path)


def shown(qtbot, window, path):
    """Return the window with a recording on its page Read, every figure drawn."""
    window.session.take_before(None, None)
    window.session.take(swept(path), path)
    window.go_to("read")
    page = window.pages["read"]
    page.desk.enlarge(("traces", None))
    page.see_whole()
    page.desk.finish()
    QApplication.processEvents()
    return window, page


def middle(view) -> QPoint:
    """Return a place in the plot, six tenths of the way along it."""
    box = view.plot.getViewBox().sceneBoundingRect()
    return QPoint(int(box.left() + 0.6 * box.width()), int(box.center().y()))


def point_into(view) -> None:
    """Move the mouse to that place; Qt's own mouseMove moves nothing where the cursor is already.
    """
    at = QPointF(middle(view))
    QApplication.sendEvent(view.viewport(), QMouseEvent(
        QEvent.Type.MouseMove, at, view.viewport().mapToGlobal(at), Qt.MouseButton.NoButton,
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier))


def test_a_small_figure_is_made_large_with_the_mouse_and_with_the_keys(qtbot, window):
    """A click, or Enter where the focus is; the strip keeps its order and says what is large."""
    _, page = shown(qtbot, window, OFF)
    desk = page.desk
    order = list(desk.tiles)
    assert desk.large == ("traces", None)
    qtbot.mouseClick(desk.tiles["mismatch", None], Qt.MouseButton.LeftButton)
    assert desk.large == ("mismatch", None)
    assert desk.view.plot.titleLabel.text.startswith("Mismatch: 0.41 % at 74 %")
    assert desk.tiles["mismatch", None].mark.isVisible()
    tile = desk.tiles["rest", "a"]
    tile.setFocus()
    qtbot.keyClick(tile, Qt.Key.Key_Right)
    assert QApplication.focusWidget() is desk.tiles["rest", "b"]
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
    assert desk.large == ("rest", "b")
    qtbot.waitUntil(lambda: desk.view.height() > 2 * desk.views["mismatch", None].height(),
                    timeout=PATIENCE_MS)
    assert list(desk.tiles) == order
    assert not desk.tiles["mismatch", None].mark.isVisible()


def test_the_crosshair_tells_what_was_recorded_there(qtbot, window):
    """Time, the volts of both tracks and the share of travel of each are the recording's own."""
    window, page = shown(qtbot, window, OFF)
    view, findings = page.desk.view, window.session.findings
    point_into(view)
    qtbot.waitUntil(lambda: " s " in page.desk.readout.text(), timeout=PATIENCE_MS)
    cross = next(i for i in view.plot.items if isinstance(i, pg.InfiniteLine)
                 and i.zValue() == 100)
    recording = findings.recording
    row = int(np.argmin(np.abs(recording.time_s - cross.value())))
    said = page.desk.readout.text()
    assert f"{recording.time_s[row]:.2f} s" in said
    for name, track in findings.tracks.items():
        volts = recording.stated_volts(recording.channel(name))[row]
        # Two points fix a straight line: 0 % at rest, 100 % at full travel.
        travel = np.interp(volts, *zip(*sorted(
            [(track.rest.value, 0.0), (track.full.value, 100.0)]), strict=True))
        assert f"{name} {volts:.3f} V" in said
        assert f"({travel:.1f} % of travel)" in said
    view.setFocus()
    before = cross.value()
    qtbot.keyClick(view, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert cross.value() > before
    assert page.desk.readout.text() != said


def test_every_figure_has_a_reading_under_the_crosshair(qtbot, window):
    """What the figure shows there stands beside the volts of both tracks."""
    _, page = shown(qtbot, window, OFF)
    for key, words in ((("pair", None), " V"), (("rest", "a"), "return "),
                       (("noise", None), "noise a"), (("mismatch", None), "mismatch"),
                       (("play", None), "way in less way back")):
        page.desk.enlarge(key)
        page.desk.view.grab()
        point_into(page.desk.view)
        qtbot.waitUntil(lambda w=words: w in page.desk.readout.text(), timeout=PATIENCE_MS)
        assert re.search(r"a [02]\.\d{3} V.*b [02]\.\d{3} V", page.desk.readout.text())


def test_a_right_click_offers_what_the_corner_does(qtbot, window, tmp_path, monkeypatch):
    """The menu is our own: reset, copy, save; each does what its button does."""
    window, page = shown(qtbot, window, OFF)
    view = page.desk.view
    QApplication.sendEvent(view.viewport(), QContextMenuEvent(
        QContextMenuEvent.Reason.Mouse, middle(view), view.mapToGlobal(middle(view))))
    menu = next(m for m in page.findChildren(QMenu) if m.isVisible())
    assert [a.text().split("\t")[0].replace("&", "") for a in menu.actions()] == [
        "Reset: show it whole", "Copy the picture", "Save the picture…"]
    assert view.plot.getMenu() is None or not view.plot.getViewBox().menuEnabled()
    QApplication.clipboard().clear()
    menu.actions()[1].trigger()
    menu.close()
    assert QApplication.clipboard().image().width() == 2 * view.width()
    target = tmp_path / "mine.png"
    monkeypatch.setattr("bench.window.pictures.QFileDialog.getSaveFileName",
                        lambda *_: (str(target), ""))
    press(qtbot, page.save_figure)
    assert target.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"  # W3C PNG specification, 5.2
    press(qtbot, page.save_figure)
    # Nothing is written over.
    assert len(list(tmp_path.glob("mine*.png"))) == 2
    view.plot.setXRange(10.0, 12.0, padding=0)
    press(qtbot, page.whole)
    view.grab()
    assert window.session.findings.recording.time_s[-1] <= view.plot.viewRange()[0][1]


def painted(found: FindingList) -> list[list[str]]:
    """Return what is painted in every row in sight."""
    return [found.delegate.texts(found.indexFromItem(found.item(k))) for k in range(found.count())
            if not found.item(k).isHidden()]


def test_a_finding_is_one_line_until_its_reasons_are_asked_for(qtbot, window):
    """Enter unfolds the reasons of a finding and folds them again; a click does so too."""
    _, page = shown(qtbot, window, DROPOUTS)
    found = page.sentences
    assert all(len(row) == 1 for row in painted(found))
    found.setFocus()
    found.setCurrentRow(2)
    qtbot.keyClick(found, Qt.Key.Key_Return)
    assert len(found.delegate.texts(found.indexFromItem(found.item(2)))) == 2
    # The plots went to the fault, and its place is picked in the table of faults.
    assert page.faults.currentRow() == 0
    place = found.visualItemRect(found.item(2)).center()
    qtbot.mouseClick(found.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert all(len(row) == 1 for row in painted(found))


def test_what_is_in_order_never_stands_beside_do_not_drive_as_its_equal(qtbot, window):
    """Beside something grave it is one folded line at the end, without a tick or a colour."""
    _, page = shown(qtbot, window, DROPOUTS)
    rows = painted(page.sentences)
    assert rows[1] == ["■ Do not drive"]
    assert rows[-1] == ["▸ In order (3)"]
    assert not any("✓" in text for row in rows for text in row)
    shown(qtbot, window, HEALTHY)
    rows = painted(page.sentences)
    ticked = rows.index(["✓ In order (3)"])
    # What no sweep can show is no good news, and stands above the tick.
    unseen = [k for k, row in enumerate(rows) if "short between the tracks" in " ".join(row)]
    assert unseen
    assert max(unseen) < ticked


def test_before_and_after_stand_in_a_table_with_the_words_of_the_command_line(qtbot, window):
    """Every quantity, whether it is real, what is left; `compare` says the same of both files."""
    window, page = shown(qtbot, window, OFF)
    assert not page.compared.isVisible()
    window.session.take_before(swept(HEALTHY), HEALTHY)
    assert page.compared.isVisible()
    made = compare(swept(HEALTHY), swept(OFF))
    table = page.compared.table
    rows = {table.item(r, 0).text(): [table.item(r, c).text() for c in range(1, 5)]
            for r in range(table.rowCount())}
    assert {capital(quantity(m)) for m in made.moves} <= set(rows)
    # The simulated pedal's track b was turned on its shaft, nothing else (sample_sweeps/README).
    assert rows["Rest of track b"][2:] == ["real", "repair first"]
    assert rows["Rest of track a"][2:] == ["within noise", "–"]
    assert table.item(0, 0).text() == "Rest of track b"
    brief = brief_comparison(made, HEALTHY.name, OFF.name)
    whole = " ".join(comparison_text(made, HEALTHY.name, OFF.name).split())
    assert page.compared.answer.text().rstrip(".").lower() in " ".join(brief.split()).lower()
    closing = page.compared.closing.text()
    assert closing.split("  ")[0].removeprefix("Now: ") in " ".join(brief.split())
    assert closing.split("  ")[1].split(":")[0] in whole
    window.session.take_before(None, None)
    assert not page.compared.isVisible()


def test_what_was_repaired_and_what_came_new_are_rows_of_the_table(qtbot, window):
    """Losses of contact that are gone are told as gone, and new ones are to be repaired."""
    window, page = shown(qtbot, window, DROPOUTS)
    window.session.take_before(swept(HEALTHY), HEALTHY)
    assert page.compared.isVisible()
    table = page.compared.table
    assert [table.item(0, c).text() for c in range(5)] == [
        "Track b: loses contact", "none seen", "10 times", "new", "do not drive"]
    window.pages["keep"].swap()
    cells = [[table.item(r, c).text() for c in range(5)] for r in range(table.rowCount())]
    assert ["Track b: loses contact", "10 times", "none seen", "gone", "–"] in cells


def test_what_was_not_seen_is_not_called_a_repair():
    """Too few presses are swept again: nothing is known that a screwdriver would mend.

    Common practice, no source.
    """
    motion = Motion(cycles=1, quick=0)
    found = analyse(simulate_sweep(pedal_named("healthy"), 500.0, 12, seed=1,
                                   motion=motion).recording)
    told = {each.word for each in said(found)[1:] if each.gravity >= 2}
    assert told == {"Not seen yet"}
    assert grave_count(found) == 0


def in_front(qtbot, window) -> None:
    """Let the window have the keys again, whatever menu had them before."""
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow, timeout=PATIENCE_MS)


def test_what_is_copied_is_what_is_picked(qtbot, window):
    """The fault in the table, the finding in the list, or else all of it; nothing of nothing."""
    window, page = shown(qtbot, window, DROPOUTS)
    in_front(qtbot, window)
    board, copied = QApplication.clipboard(), []
    page.sentences.setCurrentRow(-1)
    page.faults.setCurrentCell(-1, -1)
    page.copy()
    copied.append(board.text())
    page.sentences.setCurrentRow(2)
    page.copy()
    copied.append(board.text())
    page.faults.setFocus()
    page.faults.setCurrentCell(1, 0)
    page.copy()
    copied.append(board.text())
    fault = window.session.findings.faults[1]
    assert f"{fault.time_s:.2f}" in copied[2] or f"{fault.travel_percent:.0f}" in copied[2]
    assert len(set(copied)) == 3
    assert max(copied, key=len) == copied[0]
    cleared(window)
    window.go_to("read")
    board.setText("mine")
    page.copy()
    page.copy_picture()
    page.save_picture()
    page.show_fault(fault)
    assert board.text() == "mine"


def test_a_picked_fault_stays_marked_in_a_figure_that_is_drawn_anew(qtbot, window):
    """A figure made large has the mark of the fault as it had while it was small."""
    _, page = shown(qtbot, window, DROPOUTS)
    page.faults.setCurrentCell(0, 0)
    at = page.session.findings.faults[0].travel_percent
    page.desk.enlarge(("noise", None))
    page.desk.finish()
    QApplication.processEvents()
    assert at in [i.value() for i in page.desk.view.plot.items
                  if isinstance(i, pg.InfiniteLine) and i.angle == 90]
    page.see_whole()


def test_what_is_in_order_is_unfolded_and_folded_with_a_click_and_keys(qtbot, window):
    """Beside something grave it is one folded line; other keys move and unfold nothing."""
    _, page = shown(qtbot, window, DROPOUTS)
    found = page.sentences
    last = found.count() - 1
    heading = next(k for k in range(found.count())
                   if found.item(k).text() == "In order (3)")
    hidden = [found.item(k).isHidden() for k in range(heading + 1, last + 1)]
    assert hidden == [True] * 3
    found.setFocus()
    found.setCurrentRow(heading)
    for key, folded in ((Qt.Key.Key_Right, False), (Qt.Key.Key_Left, True),
                        (Qt.Key.Key_Home, True)):
        found.setCurrentRow(heading)
        qtbot.keyClick(found, key)
        assert [found.item(k).isHidden() for k in range(heading + 1, last + 1)] == [folded] * 3


def test_arrow_keys_walk_along_the_small_figures(qtbot, window):
    """Left and right go from one to the next; a right click, or one let go outside, picks none."""
    _, page = shown(qtbot, window, OFF)
    in_front(qtbot, window)
    desk = page.desk
    tiles = list(desk.tiles.values())
    tiles[1].setFocus()
    for key, at in ((Qt.Key.Key_Right, 2), (Qt.Key.Key_Left, 1), (Qt.Key.Key_Up, 1)):
        qtbot.keyClick(window.focusWidget(), key)
        assert window.focusWidget() is tiles[at], key
    large = desk.large
    qtbot.mouseClick(tiles[2], Qt.MouseButton.RightButton)
    QTest.mousePress(tiles[2], Qt.MouseButton.LeftButton)
    QTest.mouseRelease(tiles[2], Qt.MouseButton.LeftButton, pos=QPoint(-50, -50))
    assert desk.large == large


def test_a_desk_without_a_recording_tells_no_reading(qtbot):
    """Pointed at or stepped along with the keys: the hint stays, for nothing was read there."""
    desk = FigureDesk()
    qtbot.addWidget(desk)
    desk.see_whole()
    desk.show_figures((("traces", None), ("noise", None)), ("traces", None))
    desk.enlarge(("noise", None))
    assert desk.large == ("noise", None)
    desk.view.pointed.emit(1.0, 1.0)
    desk.view.stepped.emit(1)
    desk.see_whole()
    assert desk.readout.text() == HINT
    assert not desk.busy


def test_an_expected_number_is_told_as_a_person_says_it():
    """What is not known is said to be so, never rounded to little."""
    assert few(float("nan")) == few(float("inf")) == "not known"
    assert few(0.0) == few(9e-7) == "fewer than one in a million"
    assert few(0.0123) == "at most 0.012"
    assert doubt_of(swept(OFF), None, "no such track") == ""
