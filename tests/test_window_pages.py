"""Reading, deciding, keeping: what the pages show, and that they survive whatever is opened."""

import time

import numpy as np
import pyqtgraph as pg
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QDialog,
    QLineEdit,
    QListWidget,
    QPlainTextEdit,
    QSlider,
    QTableWidget,
)
from window_drive import PATIENCE_MS, open_file, open_window, press, wait_opened, wait_told

from analysis.findings import analyse, decide
from analysis.recording import Channel, Recording
from analysis.synthetic import SimulatedSweep, pedal_named, simulate_sweep
from bench.exports import settings_formats
from bench.figures import columns
from bench.recording_file import read_recording, write_recording


def swept(pedal: str, seed: int = 1) -> SimulatedSweep:
    """Return a simulated sweep at 500 rows a second, 12 bits."""
    return simulate_sweep(pedal_named(pedal), 500.0, 12, seed=seed)


@pytest.fixture(scope="module")
def worn(tmp_path_factory):
    """Return a recording with wiper dropouts on track b, as the simulator knows."""
    path = tmp_path_factory.mktemp("recordings") / "dropouts.csv"
    write_recording(path, swept("dropouts", seed=3).recording)
    return path


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    path = tmp_path_factory.mktemp("recordings") / "healthy.csv"
    write_recording(path, swept("healthy", seed=4).recording)
    return path


def test_reading_shows_every_sentence_and_every_plot(qtbot, tmp_path, worn):
    """The verdict stands in the analysis's order, each sentence with its evidence."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, worn)
    page, findings = window.pages["Read"], analyse(read_recording(worn), window.session.wishes)
    assert window.page is page
    shown = [page.sentences.item(k).text() for k in range(page.sentences.count())]
    assert shown == [*findings.verdict, *findings.notes]
    first = page.sentences.item(0).data(Qt.ItemDataRole.UserRole)
    assert first.gravity == 3
    assert "Seen at" in first.evidence
    assert set(page._views) == {("traces", None), ("pair", None), ("mismatch", None),
                                ("play", None), ("noise", None), ("rest", "a"), ("rest", "b")}
    assert all(view.plot.items for view in page._views.values())


def test_a_picked_fault_moves_every_plot_to_it(qtbot, tmp_path, worn):
    """Arrow keys in the list of faults take the traces to the fault and mark the others."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, worn)
    page = window.pages["Read"]
    fault = window.session.findings.faults[1]
    page.faults.setFocus()
    qtbot.keyClick(page.faults, Qt.Key.Key_Down)
    qtbot.keyClick(page.faults, Qt.Key.Key_Down)
    row = page.faults.currentRow()
    fault = window.session.findings.faults[row]
    low, high = page._views[("traces", None)].plot.viewRange()[0]
    assert low < fault.time_s < high < low + 4.0
    for key in ("mismatch", "play", "noise"):
        lines = [i.value() for i in page._views[(key, None)].plot.items
                 if isinstance(i, pg.InfiniteLine) and i.angle == 90]
        assert fault.travel_percent in lines
    qtbot.keyClick(page.faults, Qt.Key.Key_Home, Qt.KeyboardModifier.NoModifier)
    page.see_whole()

    def sees_the_whole() -> bool:
        # pyqtgraph works the range out when it paints next.
        low, high = page._views[("traces", None)].plot.viewRange()[0]
        return high - low > 50.0

    qtbot.waitUntil(sees_the_whole, timeout=PATIENCE_MS)


