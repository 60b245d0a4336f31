"""In the car: the key-on log in the window, live and opened from a file."""

from pathlib import Path

import numpy as np
import pyqtgraph as pg
import pytest
from places import ROOT
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from window_driver import (
    PATIENCE_MS,
    cleared,
    connect,
    link_is,
    open_file,
    open_window,
    press,
    wait_told,
)

from analysis.key_on import analyse_key_on
from bench.errors import BadCall
from bench.files.recording_file import read_recording
from bench.plots.key_on import KEY_ON_FIGURES, draw_key_on
from bench.plots.style import PAPER
from bench.services.key_on import LoggerOptions, new_capture
from bench.services.record import FileListener, Order
from bench.services.settings import sheet_of
from bench.window.live import Taken
from bench.window.pages.page import NextStep
from bench.wording.face import WINDOW
from bench.wording.key_on_sentences import log_sentences
from bench.wording.pages import in_car as words
from bench.wording.pages import shared
from bench.wording.reasons import in_words
from bench.wording.sweep import sentences

SAMPLES = ROOT / "sample_sweeps"
NOISY = SAMPLES / "synthetic_key_on_switching_noise.csv"
OFFSET = SAMPLES / "synthetic_key_on_ground_offset.csv"


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


def open_log(qtbot, window, path: Path) -> None:
    window.session.open(path)
    qtbot.waitUntil(lambda: window.session.key_on_path == path
                    and not window.session.work.busy, timeout=PATIENCE_MS)


def test_logging_the_simulated_car(qtbot, tmp_path):
    """From the cautions to the verdict: the log is kept, closed properly, and read at once."""
    window = open_window(qtbot, tmp_path)
    window.session.preferences.setValue("sweep/folder", str(tmp_path))
    window.session.bench.speed = 10.0
    page, link = window.pages["in_car"], window.session.bench.link
    connect(qtbot, window, "simulated")
    window.go_to("in_car")
    assert window.step_bar.action.text() == "All of this is so"
    press(qtbot, window.step_bar.action)
    qtbot.waitUntil(lambda: window.step_bar.action.text() == "Start the log", timeout=PATIENCE_MS)
    assert not window.step_bar.action.isEnabled()
    press(qtbot, page.contactor.buttons["closed"])
    press(qtbot, window.step_bar.action)
    qtbot.waitUntil(lambda: link.state == "recording" and link.file.key_ons >= 3,
                    timeout=PATIENCE_MS)
    qtbot.waitUntil(lambda: window.step_bar.text.text() == "Logging: foot off the pedal.",
                    timeout=PATIENCE_MS)
    assert not window.step_bar.action.isVisible()
    if link.state == "recording":
        press(qtbot, page.live.stop)
    qtbot.waitUntil(lambda: window.session.key_on is not None, timeout=PATIENCE_MS)
    recording = read_recording(window.session.key_on_path)
    assert recording.complete
    assert recording.purpose == "key-on"
    assert len(window.session.key_on.cycles) >= 2
    assert window.page is page
    assert page.sentences.count() > 3


def test_sweeping_is_not_possible_while_the_car_is_logged(qtbot, tmp_path):
    """One board, one recording at a time: the other page says so."""
    window = open_window(qtbot, tmp_path)
    window.session.preferences.setValue("sweep/folder", str(tmp_path))
    window.session.bench.speed = 10.0
    connect(qtbot, window, "simulated")
    window.session.accept_car_cautions()
    window.go_to("in_car")
    window.pages["in_car"].start()
    link = window.session.bench.link
    qtbot.waitUntil(lambda: link.state == "recording", timeout=PATIENCE_MS)
    window.go_to("sweep")
    assert window.step_bar.text.text() == "The car is being logged."
    assert not window.pages["sweep"].discard_button.isVisible()
    path = link.file.path
    qtbot.waitUntil(lambda: link.file.writer is not None and link.file.writer.rows > 100,
                    timeout=PATIENCE_MS)
    window.close()
    assert read_recording(path).complete


def test_a_log_opens_on_its_own_page_judged_by_the_open_sweep(qtbot, window):
    """The verdict is that of the analysis with the settings of the sweep on show."""
    open_file(qtbot, window, SAMPLES / "synthetic_healthy_pair.csv")
    open_log(qtbot, window, OFFSET)
    page = window.pages["in_car"]
    assert window.page is page
    expected = analyse_key_on(read_recording(OFFSET), window.session.parameters, (),
                              window.session.findings)
    shown = [page.sentences.item(k).data(Qt.ItemDataRole.UserRole).sentence
             for k in range(page.sentences.count())]
    assert shown == [*log_sentences(expected), *map(in_words, expected.notes)]
    # The first sentence leads; all of it stands in the list.
    lead = window.step_bar.text.text()
    assert len(lead) > 20
    assert log_sentences(expected)[0].startswith(lead)
    page.copy()
    assert log_sentences(expected)[0].split(".")[0][:40] in QApplication.clipboard().text()


