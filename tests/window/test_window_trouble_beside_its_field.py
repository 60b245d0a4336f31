"""What is refused stands beside the field concerned, and vanishes when that is solved.

Common practice, no source: whoever types looks at the field, not at the foot of the window.
"""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from findings_by_hand import SAMPLES
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QDoubleSpinBox
from recorded_sweeps import swept
from window_driver import PATIENCE_MS, link_is

from bench.errors import ScaleUnknown
from bench.services.boards import ChannelOptions
from bench.services.findings import open_findings
from bench.window import parameter_change
from bench.window.channel_rows import full_volts
from bench.window.field_trouble import FieldTrouble
from bench.window.pages.page import NextStep
from bench.wording.pages import senders as sender_words
from bench.wording.pages import shared
from bench.wording.pages import wire_up as words

WINDOW_SIZE = (1366, 720)


def typed(qtbot, field, text):
    """Type into a field in place of what stands there, and press Return."""
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def beside(trouble: FieldTrouble) -> bool:
    """Say whether a line of trouble stands right below its field, in sight of whoever types."""
    field, window = trouble.field, trouble.window()
    below = trouble.mapTo(window, QPoint(0, 0)).y() - field.mapTo(
        window, QPoint(0, field.height())).y()
    return trouble.isVisible() and 0 <= below < 60


def test_a_name_that_is_taken_is_refused_below_its_input(qtbot, window):
    """What was typed stays to be corrected; the first letter takes the trouble away."""
    edits = window.session.bench.edits
    edits.begin(swept("healthy").recording.channels)
    window.go_to("wire_up")
    rows = window.pages["wire_up"].rows.rows
    second, trouble = rows[1].name, rows[1].troubles["column"]
    typed(qtbot, second, "a")
    qtbot.waitUntil(lambda: beside(trouble), timeout=PATIENCE_MS)
    assert "called 'a'" in trouble.text()
    assert trouble.text().endswith("Not taken: it is still b.")
    assert second.text() == "a"
    assert not window.notice.isVisible()
    assert edits.channels[1].column == "b"
    qtbot.keyClicks(second, "2")
    assert not trouble.isVisible()
    qtbot.keyClick(second, Qt.Key.Key_Return)
    assert edits.channels[1].column == "a2"
    assert not trouble.wrong


def test_a_number_beyond_its_limits_may_be_typed_and_is_told_beside_it(qtbot, window):
    """In the words of the command line, with the limits; the value before stays in the field."""
    path = SAMPLES / "synthetic_healthy_pair.csv"
    window.session.take(open_findings(path), path)
    window.go_to("decide")
    page = window.pages["decide"]
    field = page.fields["allowed_lost_travel_percent"]
    assert isinstance(field.field, QDoubleSpinBox)
    typed(qtbot, field.field, "2000")
    qtbot.waitUntil(lambda: beside(field.trouble), timeout=PATIENCE_MS)
    low, high = field.row.low, field.row.high
    assert "is 2000" in field.trouble.text()
    assert f"from {low:g} to {high:g}" in field.trouble.text()
    assert field.field.value() == window.session.parameters.allowed_lost_travel_percent == 5.0
    assert not window.notice.isVisible()
    typed(qtbot, field.field, "6")
    qtbot.waitUntil(lambda: window.session.parameters.allowed_lost_travel_percent == 6.0,
                    timeout=PATIENCE_MS)
    assert not field.trouble.isVisible()
    # Another recording: what was refused before is no trouble of it.
    typed(qtbot, field.field, "2000")
    qtbot.waitUntil(lambda: field.trouble.wrong, timeout=PATIENCE_MS)
    window.session.take(open_findings(SAMPLES / "synthetic_off_at_rest.csv"), path)
    QApplication.processEvents()
    assert not field.trouble.wrong


def test_a_parameter_that_makes_no_sense_is_not_taken(window):
    """Whoever asks gets the reason, and the values stay as they were."""
    parameters = window.session.parameters
    told = window.session.set_parameters(confidence=2.0)
    assert "Confidence of the bounds is 2.0; use a value from 0.5 to 0.9999" in told
    assert window.session.parameters == parameters


