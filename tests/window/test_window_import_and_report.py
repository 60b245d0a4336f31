"""Carry in and out: logs of other origin brought in, the report written beside the window."""


import numpy as np
import pytest
from places import ROOT
from PySide6.QtCore import Qt
from window_driver import PATIENCE_MS, cleared, open_file, press, wait_opened, wait_told

from analysis.simulation import pedal_named, simulate_sweep
from bench.files.recording_file import read_recording, write_recording
from bench.window.worker import Worker


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


@pytest.fixture(scope="module")
def swept():
    return simulate_sweep(pedal_named("healthy"), 200.0, 12, seed=6).recording


def scope_log(path, recording, decimal=","):
    """Write a log as an oscilloscope set to a European locale might."""
    a, b = (recording.channel(c).volts() for c in ("a", "b"))
    rows = [f"{t:.4f};{x:.4f};{y:.4f}".replace(".", decimal)
            for t, x, y in zip(recording.time_s, a, b, strict=True)]
    path.write_text("\n".join(["Zeit (s);CH1 (V);CH2 (V)", *rows]) + "\n", encoding="utf-8")


def pick(qtbot, combo, words: str) -> None:
    """Pick an entry by typing its first letters where the focus is, as a person does."""
    qtbot.waitUntil(lambda: combo.findText(words) >= 0, timeout=PATIENCE_MS)
    combo.setFocus()
    for _ in range(combo.count()):
        if combo.currentText() == words:
            return
        down = combo.findText(words) > combo.currentIndex()
        qtbot.keyClick(combo, Qt.Key.Key_Down if down else Qt.Key.Key_Up)
    assert combo.currentText() == words


def test_a_log_of_other_origin_is_offered_previewed_and_brought_in(qtbot, window, tmp_path, swept):
    """Opening a foreign file asks, shows what was found, and makes an ordinary recording."""
    log = tmp_path / "scope.csv"
    scope_log(log, swept)
    window.session.open(log)
    wait_told(qtbot, window, "Import it as a log of other origin?")
    press(qtbot, window.notice.answers[0])
    pane = window.pages["keep"].bring_in
    qtbot.waitUntil(lambda: pane.found is not None, timeout=PATIENCE_MS)
    assert pane.isVisible()
    # The focus is where it goes on, not on the rail that came after the button.
    assert window.focusWidget() is pane.table.parts[1]
    # Two columns of readings: it asks which is which, in words of its own, above the table.
    assert "pick which is track a" in pane.question.text()
    assert "--" not in pane.question.text()
    for place, words in ((0, "time"), (1, "track a"), (2, "track b")):
        pick(qtbot, pane.table.parts[place], words)
    qtbot.waitUntil(lambda: not pane.findChild(Worker).busy and pane.take.isEnabled(),
                    timeout=PATIENCE_MS)
    assert pane.understood.text() == (
        f"Understood: {swept.rows} rows; time = 'Zeit (s)' in s; a = 'CH1 (V)' in V; "
        "b = 'CH2 (V)' in V")
    assert pane.not_understood.text() == "Not understood: nothing"
    assert [c.currentText() for c in pane.table.parts] == ["time", "track a", "track b"]
    assert pane.table.item(2, 1).text() == f"{swept.channel('a').volts()[0]:.4f}".replace(".", ",")
    press(qtbot, pane.take)
    wait_opened(qtbot, window)
    made = read_recording(window.session.path)
    assert made.rows == swept.rows
    assert np.allclose(made.channel("a").volts(), swept.channel("a").volts(), atol=1e-4)
    assert log.exists()


def test_what_cannot_be_found_is_asked(qtbot, window, tmp_path):
    """A log without times says so beside the preview, and is only taken once that is answered."""
    log = tmp_path / "bare.csv"
    random = np.random.default_rng(1)
    log.write_text("\n".join(f"{v:.3f},{v + 0.1:.3f}" for v in random.uniform(1, 4, 400)) + "\n")
    window.go_to("keep")
    page = window.pages["keep"]
    page.open_foreign(log)
    pane = page.bring_in
    qtbot.waitUntil(lambda: bool(pane.question.text()), timeout=PATIENCE_MS)
    assert not pane.take.isEnabled()
    pane.numbers["rate_hz"].setFocus()
    qtbot.keyClicks(pane.numbers["rate_hz"], "200")
    qtbot.keyClick(pane.numbers["rate_hz"], Qt.Key.Key_Return)
    pick(qtbot, pane.table.parts[0], "track a")
    pick(qtbot, pane.table.parts[1], "track b")
    qtbot.waitUntil(lambda: pane.table.units[0].isEnabled(), timeout=PATIENCE_MS)
    pick(qtbot, pane.table.units[0], "V")
    qtbot.waitUntil(lambda: not pane.findChild(Worker).busy and pane.take.isEnabled(),
                    timeout=PATIENCE_MS)
    pane.numbers["rate_hz"].setText("fast")
    pane.numbers["rate_hz"].editingFinished.emit()
    # Beside the field concerned, and gone with the next letter.
    assert pane.troubles["rate_hz"].text() == "'fast' is no number"
    assert not pane.take.isEnabled()
    qtbot.keyClicks(pane.numbers["rate_hz"], "1")
    assert pane.troubles["rate_hz"].text() == ""


