"""The window survives whatever is opened, and says what it is."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication
from recorded_sweeps import swept
from window_driver import PATIENCE_MS, cleared, figures_of, open_file, wait_opened, wait_told

from analysis.model.recording import Channel, Recording
from bench.files.recording_file import write_recording


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


def test_dropped_files_open(qtbot, window, sound):
    """A recording dropped on the window is opened like any other."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(sound))])
    window.dropEvent(QDropEvent(QPointF(50, 50), Qt.DropAction.CopyAction, data,
                                Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier))
    wait_opened(qtbot, window, sound)


def test_a_log_of_a_sender_is_not_read_as_a_pedal(qtbot, window, tmp_path, sound):
    """A recording made against a meter is refused with the page that reads it."""
    open_file(qtbot, window, sound)
    kept = window.session.findings
    path = tmp_path / "sender.csv"
    write_recording(path, replace(kept.recording, purpose="meter"))
    window.session.open(path)
    wait_told(qtbot, window, "the page Senders")
    assert window.session.findings is kept


def broken_files(folder, good: bytes):
    """Return files that are no whole recording, and words that the refusal must hold."""
    damaged = bytearray(good)
    damaged[len(good) // 2] ^= 0x04
    cases = {"empty.csv": (b"", ""), "noise.csv": (bytes(range(256)) * 40, ""),
             "damaged.csv": (bytes(damaged), "damaged"),
             "text.csv": (b"a,b\n1,2\n", "")}
    for name, (content, words) in cases.items():
        (folder / name).write_bytes(content)
        yield folder / name, words
    yield folder / "missing.csv", "missing.csv"


def test_bad_files_are_refused_in_one_line(qtbot, window, tmp_path, sound):
    """An empty, damaged, foreign or missing file is told; what was open stays open."""
    open_file(qtbot, window, sound)
    for path, words in broken_files(tmp_path, sound.read_bytes()):
        window.notice.hide()
        window.session.open(path)
        qtbot.waitUntil(lambda: window.notice.isVisible() and not window.session.work.busy,
                        timeout=PATIENCE_MS)
        text = window.notice.text.text()
        assert words in text
        assert "\n" not in text
        assert "went wrong inside" not in text, text
        assert window.session.path == sound


def test_a_recording_cut_short_opens_and_says_so(qtbot, window, tmp_path, sound):
    """Half a file opens with all its whole rows, and the user is told."""
    cut = tmp_path / "cut.csv"
    data = sound.read_bytes()
    cut.write_bytes(data[: len(data) * 2 // 3])
    open_file(qtbot, window, cut)
    assert "cut short" in window.notice.text.text()
    assert window.session.findings.recording.rows > 10_000


def test_one_channel_alone_is_enough(qtbot, window, tmp_path):
    """A pedal with a single track shows what can be known of it on every page."""
    path = tmp_path / "one.csv"
    made = swept("one-track").recording
    write_recording(path, Recording(made.time_s, (made.channel("a"),), rate_hz=500.0))
    open_file(qtbot, window, path)
    assert set(figures_of(window.pages["read"])) == {
        ("traces", None), ("noise", None), ("rest", "a"), ("response", None)}
    for title in window.pages:
        window.go_to(title)
        QApplication.processEvents()
    assert set(figures_of(window.pages["decide"])) == {("budgets", None)}


@pytest.mark.parametrize("rows", [200_000, pytest.param(1_000_000, marks=pytest.mark.long)])
def test_very_many_rows_open(qtbot, window, tmp_path, rows):
    """A recording of a million rows opens and is drawn on every page."""
    made = swept("healthy", seed=5).recording
    times = -(-rows // made.rows)
    channels = tuple(
        Channel(c.column, c.role, np.tile(c.readings, times), c.unit, c.full_scale,
                c.reference_volts, c.scale, c.offset_volts, c.nominal_volts)
        for c in made.channels)
    path = tmp_path / "million.csv"
    long = Recording(np.arange(made.rows * times) / 500.0, channels, rate_hz=500.0)
    write_recording(path, long)
    open_file(qtbot, window, path)
    assert window.session.findings.recording.rows >= rows
    for title in ("read", "decide", "keep"):
        window.go_to(title)
        assert not window.grab().isNull()
