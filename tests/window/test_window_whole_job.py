"""The whole job in the real window: a simulated pedal behind a real serial port."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDoubleSpinBox
from window_driver import (
    PATIENCE_MS,
    connect,
    keys,
    open_window,
    press,
    served_pedal,
    start_sweep,
    wait_opened,
    wait_told,
)

from analysis.pedal.findings import analyse
from bench.acquisition.boards.pty_server import can_serve
from bench.files.exports import settings_formats
from bench.files.recording_file import read_recording

pytestmark = pytest.mark.skipif(not can_serve(), reason="needs pseudo terminals")
CONTROL = Qt.KeyboardModifier.ControlModifier
ALT = Qt.KeyboardModifier.AltModifier


def test_the_whole_job_with_the_mouse(qtbot, tmp_path):
    """A person clicks from the cautions to a saved settings file without typing but the port."""
    window = open_window(qtbot, tmp_path)
    wire, sweep = window.pages["wire_up"], window.pages["sweep"]
    assert window.page is wire
    assert not wire.connect_button.isEnabled()
    press(qtbot, wire.agree)
    with served_pedal() as server:
        wire.board.lineEdit().selectAll()
        qtbot.keyClicks(wire.board.lineEdit(), server.port)
        press(qtbot, wire.connect_button)
        qtbot.waitUntil(lambda: len(wire.rows.rows) == 3, timeout=PATIENCE_MS)
        qtbot.waitUntil(lambda: wire.rows.rows[0].volts.text().endswith("V"),
                        timeout=PATIENCE_MS)
        assert "12-bit" in wire.says.text()
        # The served board cannot say that its supply input sits behind a 1:2 divider.
        press(qtbot, wire.rows.rows[2].more)
        divider = wire.rows.details.findChildren(QDoubleSpinBox)[0]
        assert "supply" in divider.accessibleName()
        divider.selectAll()
        qtbot.keyClicks(divider, "2")
        qtbot.keyClick(divider, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda: wire.rows.rows[2].volts.text().startswith(("4.9", "5.0")),
                        timeout=PATIENCE_MS)
        press(qtbot, window.step_bar.action)
        assert window.page is sweep
        sweep.cycles.setValue(3)
        sweep.quick.setValue(0)
        press(qtbot, window.step_bar.action)
        link = window.session.bench.link
        seen = set()

        def note() -> bool:
            seen.add(sweep.loud.text)
            return window.session.findings is not None

        qtbot.waitUntil(note, timeout=PATIENCE_MS)
        assert link.state != "recording"
    assert {"Press slowly, all the way down.", "Hold it down.",
            "Let it come back slowly."} <= seen
    path = window.session.path
    recording = read_recording(path)
    assert recording.complete
    # The person begins anew when the sweep does: where the machine is busy just then, the board's
    # clock that begins anew may be told as some samples lost.
    prompts = [m.text for m in recording.marks if not m.lost_samples]
    assert prompts[:4] == ["rest", "press", "hold", "release"]
    assert recording.lost_samples < 100
    assert window.page is window.pages["read"]
    # The simulated pedal's truth: track b sits about 150 mV too high at rest.
    tracks = window.session.findings.tracks
    assert tracks["b"].rest.value - tracks["a"].rest.value == pytest.approx(0.15, abs=0.03)
    assert "b rests" in window.step_bar.text.text()
    press(qtbot, window.step_bar.action)
    assert window.page is window.pages["decide"]
    window.go_to("keep")
    press(qtbot, window.step_bar.action)
    saved = path.with_name(f"{path.stem}-settings.txt")
    expected = settings_formats()["text"](
        analyse(recording, window.session.parameters), path=path)
    assert saved.read_text(encoding="utf-8") == expected


def test_the_whole_job_with_the_keyboard(qtbot, tmp_path):
    """Ctrl+Enter does what the sentence says; nothing needs the mouse."""
    window = open_window(qtbot, tmp_path)
    wire = window.pages["wire_up"]
    keys(qtbot, window, Qt.Key.Key_Return)
    assert window.session.cautions_read
    with served_pedal("healthy") as server:
        line = wire.board.lineEdit()
        line.setFocus()
        qtbot.keyClick(line, Qt.Key.Key_A, CONTROL)
        qtbot.keyClicks(line, server.port)
        qtbot.keyClick(line, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda: len(wire.rows.rows) == 3, timeout=PATIENCE_MS)
        name = wire.rows.rows[1].name
        name.setFocus()
        name.selectAll()
        qtbot.keyClicks(name, "lower")
        qtbot.keyClick(name, Qt.Key.Key_Return)
        assert [c.column for c in window.session.bench.edits.channels] == ["a", "lower", "supply"]
        keys(qtbot, window, Qt.Key.Key_2, ALT)
        assert window.page is window.pages["sweep"]
        window.pages["sweep"].cycles.setValue(2)
        window.pages["sweep"].quick.setValue(0)
        keys(qtbot, window, Qt.Key.Key_Return)
        wait_opened(qtbot, window)
    assert [c.column for c in window.session.findings.recording.channels] == [
        "a", "lower", "supply"]
    keys(qtbot, window, Qt.Key.Key_4, ALT)
    field = window.pages["decide"].fields["margin_volts"]
    field.slider.setFocus()
    qtbot.keyClick(field.slider, Qt.Key.Key_PageUp)
    qtbot.waitUntil(lambda: window.session.parameters.margin_volts > 0, timeout=PATIENCE_MS)
    keys(qtbot, window, Qt.Key.Key_S)
    wait_told(qtbot, window, "-settings.txt")
    assert window.session.path.with_name(f"{window.session.path.stem}-settings.txt").exists()


def unplug_while_sweeping(qtbot, window, server, cycles, rows):
    """Pull the cable once so many rows came; return the link, its file, and the rows in it."""
    connect(qtbot, window, server.port)
    path = start_sweep(qtbot, window, cycles=cycles)
    link = window.session.bench.link
    qtbot.waitUntil(lambda: link.file.writer.rows > rows, timeout=PATIENCE_MS)
    server.unplug()
    qtbot.waitUntil(lambda: link.lost, timeout=PATIENCE_MS)
    return link, path, link.file.writer.rows


def test_the_cable_comes_out_and_goes_back_in(qtbot, tmp_path):
    """An unplugged cable is said in large words; plugged in again the sweep goes on."""
    window = open_window(qtbot, tmp_path)
    with served_pedal("healthy") as server:
        link, path, rows = unplug_while_sweeping(qtbot, window, server, cycles=3, rows=1500)
        assert window.step_bar.text.text() == "The cable is out: plug it in again."
        loud = window.pages["sweep"].loud
        qtbot.waitUntil(lambda: (loud.text, loud.kind) == (
            "The cable is out: plug it in again.", "grave"), timeout=PATIENCE_MS)
        assert link.state == "recording"
        server.plug()
        qtbot.waitUntil(lambda: not link.lost, timeout=PATIENCE_MS)
        wait_opened(qtbot, window, path)
    recording = read_recording(path)
    assert recording.complete
    assert recording.rows > rows
    assert recording.lost_samples > 0
    assert any(m.text.startswith("gap") for m in recording.marks)


def test_the_cable_comes_out_for_good(qtbot, tmp_path):
    """Whoever stops with the cable out keeps everything up to then, in a complete file."""
    window = open_window(qtbot, tmp_path)
    with served_pedal("healthy") as server:
        _, path, rows = unplug_while_sweeping(qtbot, window, server, cycles=8, rows=9000)
        press(qtbot, window.pages["sweep"].keep_button)
        wait_opened(qtbot, window, path)
        server.plug()
    recording = read_recording(path)
    assert recording.complete
    assert recording.rows == rows


def test_closing_the_window_while_recording_keeps_the_recording(qtbot, tmp_path):
    """The file of a window that was closed in mid-sweep is whole and closed properly."""
    window = open_window(qtbot, tmp_path)
    with served_pedal("healthy") as server:
        connect(qtbot, window, server.port)
        path = start_sweep(qtbot, window, cycles=8)
        file = window.session.bench.link.file
        qtbot.waitUntil(lambda: file.writer.rows > 1000, timeout=PATIENCE_MS)
        window.close()
        assert file.writer.closed
    recording = read_recording(path)
    assert recording.complete
    assert recording.rows == file.writer.rows > 1000


def test_discarding_asks_first_and_goes_on_meanwhile(qtbot, tmp_path):
    """A recording is only thrown away after a yes, and even then it goes to the trash."""
    window = open_window(qtbot, tmp_path)
    with served_pedal("healthy") as server:
        connect(qtbot, window, server.port)
        path = start_sweep(qtbot, window, cycles=8)
        link = window.session.bench.link
        press(qtbot, window.pages["sweep"].discard_button)
        before = link.file.writer.rows
        assert [a.text() for a in window.notice.answers] == ["Throw it away", "Keep recording"]
        qtbot.waitUntil(lambda: link.file.writer.rows > before, timeout=PATIENCE_MS)
        press(qtbot, window.notice.answers[1])
        assert link.state == "recording"
        press(qtbot, window.pages["sweep"].discard_button)
        press(qtbot, window.notice.answers[0])
        qtbot.waitUntil(lambda: not path.exists(), timeout=PATIENCE_MS)
        told = wait_told(qtbot, window, path.name)
        assert "trash" in told
    assert window.session.findings is None


def test_a_board_that_is_not_there_is_told_in_one_line(qtbot, tmp_path):
    """A wrong port gives a sentence in the window, not a crash and not a box."""
    window = open_window(qtbot, tmp_path)
    page = window.pages["wire_up"]
    window.session.accept_cautions()
    page.board.setCurrentText(str(tmp_path / "nothing"))
    page.connect_board()
    qtbot.waitUntil(lambda: page.board_trouble.wrong, timeout=PATIENCE_MS)
    text = page.board_trouble.text()
    assert str(tmp_path / "nothing") in text
    assert "\n" not in text
    # Old trouble never stays: it is gone as another board is named.
    page.board.setCurrentText("simulated")
    assert not page.board_trouble.wrong
    assert window.session.bench.link.state == "idle"


def test_the_simulated_pedal_needs_no_port(qtbot, tmp_path):
    """Someone without hardware learns the whole way on the simulated pedal."""
    window = open_window(qtbot, tmp_path)
    connect(qtbot, window, "simulated")
    assert window.session.bench.link.source.board_name == "simulated 12-bit board"
    path = start_sweep(qtbot, window, cycles=1)
    window.session.bench.link.stop()
    wait_told(qtbot, window, path.name)
    assert read_recording(path).complete
