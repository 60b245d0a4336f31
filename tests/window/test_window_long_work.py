"""Long work beside the window: cancelled, broken, never in the way."""

import threading
import time

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from scripted_board import Scripted
from window_driver import PATIENCE_MS, open_file, open_window, press, wait_told

from bench.files.imports import ImportOptions
from bench.files.recording_file import read_recording
from bench.services.findings import open_findings
from bench.services.import_log import import_file
from bench.services.record import Order
from bench.window.live import LiveLink
from bench.window.worker import Cancelled


def test_long_work_can_be_cancelled_and_never_shows_a_box(qtbot, tmp_path, sound):
    """Cancel stops waiting at once; a result that comes later is thrown away."""
    window = open_window(qtbot, tmp_path)
    got = []

    def slow(progress):
        for step in range(200):
            progress(step / 200, "counting")
            time.sleep(0.02)
        return "too late"

    window.session.work.run("Counting", slow, got.append)
    qtbot.waitUntil(lambda: window.work_bar.bar.value() > 0, timeout=PATIENCE_MS)
    assert window.work_bar.isVisible()
    press(qtbot, window.work_bar.stop)
    assert not window.work_bar.isVisible()
    assert not window.session.work.busy
    window.session.work.wait(10)
    QApplication.processEvents()
    assert got == []
    open_file(qtbot, window, sound)


class Endless(Scripted):
    """A board that sends nothing for ever; closed: how often somebody let go of it."""

    closed = 0

    def close(self):
        self.closed += 1

    @property
    def ended(self):
        return False


def test_a_board_let_go_of_while_it_is_being_opened_is_closed(qtbot):
    """Whoever goes on before the window had its turn leaves nobody behind who holds the port."""
    first, second = Endless(), Endless()
    link = LiveLink()
    link.connect_board("first", lambda: first, Order())
    # No turn of the event loop: the window does not know yet that the board is open.
    waited = time.monotonic() + PATIENCE_MS / 1000.0
    while not first.opened and time.monotonic() < waited:
        time.sleep(0.002)
    link.connect_board("second", lambda: second, Order())
    assert (first.opened, first.closed) == (1, 1)
    qtbot.waitUntil(lambda: link.state == "live", timeout=PATIENCE_MS)
    link.shut()
    assert (second.opened, second.closed) == (1, 1)


def test_a_bug_in_a_job_is_told_not_raised(qtbot, tmp_path):
    """An error nobody foresaw becomes a sentence that asks for a report."""
    window = open_window(qtbot, tmp_path)

    def broken(_progress):
        raise ZeroDivisionError("oops")

    window.session.work.run("Breaking", broken)
    assert "please report" in wait_told(qtbot, window, "oops")


def test_a_cancelled_read_ends_there(qtbot, tmp_path, sound, monkeypatch):
    """Cancel ends the work itself, in the middle of the file or of its analysis, not the waiting.

    Seen by how far it came: each part of the work that begins is told.
    """
    session = open_window(qtbot, tmp_path).session
    usual, begun = session.work.progressed, []
    for most in (0.0, 0.25, 0.5):
        begun.clear()

        def look(share, _what, most=most):
            begun.append(share)
            if share >= most:
                session.work.cancel()

        usual.connect(look, Qt.ConnectionType.DirectConnection)
        session.open(sound)
        session.work.wait(10)
        QApplication.processEvents()
        usual.disconnect(look)
        assert begun
        assert sum(share >= most for share in begun) == 1
        assert session.findings is None
        assert not session.work.busy
    open_file(qtbot, session.parent(), sound)
    assert session.findings is not None


def cancelled(share, what):
    """Stand for a `progress` whose job is no longer wanted."""
    raise Cancelled


def test_a_cancelled_import_writes_no_recording(tmp_path):
    """Cancel is noticed before writing: nothing appears beside the log that nobody waits for."""
    log = tmp_path / "scope.csv"
    log.write_text("Time (s),a,b\n" + "".join(
        f"{k / 100:.2f},{0.5 + k / 100:.2f},1.00\n" for k in range(200)))
    with pytest.raises(Cancelled):
        import_file(log, ImportOptions(), progress=cancelled)
    assert [p.name for p in tmp_path.iterdir()] == ["scope.csv"]
    said = []
    made = import_file(log, ImportOptions(), progress=lambda share, what: said.append(what))
    assert made.path.exists()
    assert said == ["Writing scope-recording.csv"]


def test_a_cancelled_earlier_recording_is_read_and_not_analysed(monkeypatch, sound):
    """Cancel while the file is read ends the job there, not after seconds of arithmetic."""
    asked = []
    monkeypatch.setattr("bench.services.findings.analyse", lambda *_: asked.append("analysis"))
    with pytest.raises(Cancelled):
        open_findings(sound, progress=cancelled)
    assert asked == []


def test_the_window_hands_its_cancel_to_the_job(qtbot, tmp_path, sound, monkeypatch):
    """Opened as the earlier recording and cancelled while it is read, it is not analysed."""
    window = open_window(qtbot, tmp_path)
    reading, cancel, asked = threading.Event(), threading.Event(), []

    def slowly(path, _between):
        reading.set()
        assert cancel.wait(30)
        return read_recording(path)

    monkeypatch.setattr("bench.services.findings.read_recording", slowly)
    monkeypatch.setattr("bench.services.findings.analyse", lambda *_: asked.append("analysis"))
    window.session.open_before(sound)
    assert reading.wait(30)
    window.session.work.cancel()
    cancel.set()
    window.session.work.wait(30)
    QApplication.processEvents()
    assert asked == []
    assert window.session.before is None