def test_wishes_change_the_values_at_once(qtbot, tmp_path, sound):
    """The page shows what `decide` says for the wishes on its sliders, within 100 ms.

    Of this process's own time: other work on the machine is no fault of the window.
    """
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    window.go_to("Decide")
    page, session = window.pages["Decide"], window.session
    before = session.findings.dead_bands["a"].start_of_travel_volts
    taken = []
    for value in (0.02, 0.05, 0.08, 0.11, 0.14):
        start = time.process_time()
        page.fields["margin_volts"].field.setValue(value)
        qtbot.waitUntil(lambda v=value: session.wishes.margin_volts == pytest.approx(v),
                        timeout=PATIENCE_MS)
        QApplication.processEvents()
        taken.append(time.process_time() - start)
    expected = decide(session.findings, session.wishes)
    assert session.findings.settings == expected.settings
    after = session.findings.dead_bands["a"].start_of_travel_volts
    assert after - before == pytest.approx(0.14, abs=1e-6)
    row = next(r for r in range(page.values.rowCount())
               if page.values.item(r, 0).text() == "start of travel, a")
    # Rounded up to the millivolt: a start of travel may only grow.
    shown = float(page.values.item(row, 1).text().split()[0])
    assert after <= shown + 1e-9 <= after + 0.001 + 1e-9
    assert page._numbers["a"][0].text() == page.values.item(row, 1).text()
    assert min(taken) < 0.1


def test_a_wish_out_of_range_is_told_and_not_taken(qtbot, tmp_path, sound):
    """A target off the scale gives a sentence; the values stay as they were."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    wishes = window.session.wishes
    window.session.set_wishes(confidence=2.0)
    assert window.session.wishes == wishes
    assert "confidence is 2.0" in wait_told(qtbot, window, "confidence")


def test_a_target_opens_the_remedies(qtbot, tmp_path, sound):
    """A ticked target rest is a wish of the analysis, and the ways of turning follow it."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    window.go_to("Decide")
    target = window.pages["Decide"]._targets[("target_rest_volts", "a")]
    target.wanted.click()
    target.field.setValue(0.6)
    assert window.session.wishes.target_rest_volts == {"a": 0.6}
    turn = next(r for r in window.session.findings.remedies["a"] if r.kind == "turn")
    assert turn.amount > 0
    target.wanted.click()
    assert window.session.wishes.target_rest_volts == {}


def test_values_are_copied_in_the_unit_picked(qtbot, tmp_path, sound):
    """A picked value goes to the clipboard as it is shown."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    window.go_to("Decide")
    page = window.pages["Decide"]
    page.unit.setCurrentIndex(page.unit.findData("millivolts"))
    page.values.setCurrentCell(1, 0)
    page.copy()
    assert QApplication.clipboard().text() == page.values.item(1, 1).text()
    assert QApplication.clipboard().text().endswith(" mV")


def test_settings_are_saved_in_every_format(qtbot, tmp_path, sound):
    """Each button writes what the exporter of that format gives, beside the recording."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    window.go_to("Keep")
    page = window.pages["Keep"]
    page.folder.setText(str(tmp_path))
    for form, made in page.format_buttons.items():
        press(qtbot, made)
        path = page.target("settings", {"text": ".txt", "c": ".h"}.get(form, f".{form}"))
        assert path.read_bytes().decode() == settings_formats()[form](
            window.session.findings, path=sound)
        assert path.name in window.notice.text.text()
    template = tmp_path / "mine.txt"
    template.write_text("start {start_of_travel.a.millivolts}\n")
    filled = page.fill_template(template)
    assert filled.read_text().startswith("start ")
    template.write_text("{nonsense}")
    assert page.fill_template(template) is None
    assert "nonsense" in window.notice.text.text()