def test_a_list_of_points_that_is_none_is_told_until_another_text_stands_there(qtbot, window):
    """A change of another parameter shows every value anew: what was refused is gone with why."""
    path = SAMPLES / "synthetic_healthy_pair.csv"
    window.session.take(open_findings(path), path)
    window.go_to("decide")
    page = window.pages["decide"]
    page.column.fold(True)
    field = next(f for f in page.fields.values() if f.row.kind == "points")
    before = field.field.text()
    typed(qtbot, field.field, "0:0,nonsense")
    qtbot.waitUntil(lambda: beside(field.trouble), timeout=PATIENCE_MS)
    assert getattr(window.session.parameters, field.row.name) == before
    assert window.session.set_parameters(margin_volts=0.01) == ""
    assert field.field.text() == before
    assert not field.trouble.wrong
    assert window.session.set_parameters(margin_volts=0.0) == ""
    page.column.fold(False)


def test_a_change_that_cannot_be_taken_back_is_told(window, monkeypatch):
    """The target of a track that this recording has not; the values stay, and so say the fields."""
    # Two changes, however quick the machine.
    monkeypatch.setattr(parameter_change, "ONE_S", -1.0)
    session, path = window.session, SAMPLES / "synthetic_healthy_pair.csv"
    session.take(open_findings(path), path)
    session.undo.clear()
    for targets in ({"b": 0.7}, {}):
        assert session.set_parameters(target_rest_volts=targets) == ""
    alone = SAMPLES / "synthetic_one_track.csv"
    session.take(open_findings(alone), alone)
    window.notice.hide()
    session.undo.undo()
    assert session.parameters.target_rest_volts == {}
    assert window.notice.isVisible()
    assert "'b'" in window.notice.text.text()
    assert session.set_parameters(margin_volts=0.0) == ""
    assert not window.notice.isVisible()
    session.undo.clear()


def test_a_speed_that_is_no_number_is_told_below_it(qtbot, window):
    """Nothing is connected; another speed takes the trouble away."""
    window.session.accept_cautions()
    window.go_to("wire_up")
    page = window.pages["wire_up"]
    page.board.setCurrentText("/dev/not-there")
    page.baud.setCurrentText("fast")
    page.connect_board()
    trouble = page.card.number_troubles[0]
    assert trouble.text() == "'fast' is no whole number above 0; correct it."
    assert window.session.bench.link.state == "idle"
    assert not window.notice.isVisible()
    page.baud.setCurrentText("115200")
    assert not trouble.wrong
    page.board.setCurrentText("")


def test_a_folder_that_is_not_there_is_told_below_it(qtbot, window, tmp_path):
    """What was to be saved is saved once the folder is another."""
    path = SAMPLES / "synthetic_healthy_pair.csv"
    window.session.take(open_findings(path), path)
    window.go_to("keep")
    card = window.pages["keep"].save_card
    card.folder.setText(str(tmp_path / "not there"))
    assert card.save_settings("text") is None
    assert card.troubles[0].wrong
    assert "not there" in card.troubles[0].text()
    assert not window.notice.isVisible()
    card.folder.setText(str(tmp_path))
    assert not card.troubles[0].wrong
    assert card.save_settings("text") is not None


def test_a_stated_value_is_refused_below_its_field(qtbot, window):
    """A sender's resistor that is no number, or below 0, and a tolerance of no number."""
    window.go_to("senders")
    fields = window.pages["senders"].fields
    fields.kind.setCurrentText("divider")
    for name, text in (("top_ohms", "forty"), ("top_ohms", "-40k")):
        fields.stated[name].setText(text)
        assert fields.troubles[name].wrong, text
        assert fields.wrong_field.text() == ""
    for name, text in (("top_ohms", "40k"), ("bottom_ohms", "10k"), ("highest_volts", "24")):
        fields.stated[name].setText(text)
    assert fields.wrong == ""
    fields.tolerance.setText("two")
    assert fields.troubles["tolerance"].wrong
    fields.tolerance.setText("2%")
    assert fields.wrong == ""