def test_the_measured_allowance_goes_to_the_page_decide(qtbot, window):
    """What the log measured takes the place of what was assumed, until it is typed over."""
    open_file(qtbot, window, SAMPLES / "synthetic_healthy_pair.csv")
    open_log(qtbot, window, NOISY)
    found = window.session.key_on
    press(qtbot, window.pages["in_car"].use)
    assert window.page is window.pages["decide"]
    for name in "ab":
        item = next(i for i in window.session.findings.dead_bands[name].items if "car" in i.name)
        assert (item.basis, item.volts) == (found.car[name].basis, found.car[name].volts)
    # It was the sweep's own value that was passed, and not the one on show now.
    assert found.verdict.applied
    window.go_to("read")
    assert "In the car, with the values judged there: POWER" in window.step_bar.more.text()
    # What the log warns of goes with the values, and leaves with them.
    assert any(NOISY.name in w and "contactor" in w
               for w in sheet_of(window.session.findings).warnings)
    window.session.set_parameters(car_allowance_volts=0.05)
    assert not any(NOISY.name in w for w in sheet_of(window.session.findings).warnings)
    item = next(i for i in window.session.findings.dead_bands["a"].items if "car" in i.name)
    assert (item.basis, item.volts) == ("stated", 0.05)


def test_what_the_sweep_forbids_has_the_same_word_beside_the_log(qtbot, window):
    """A track that is off at rest is to be repaired first on Read, and so it is in the car."""
    open_file(qtbot, window, SAMPLES / "synthetic_off_at_rest.csv")
    open_log(qtbot, window, SAMPLES / "synthetic_key_on_quiet_car.csv")
    page, found = window.pages["in_car"], window.session.key_on
    said = [page.sentences.item(k).data(Qt.ItemDataRole.UserRole)
            for k in range(page.sentences.count())]
    for finding in found.forbidding:
        text, = sentences((finding,), WINDOW)
        assert [s.gravity for s in said if s.sentence == text] == [finding.gravity]
    assert found.forbidding
    # The large button leads to what mends it.
    assert (page.next_step().action, page.next_step().label) == ("decide", "Decide what to set")
    press(qtbot, window.step_bar.action)
    assert window.page is window.pages["decide"]


def test_nothing_is_logged_before_the_cautions_and_without_a_board(window, monkeypatch):
    """Each thing that is missing is the next step, and its button goes to where it is mended."""
    session, link = window.session, window.session.bench.link
    monkeypatch.setattr(session, "car_cautions_read", False)
    window.go_to("in_car")
    page = window.page
    page.start()
    assert page.next_step() == NextStep(words.CAUTIONS_FIRST, "", "accept cautions")
    session.accept_car_cautions()
    assert page.next_step() == NextStep(shared.CONNECT, words.CONNECT_MORE, "wire up")
    page.act()
    assert window.page is window.pages["wire_up"]
    window.go_to("in_car")
    page.start()
    assert window.page is window.pages["wire_up"]
    assert link.state == "idle"


def test_while_the_board_is_at_something_else_nothing_is_offered(window, monkeypatch):
    """One board, one recording at a time; a press where the button was does nothing."""
    window.session.accept_car_cautions()
    window.go_to("in_car")
    page = window.page
    for state, purpose, said in (("recording", "sweep", shared.SWEEP_RECORDED),
                                 ("recording", "proof", shared.PROOF_RECORDED),
                                 ("opening", "", shared.OPENING)):
        link_is(window, monkeypatch, state=state, purpose=purpose)
        assert window.step_bar.text.text() == said
        assert not window.step_bar.action.isVisible()
        page.act()
        assert window.page is page


def test_a_cable_out_while_the_car_is_logged_is_told_and_nothing_is_called_lost(
        window, monkeypatch):
    """The log goes on when it is in again; a log opened meanwhile does not hide the one that runs.
    """
    window.go_to("in_car")
    page = window.page
    link_is(window, monkeypatch, state="recording", purpose="key-on", lost=True)
    assert window.step_bar.text.text() == shared.LOST
    assert window.step_bar.more.text() == words.NOTHING_LOST
    assert page.status() == ("logging…", False)
    before = page.live.verdict.text
    page.paint()
    assert page.live.verdict.text == before
    window.session.take_key_on(analyse_key_on(read_recording(OFFSET)), None)
    assert page.stack.currentWidget() is page.live
    link_is(window, monkeypatch, state="idle", lost=False)
    assert page.stack.currentWidget() is page.read
    assert page.subject() == ""