def test_a_part_is_one_columns_and_its_unit_is_picked_above_it(qtbot, window, tmp_path, swept):
    """Two columns of one part are asked about; millivolts are told column by column."""
    log = tmp_path / "logger.csv"
    a, b = (swept.channel(c).volts() for c in ("a", "b"))
    log.write_text("s,one,two\n" + "".join(
        f"{t:.4f},{1000 * x:.1f},{y:.4f}\n" for t, x, y in zip(swept.time_s, a, b, strict=True)))
    window.go_to("keep")
    page = window.pages["keep"]
    page.open_foreign(log)
    pane = page.bring_in
    qtbot.waitUntil(lambda: pane.found is not None, timeout=PATIENCE_MS)
    for place, words in ((0, "time"), (2, "track a"), (1, "track a")):
        pick(qtbot, pane.table.parts[place], words)
    assert pane.question.text() == "Two columns are picked as track a; leave one of them out"
    assert not pane.take.isEnabled()
    pick(qtbot, pane.table.parts[2], "track b")
    assert [c.currentText() for c in pane.table.parts] == ["time", "track a", "track b"]
    qtbot.waitUntil(lambda: pane.table.units[2].isEnabled(), timeout=PATIENCE_MS)
    for place, unit in ((0, "s"), (1, "mV"), (2, "V")):
        pick(qtbot, pane.table.units[place], unit)
    pick(qtbot, pane.kinds["pedal_kind"], "Hall sensors that follow their supply")
    qtbot.waitUntil(lambda: not pane.findChild(Worker).busy and pane.take.isEnabled(),
                    timeout=PATIENCE_MS)
    press(qtbot, pane.take)
    wait_opened(qtbot, window)
    made = read_recording(window.session.path)
    assert np.allclose(made.channel("a").volts(), a, atol=1e-4)
    assert np.allclose(made.channel("b").volts(), b, atol=1e-4)
    assert made.pedal.kind == "hall"


@pytest.mark.parametrize("kind", ["pdf", pytest.param("html", marks=pytest.mark.long)])
def test_the_report_is_written_beside_the_window(qtbot, window, tmp_path, swept, kind):
    """The report comes out of a second process; the window goes on meanwhile."""
    path = tmp_path / "sweep.csv"
    write_recording(path, swept)
    open_file(qtbot, window, path)
    window.go_to("keep")
    page = window.pages["keep"]
    press(qtbot, page.report_buttons[("pdf", "html").index(kind)])
    assert window.work_bar.isVisible()
    wait_told(qtbot, window, f"sweep-report.{kind}")
    data = (tmp_path / f"sweep-report.{kind}").read_bytes()
    # PDF: ISO 32000-1, 7.5.2 (file header).
    assert data.startswith(b"%PDF-") if kind == "pdf" else b"<svg" in data


def test_a_report_that_cannot_be_written_is_told_in_one_line(qtbot, window, tmp_path, swept):
    """The second process's one line arrives in the window."""
    path = tmp_path / "sweep.csv"
    write_recording(path, swept)
    open_file(qtbot, window, path)
    page = window.pages["keep"]
    page.folder.setText(str(tmp_path / "not there"))
    page.save_report("pdf")
    text = wait_told(qtbot, window, "cannot write")
    assert "Traceback" not in text


def test_what_forbids_driving_stands_above_the_values_until_they_are_kept(qtbot, window):
    """Neither page that shows or saves the values lets go of "Do not drive"."""
    samples = ROOT / "sample_sweeps"
    open_file(qtbot, window, samples / "synthetic_wiper_dropouts.csv")
    for page in ("decide", "keep"):
        assert window.pages[page].next_step().text.startswith("Do not drive")
    open_file(qtbot, window, samples / "synthetic_healthy_pair.csv")
    for page in ("decide", "keep"):
        assert "not drive" not in window.pages[page].next_step().text