def test_wire_up_says_what_the_board_does_and_its_button_fits(window, monkeypatch):
    """A sweep under way, a board gone silent, inputs of last time: where each is mended."""
    session, bench = window.session, window.session.bench
    session.accept_cautions()
    page = window.pages["wire_up"]
    channels = swept("healthy").recording.channels
    said = SimpleNamespace(board_name="my board", channels=channels, rate_hz=500.0)
    window.go_to("wire_up")
    link_is(window, monkeypatch, state="recording", purpose="sweep")
    assert page.next_step() == NextStep(shared.SWEEP_RECORDED, "", "to the sweep")
    page.act()
    assert window.page is window.pages["sweep"]
    window.go_to("wire_up")
    link_is(window, monkeypatch, state="live", source=said, board_name="my board")
    monkeypatch.setattr(type(bench), "unchecked", True)
    assert page.next_step() == NextStep(words.STILL_RIGHT, shared.OF_LAST_TIME, "inputs right")
    told = []
    bench.checked.connect(lambda: told.append(bench.board_name))
    page.act()
    assert told == [bench.board_name]
    monkeypatch.setattr(session.board_state, "kind", "silent")
    assert page.next_step() == NextStep(words.went_silent("my board"), words.CHECK_CABLE,
                                        "disconnect")
    page.act()
    assert bench.link.state == "idle"


def test_no_board_is_opened_before_the_cautions_and_without_its_scale(window, monkeypatch):
    """Each is said, and the cursor goes where it is missing; a port is not touched before."""
    session, link = window.session, window.session.bench.link
    window.go_to("wire_up")
    page, opened = window.page, []
    monkeypatch.setattr(session.bench, "connect_board", lambda *asked: opened.append(asked))
    monkeypatch.setattr(session, "cautions_read", False)
    page.board.setCurrentText("/dev/ttyX")
    page.connect_board()
    assert window.notice.text.text() == words.PRESS_AGREE
    monkeypatch.setattr(session, "cautions_read", True)
    link.failed.emit(ScaleUnknown("the board does not say its scale"))
    assert page.unsaid.isVisible()
    page.full_scale.setCurrentText("")
    page.baud.setFocus()
    page.connect_board()
    assert opened == []
    assert window.focusWidget() in (page.full_scale, page.full_scale.lineEdit())
    page.full_scale.setCurrentText("4096")
    page.reference.setCurrentText("5")
    page.connect_board()
    assert [asked[2] for asked in opened] == [("4096", "5")]
    page.unsaid.hide()
    page.board.setCurrentText("")


def test_inputs_of_another_board_take_the_place_of_those_before(qtbot, window):
    """Their rows, and no edit of the ones before may be taken back onto them."""
    edits, channels = window.session.bench.edits, swept("healthy").recording.channels
    window.go_to("wire_up")
    rows = window.pages["wire_up"].rows
    edits.begin(channels)
    assert edits.edit(0, "column", "upper") is None
    assert edits.undo_stack.canUndo()
    for key in ("more", "more"):
        before = rows.details.isVisible()
        getattr(rows.rows[1], key).click()
        assert rows.details.isVisible() is not before
    rows.rows[0].more.click()
    rows.rows[1].more.click()
    assert rows.details.isVisible()
    edits.begin(channels[:1])
    assert len(rows.rows) == 1
    assert not rows.details.isVisible()
    assert not edits.undo_stack.canUndo()
    assert not edits.edited
    edits.begin(())
    assert rows.rows == []
    assert edits.options() == ChannelOptions()


def test_a_name_refused_twice_is_told_once_and_stays_to_be_corrected(window):
    """Return pressed again says the same: the line does not grow or flicker."""
    edits = window.session.bench.edits
    window.go_to("wire_up")
    edits.begin(swept("healthy").recording.channels)
    row = window.pages["wire_up"].rows.rows[1]
    row.name.setText("a")
    for _ in range(2):
        row.name.editingFinished.emit()
        assert "called 'a'" in row.troubles["column"].text()
        assert row.name.text() == "a"
    edits.begin(())