@pytest.mark.parametrize("purpose", ["sweep", "proof", "key-on"])
@pytest.mark.parametrize("error", [None, "The port is gone."])
def test_a_recording_without_a_row_is_told_whatever_it_was_of(window, tmp_path, purpose, error):
    """One sentence, why where it is known, and no file is opened."""
    for key in ("sweep", "proof", "in_car"):
        window.go_to(key)
    link, path = window.session.bench.link, tmp_path / "none.csv"
    file = (FileListener(path, purpose) if purpose != "key-on" else
            new_capture(Order(purpose, path), LoggerOptions(), lambda _text: None))
    window.notice.hide()
    link.taken.emit(Taken(purpose, file, error, False))
    assert window.notice.isVisible()
    usual = words.NEVER_STARTED if purpose == "key-on" else shared.NO_ROW
    assert window.notice.text.text() == (error or usual)
    assert not window.session.work.busy
    assert not path.exists()


def test_without_a_log_nothing_is_copied_or_judged(window):
    """The keys of the page do nothing before there is a log, and the clipboard stays."""
    window.go_to("in_car")
    page, session = window.page, window.session
    QApplication.clipboard().setText("mine")
    page.copy()
    page.use_measured()
    session.judge_key_on("closed")
    page.stated.picked.emit()
    assert QApplication.clipboard().text() == "mine"
    assert window.page is page
    assert not session.work.busy
    session.take_measured()
    assert "judged" in window.notice.text.text()


def test_a_log_goes_home_where_its_folder_is_gone(window, monkeypatch, tmp_path):
    """A stick that was pulled out: what is logged must lie somewhere."""
    session, asked = window.session, []
    session.accept_car_cautions()
    session.preferences.setValue("sweep/folder", str(tmp_path / "pulled out"))
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    monkeypatch.setattr(session.bench, "log_car", lambda order, *_: asked.append(order))
    session.bench.edits.begin(read_recording(OFFSET).channels)
    window.go_to("in_car")
    window.page.start()
    session.bench.edits.begin(())
    assert [order.path.parent for order in asked] == [tmp_path]


@pytest.fixture(scope="module")
def logged():
    return analyse_key_on(read_recording(OFFSET))


@pytest.mark.parametrize("name", KEY_ON_FIGURES)
def test_key_on_figures_draw_what_was_found(plot_page, logged, name):
    """Each figure is filled from the findings, and drawing again replaces it."""
    plot = plot_page.addPlot(enableMenu=False)
    draw_key_on(name, plot, logged, PAPER)
    first = len(plot.items)
    assert first
    draw_key_on(name, plot, logged, PAPER)
    assert len(plot.items) == first
    # Words in a plot would lie over readings: a level is named below it.
    assert not [i for i in plot.items if isinstance(i, pg.TextItem)
                or (isinstance(i, pg.InfiniteLine) and getattr(i, "label", None) is not None)]
    if name == "shifts":
        dots = [i for i in plot.items if isinstance(i, pg.ScatterPlotItem)]
        found = [1000 * c.tracks["a"].shift.value for c in logged.cycles]
        assert dots[0].getData()[1] == pytest.approx(np.array(found))
    with pytest.raises(BadCall, match="no key-on figure 'pie'"):
        draw_key_on("pie", plot, logged, PAPER)


def test_a_log_that_never_started_is_told(qtbot, tmp_path):
    """Stopping before the key was turned gives a sentence, not an empty page."""
    window = open_window(qtbot, tmp_path)
    window.session.preferences.setValue("sweep/folder", str(tmp_path))
    window.session.bench.speed = 0.2
    connect(qtbot, window, "simulated")
    window.session.accept_car_cautions()
    window.go_to("in_car")
    window.pages["in_car"].start()
    link = window.session.bench.link
    qtbot.waitUntil(lambda: link.state == "recording" and link.source is not None,
                    timeout=PATIENCE_MS)
    page = window.pages["in_car"]
    qtbot.waitUntil(lambda: page.live.doing.text == "Turn the key on.", timeout=PATIENCE_MS)
    # No sweep is open: there is nothing to judge by, and that is said at once.
    assert page.live.verdict.text == "▲ No verdict: no start of travel for track a, b."
    assert window.step_bar.text.text() == "The log waits for the key."
    link.stop()
    wait_told(qtbot, window, "logged")
    assert window.session.key_on is None