def test_every_picture_is_saved(qtbot, tmp_path, sound):
    """Each figure the list names can be saved, as PNG and as SVG."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    page = window.pages["Keep"]
    page.folder.setText(str(tmp_path))
    per_track = len(columns(window.session.findings))
    assert page.figure.count() == 5 + 2 * per_track
    for index in range(page.figure.count()):
        page.figure.setCurrentIndex(index)
        assert page.save_picture("svg").read_text().lstrip().startswith("<?xml")
        assert page.save_picture("png").read_bytes()[:4] == b"\x89PNG"


def test_a_recording_is_never_written_over(qtbot, tmp_path, sound):
    """Saving onto the name of a recording is refused and the recording stays."""
    window = open_window(qtbot, tmp_path)
    copy = tmp_path / "x-settings.csv"
    copy.write_bytes(sound.read_bytes())
    open_file(qtbot, window, sound)
    page = window.pages["Keep"]
    page.folder.setText(str(tmp_path))
    page.name.setText("x")
    assert page.save_settings("csv") is None
    assert "not written over" in window.notice.text.text()
    assert copy.read_bytes() == sound.read_bytes()


def test_before_and_after_lie_over_each_other(qtbot, tmp_path, sound, worn):
    """The earlier recording is drawn pale under the later; swapping and taking away work."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    window.session.open_before(worn)
    qtbot.waitUntil(lambda: window.session.before is not None, timeout=PATIENCE_MS)
    window.go_to("Read")
    names = [label.text for _, label in
             window.pages["Read"]._views[("traces", None)].plot.legend.items]
    assert {"a", "b", "a before", "b before"} <= set(names)
    page = window.pages["Keep"]
    page.swap()
    assert (window.session.path, window.session.before_path) == (worn, sound)
    window.go_to("Keep")
    press(qtbot, page.take_away)
    assert window.session.before is None


def test_dropped_files_open(qtbot, tmp_path, sound):
    """A recording dropped on the window is opened like any other."""
    window = open_window(qtbot, tmp_path)
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(sound))])
    window.dropEvent(QDropEvent(QPointF(50, 50), Qt.DropAction.CopyAction, data,
                                Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier))
    wait_opened(qtbot, window, sound)


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


def test_bad_files_are_refused_in_one_line(qtbot, tmp_path, sound):
    """An empty, damaged, foreign or missing file is told; what was open stays open."""
    window = open_window(qtbot, tmp_path)
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