def test_a_supply_not_stated_stays_so_when_its_field_is_left(window):
    """Passing through states nothing; a number does."""
    edits = window.session.bench.edits
    window.go_to("wire_up")
    rows = window.pages["wire_up"].rows
    channels = swept("healthy").recording.channels
    edits.begin((*channels[:2], replace(channels[0], column="s", role="supply",
                                        nominal_volts=None)))
    rows.rows[2].more.click()
    field = next(f for f in rows.details.findChildren(QDoubleSpinBox)
                 if f.text() == "not stated")
    field.editingFinished.emit()
    assert not edits.edited
    field.setValue(5.0)
    field.editingFinished.emit()
    assert edits.channels[2].nominal_volts == 5.0
    edits.begin(())


def test_a_bar_is_full_at_the_volts_that_its_input_can_read(window):
    """Full scale through the divider; of volts that were written, the nominal supply, else 5 V.

    2:1 in front of an input of 5 V reads up to 10 V (Ohm's law).
    """
    made = swept("healthy").recording.channels[0]
    assert full_volts(made) == pytest.approx(5.0)
    assert full_volts(replace(made, scale=2.0)) == pytest.approx(10.0)
    written = replace(made, full_scale=None, reference_volts=None, unit="V")
    assert full_volts(written) == 5.0
    assert full_volts(replace(written, nominal_volts=3.3)) == 3.3


def test_a_sender_is_not_checked_while_something_is_recorded(window, monkeypatch):
    """One board, one recording at a time; nothing is typed, taken back or finished before."""
    window.session.accept_cautions()
    window.go_to("senders")
    page = window.page
    monkeypatch.setattr(window.session.bench, "board_name", "")
    assert page.next_step().action == "wire up"
    page.act()
    assert window.page is window.pages["wire_up"]
    window.go_to("senders")
    monkeypatch.setattr(window.session.bench, "board_name", "/dev/ttyX")
    link_is(window, monkeypatch, state="recording", purpose="sweep")
    assert page.next_step() == NextStep(sender_words.STOP_FIRST, "")
    page.act()
    page.typed.setText("12.0")
    for key in (page.add, page.undo, page.finish, lambda: page.answer(True)):
        key()
    assert page.meter is None
    assert page.result is None
    assert not page.work.busy
    assert page.words.count() == 0
    page.typed.clear()


def test_a_board_that_cannot_be_opened_for_a_check_is_told_and_let_go(qtbot, window, monkeypatch):
    """The board is free again for the other pages, and what was stated stays in its fields."""
    session = window.session
    session.accept_cautions()
    window.go_to("senders")
    page = window.page
    page.fields.kind.setCurrentText("divider")
    for name, text in (("top_ohms", "40k"), ("bottom_ohms", "10k"), ("highest_volts", "24")):
        page.fields.stated[name].setText(text)
    page.fields.limits.setText("0.5% + 2 digits")
    monkeypatch.setattr(session.bench, "board_name", "/dev/not-there")
    window.notice.hide()
    page.start()
    qtbot.waitUntil(lambda: not page.work.busy, timeout=PATIENCE_MS)
    assert page.meter is None
    assert window.notice.isVisible()
    assert "/dev/not-there" in window.notice.text.text()
    assert not session.bench.link.paused
    assert page.fields.stated["top_ohms"].text() == "40k"


def test_names_of_last_time_are_forgotten_where_the_board_has_other_inputs(qtbot, window, tmp_path):
    """A replay of three inputs, one renamed; at the same place then one of two: it is opened all
    the same, with the names that it says itself.
    """
    session, bench, place = window.session, window.session.bench, tmp_path / "board.csv"
    session.accept_cautions()
    window.go_to("wire_up")
    page = window.pages["wire_up"]
    for name, columns in (("healthy_pair", ("a", "b", "supply")), ("one_track", ("a", "supply"))):
        lines = (SAMPLES / f"synthetic_{name}.csv").read_text(encoding="utf-8").splitlines()
        head = next(k for k, line in enumerate(lines) if not line.startswith("#"))
        place.write_text("\n".join(lines[:head + 60]) + "\n", encoding="utf-8")
        page.board.setCurrentText(str(place))
        page.connect_board()
        qtbot.waitUntil(lambda columns=columns: bench.link.source is not None and tuple(
            c.column for c in bench.edits.channels) == columns, timeout=PATIENCE_MS)
        assert bench.edits.edit(0, "column", "upper") is None
        bench.disconnect_board()
    page.board.setCurrentText("")
    bench.edits.begin(())