def test_a_recording_cut_short_opens_and_says_so(qtbot, tmp_path, sound):
    """Half a file opens with all its whole rows, and the user is told."""
    window = open_window(qtbot, tmp_path)
    cut = tmp_path / "cut.csv"
    data = sound.read_bytes()
    cut.write_bytes(data[: len(data) * 2 // 3])
    open_file(qtbot, window, cut)
    assert "cut short" in window.notice.text.text()
    assert window.session.findings.recording.rows > 10_000


def test_one_channel_alone_is_enough(qtbot, tmp_path):
    """A pedal with a single track shows what can be known of it on every page."""
    path = tmp_path / "one.csv"
    made = swept("one-track").recording
    write_recording(path, Recording(made.time_s, (made.channel("a"),), rate_hz=500.0))
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, path)
    assert set(window.pages["Read"]._views) == {("traces", None), ("noise", None), ("rest", "a")}
    for title in window.pages:
        window.go_to(title)
        QApplication.processEvents()
    assert list(window.pages["Decide"]._budgets) == ["a"]


def test_a_million_rows_open(qtbot, tmp_path):
    """A recording of a million rows opens and is drawn on every page."""
    made = swept("healthy", seed=5).recording
    times = -(-1_000_000 // made.rows)
    channels = tuple(
        Channel(c.column, c.role, np.tile(c.readings, times), c.unit, c.full_scale,
                c.reference_volts, c.scale, c.offset_volts, c.nominal_volts)
        for c in made.channels)
    path = tmp_path / "million.csv"
    long = Recording(np.arange(made.rows * times) / 500.0, channels, rate_hz=500.0)
    write_recording(path, long)
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, path)
    assert window.session.findings.recording.rows >= 1_000_000
    for title in ("Read", "Decide", "Keep"):
        window.go_to(title)
        assert not window.grab().isNull()


def test_state_is_remembered(qtbot, tmp_path, sound):
    """Wishes, look, page, board, channel names and recent files are there the next time."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    window.session.set_wishes(margin_volts=0.033)
    window.choose_look("dark")
    window.go_to("Decide")
    window.close()
    again = open_window(qtbot, tmp_path)
    assert again.session.wishes.margin_volts == pytest.approx(0.033)
    assert again.session.skin.look.name == "dark"
    assert again.page is again.pages["Decide"]
    assert again.session.recent() == [str(sound)]
    recent = again.pages["Keep"].recent
    again.go_to("Keep")
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
    assert edits.wishes().columns == ("upper", "b", "supply")


def test_ctrl_z_in_the_name_field_takes_the_edit_back(qtbot, tmp_path):
    """With the cursor still in the field, Ctrl+Z undoes the edit of the channel, not the typing."""
    window = open_window(qtbot, tmp_path)
    edits = window.session.bench.edits
    edits.begin(swept("healthy").recording.channels)
    window.go_to("Wire up")
    name = window.pages["Wire up"].rows.rows[0].name
    name.setFocus()
    name.selectAll()
    qtbot.keyClicks(name, "upper")
    qtbot.keyClick(name, Qt.Key.Key_Return)
    assert edits.channels[0].column == "upper"
    qtbot.keyClick(name, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert edits.channels[0].column == "a"
    assert name.text() == "a"


def test_a_name_typed_for_the_files_stays(qtbot, tmp_path, sound, worn):
    """Laying an earlier recording under it does not change where things are saved."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    page = window.pages["Keep"]
    page.name.setText("left pedal")
    window.session.take_before(window.session.findings, worn)
    assert page.name.text() == "left pedal"
    open_file(qtbot, window, worn)
    assert page.name.text() == worn.stem


def test_light_and_dark(qtbot, tmp_path, sound):
    """Every page takes on the dark look, figures included, and the choice is a menu entry."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    for choice, dark in (("dark", True), ("light", False)):
        window.look_actions[choice].trigger()
        for title in window.pages:
            window.go_to(title)
            image = window.grab().toImage()
            # Somewhere in the middle of the page's lower edge: plain ground in every page.
            assert (image.pixelColor(image.width() - 4, image.height() - 4).lightness()
                    < 128) == dark, title
        ground = window.pages["Read"]._views[("traces", None)].backgroundBrush().color()
        assert (ground.lightness() < 128) == dark


def test_every_control_has_a_name_for_screen_readers(qtbot, tmp_path, sound):
    """No control that takes the focus is nameless."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    edits = window.session.bench.edits
    edits.begin(swept("healthy").recording.channels)
    for title in window.pages:
        window.go_to(title)
    kinds = (QAbstractButton, QComboBox, QSlider, QAbstractSpinBox, QListWidget, QTableWidget,
             QPlainTextEdit)
    nameless = [w for kind in kinds for w in window.findChildren(kind)
                if not w.accessibleName() and w.focusPolicy() != Qt.FocusPolicy.NoFocus]
    nameless += [w for w in window.findChildren(QLineEdit) if not w.accessibleName()
                 and not isinstance(w.parent(), QComboBox | QAbstractSpinBox)]
    assert not [(type(w).__name__, w.objectName(), w.parent()) for w in nameless]


def test_about_shows_version_and_licence_without_blocking(qtbot, tmp_path):
    """Help shows the licence as it was delivered, in a pane that blocks nothing."""
    window = open_window(qtbot, tmp_path)
    next(a for a in window.help_menu.actions() if "About" in a.text()).trigger()
    pane = window.findChildren(QDialog)[-1]
    assert not pane.isModal()
    text = pane.findChild(QPlainTextEdit).toPlainText()
    assert "Permission is hereby granted, free of charge" in text  # MIT licence, SPDX text
    pane.close()


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


def test_a_bug_in_a_job_is_told_not_raised(qtbot, tmp_path):
    """An error nobody foresaw becomes a sentence that asks for a report."""
    window = open_window(qtbot, tmp_path)

    def broken(_progress):
        raise ZeroDivisionError("oops")

    window.session.work.run("Breaking", broken)
    assert "please report" in wait_told(qtbot, window, "oops")
