"""Decide in three steps: the way to try first, the budget it leaves, the values to enter."""

import functools
import math
import re
from dataclasses import replace

import pyqtgraph as pg
import pytest
from findings_by_hand import SAMPLES
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel
from window_driver import PATIENCE_MS, press, said_beside, settings_in, start_label

from analysis.model.pedal_kind import KIND_KEY
from analysis.parameters import Parameters
from analysis.pedal.findings import analyse
from analysis.pedal.recommended import Recommended, recommended
from bench.files.exports.brief import brief_findings
from bench.services.findings import decide_again, open_findings
from bench.window.main_window import MainWindow
from bench.window.values_card import NOT_YET
from bench.wording.face import WINDOW
from bench.wording.reasons import in_words
from bench.wording.remedy_cards import ways_of

WINDOW_SIZE = (1366, 720)


@functools.cache
def swept(name):
    """Return the findings of a sample, analysed once."""
    return open_findings(SAMPLES / f"synthetic_{name}.csv")


def deciding(qtbot, window, name, size=(1366, 720)):
    """Return the window with a sample sweep on its page Decide, as it is with no change made."""
    window.resize(*size)
    window.session.take(swept(name), SAMPLES / f"synthetic_{name}.csv")
    window.go_to("decide")
    page = window.pages["decide"]
    page.column.forget_past()
    page.column.fold(False)
    for _ in range(2):
        QApplication.processEvents()
    return window, page


@pytest.mark.parametrize(("name", "way"), [
    # Turned on its shaft: turning brings it back. Nothing off: nothing to be done.
    ("off_at_rest", Recommended("turn", "b")), ("healthy_pair", Recommended("dead band", None)),
    # To be repaired first; and play is fastened, not turned away.
    ("wiper_dropouts", None), ("slipped_track", None), ("play_between_shafts", None)])
def test_the_way_to_try_first_answers_what_is_wrong(name, way):
    """Common practice, no source: what is off is brought back, what is sound is left alone."""
    assert recommended(swept(name)) == way


def test_no_way_is_recommended_where_the_dead_band_costs_too_much():
    """None of the three lessens what lifts the reading: its cause is to be found first."""
    found = decide_again(swept("healthy_pair"), Parameters(margin_volts=0.4))
    assert recommended(found) is None


def test_a_card_names_what_a_wrong_guess_of_the_wiring_would_cost():
    """Joined leads take another resistor, and one housing turns both tracks: it is on the card."""
    found = decide_again(swept("off_at_rest"), Parameters(target_rest_volts={"a": 0.6}))
    mine = {r.kind: r for r in found.remedies["a"]}
    trim = ways_of("a", found.remedies["a"], "trim resistor")
    assert "only with leads of its own, measure that first" in trim.do
    assert in_words(mine["trim resistor"].why.values["if_joined"], WINDOW) in trim.do
    turn = ways_of("a", found.remedies["a"], "turn")
    other = mine["turn"].others[0]
    assert f"in one housing track b rests at {other.rest_volts:.3f} V then" in turn.remains
    near = decide_again(swept("off_at_rest"), Parameters(target_rest_volts={"a": 0.15}))
    assert "takes it for a broken wire" in ways_of("a", near.remedies["a"], "turn").remains


def test_three_steps_stand_from_left_to_right(qtbot, window):
    """The ways with effort, cost and what remains; the budgets; the values."""
    _, page = deciding(qtbot, window, "off_at_rest")
    lefts = [area.mapTo(page, area.rect().topLeft()).x() for area in page.step_areas]
    assert lefts == sorted(lefts)
    assert lefts[1] - lefts[0] > 100 < lefts[2] - lefts[1]
    cards = page.remedies.cards
    assert [card.badge.isVisible() for card in cards.values()] == [True, False, False]
    turn = next(r for r in page.session.findings.remedies["b"] if r.kind == "turn")
    said = cards["turn"].lines.text()
    assert f"Track b: about {turn.amount:.1f}°, until it rests at {turn.rest_volts:.3f} V" in said
    for word in ("Effort: ", f"Costs: {turn.lost_travel_percent:.1f} % of travel", "Remains: "):
        assert word in said
    assert not cards["turn"].whole.isVisible()
    press(qtbot, cards["turn"].more)
    # Unfolded it is the command line's own sentence, in the window's words.
    assert in_words(turn.why, WINDOW)[1:] in cards["turn"].whole.text()
    press(qtbot, cards["turn"].more)
    assert not cards["turn"].whole.isVisible()


def test_every_level_of_a_rheostat_on_the_card_is_in_ohms(qtbot, window):
    """What it would be if returns scatter evenly too: the same number in volts is another level."""
    whole = swept("one_track").recording
    path = SAMPLES / "synthetic_one_track.csv"
    window.session.take(analyse(replace(whole, extra={**whole.extra, KIND_KEY: "rheostat"})), path)
    window.go_to("decide")
    QApplication.processEvents()
    page, band = window.pages["decide"], window.session.findings.dead_bands["a"]
    told = said_beside(page, "a")
    even = next(c for c in band.cases if c.name == "even")
    # More than rest, and less than where pedals that may stick start.
    ohms, = [float(found) for text in told for found in re.findall(r"evenly: (\d+) ohm", text)]
    assert ohms == math.ceil(band.ohms_per_volt * even.start_of_travel_volts - 1e-9)
    assert not [text for text in told if " V" in text]


def test_what_cannot_be_turned_is_not_to_be_turned(qtbot, window):
    """A Hall sensor has no track that turns: neither the sentence nor a button asks for it.

    No outside source: the promise is the project's own; Read says the same of this sweep.
    """
    whole = swept("off_at_rest").recording
    path = SAMPLES / "synthetic_off_at_rest.csv"
    page = window.pages["decide"]
    for kind, offered in (("hall", False), ("potentiometer", True)):
        window.session.take(analyse(replace(whole, extra={**whole.extra, KIND_KEY: kind})), path)
        window.go_to("decide")
        QApplication.processEvents()
        step = page.next_step()
        assert "off at rest" in step.text
        assert step.action == ("turn live" if offered else "save values")
        assert ("turn it, trim it" in step.text) is offered
        assert page.turn_button.isEnabled() is offered
        cards = page.remedies.cards
        assert [cards[k].isVisibleTo(page) for k in ("turn", "trim resistor", "dead band")] == [
            offered, offered, True]
        # Why not is said once, in a line.
        told = page.remedies.nothing
        assert (told.isVisibleTo(page) and "no track to turn" in told.text()) is not offered
    assert "sensor" not in page.next_step().text


def cut_texts(made):
    """Return the texts of a widget's labels that have less room than they need."""
    return [m.text() for m in made.findChildren(QLabel) if m.isVisible() and m.text()
            and m.height() < m.heightForWidth(m.width())]


@pytest.mark.parametrize("size", [(1366, 728), (1344, 715)])
@pytest.mark.parametrize("name", ["off_at_rest", "wiper_dropouts", "one_track"])
def test_ways_budget_parameters_and_values_are_seen_whole_on_a_small_laptop(
        qtbot, window, name, size):
    """1366 x 768 less a title bar, or the frame of a window: none of the three steps scrolls."""
    _, page = deciding(qtbot, window, name, size)
    for area in page.step_areas:
        qtbot.waitUntil(lambda a=area: a.verticalScrollBar().maximum() == 0, timeout=2000)
        assert not cut_texts(area.widget())
    usual = [field for field in page.fields.values() if field.row.usual]
    for made in (*usual, *page.column.targets.values(), page.column.unfold, page.budget,
                 page.values.table, *page.remedies.cards.values()):
        if made.isVisible():
            bottom = made.mapTo(page, made.rect().bottomRight())
            assert page.rect().contains(bottom), made.accessibleName()
    assert len([field for field in usual if field.isVisible()]) == 4


def test_the_budget_of_every_track_is_one_picture(qtbot, window):
    """Bars of all tracks row by row, and each item's millivolts of each track at their right."""
    _, page = deciding(qtbot, window, "off_at_rest")
    bands = page.session.findings.dead_bands
    bars = [i.opts for i in page.budget.plot.items if isinstance(i, pg.BarGraphItem)]
    for made, column in zip(bars, "ab", strict=True):
        assert made["width"][:-1] == pytest.approx([1e3 * i.volts for i in bands[column].items])
        assert made["width"][-1] == pytest.approx(1e3 * bands[column].total_volts)
    told = [text for _, text in page.budget.plot.getAxis("right")._tickLevels[0]]
    assert told[-1] == " · ".join(f"{1e3 * bands[c].total_volts:.1f}" for c in "ab")
    assert len(told) == len(bands["a"].items) + 1
    assert "a, b from top to bottom" in page.budget_key.text()


@pytest.mark.parametrize("size", [(1366, 720), (1000, 652)])
@pytest.mark.parametrize("name", ["off_at_rest", "wiper_dropouts"])
def test_every_value_is_read_in_full(qtbot, window, size, name):
    """1366 x 768 and 1000 x 700, less a system's title bar: no name and no number is cut."""
    window, page = deciding(qtbot, window, name, size)
    assert window.size().toTuple() == size
    card = page.values
    for unit in range(card.unit.count()):
        card.unit.setCurrentIndex(unit)
        QApplication.processEvents()
        table = card.table
        assert table.horizontalScrollBar().maximum() == 0
        assert table.verticalScrollBar().maximum() == 0
        wanted = {f"{w}, {c}" for w in ("rest", "start of travel", "release", "full travel",
                                        "fault low", "fault high") for c in "ab"}
        assert wanted <= set(table.shown())
        for row in range(table.rowCount()):
            for place in range(table.columnCount()):
                item = table.item(row, place)
                needed = table.fontMetrics().horizontalAdvance(item.text() if item else "")
                assert table.columnWidth(place) * table.columnSpan(row, place) >= needed + 8
        # Without a scroll of its column: the last value stands above the foot.
        assert page.rect().contains(table.mapTo(page, table.rect().bottomRight()))
        assert not cut_texts(card)
        for made in card.findChildren(QLabel):
            if made.isVisible() and made.text():
                assert made.mapTo(card, made.rect().topRight()).x() < card.width()
    card.unit.setCurrentIndex(0)
    for area in page.step_areas:
        qtbot.waitUntil(lambda a=area: a.horizontalScrollBar().maximum() == 0, timeout=2000)
        assert area.widget().width() <= area.viewport().width()
    assert window.room.horizontalScrollBar().maximum() == 0


def test_a_value_is_picked_by_mouse_and_keys_whatever_stands_beside_it(qtbot, window):
    """Arrow keys go from value to value; the names of the rows are passed over."""
    _, page = deciding(qtbot, window, "off_at_rest")
    table = page.values.table
    table.setFocus()
    table.pick("start_of_travel", "a")
    qtbot.keyClick(table, Qt.Key.Key_Right)
    assert (table.current().name, table.current().channel) == ("start_of_travel", "b")
    for key in (Qt.Key.Key_Left, Qt.Key.Key_Left, Qt.Key.Key_Up):
        qtbot.keyClick(table, key)
    assert (table.current().name, table.current().channel) == ("rest", "a")
    assert page.values.why.text().startswith("Rest, a: the median of")
    name = table.visualItemRect(table.item(2, 0)).center()
    qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=name)
    assert (table.current().name, table.current().channel) == ("release", "a")


def struck(table) -> set[bool]:
    """Return whether the values are struck through: {True} where all are."""
    values = set(table.shown().values())
    cells = (table.item(row, column) for row in range(table.rowCount())
             for column in range(table.columnCount()))
    return {cell.font().strikeOut() for cell in cells if cell and cell.text() in values}


def test_a_value_nobody_may_drive_with_is_struck_and_copied_only_at_second_look(qtbot, window):
    """It is asked about first, with what forbids it; Enter leaves it; the clipboard stays."""
    window, page = deciding(qtbot, window, "wiper_dropouts")
    card = page.values
    assert struck(card.table) == {True}
    assert start_label(page, "b").property("struck") is True
    assert card.head.text() == "DO NOT DRIVE with these values"
    QApplication.clipboard().setText("before")
    card.table.pick("start_of_travel", "a")
    press(qtbot, card.copy_button)
    assert QApplication.clipboard().text() == "before"
    assert card.second.isVisible()
    assert "Do not drive: track b loses contact" in card.second.text.text()
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    assert not card.second.isVisible()
    assert QApplication.clipboard().text() == "before"
    press(qtbot, card.copy_button)
    press(qtbot, card.second.all_the_same)
    assert QApplication.clipboard().text() == card.table.shown()["start of travel, a"]
    assert "DO NOT DRIVE" in window.notice.text.text()
    deciding(qtbot, window, "healthy_pair")
    assert struck(card.table) == {False}
    card.table.pick("start_of_travel", "a")
    press(qtbot, card.copy_button)
    assert QApplication.clipboard().text() == card.table.shown()["start of travel, a"]
    assert not card.second.isVisible()


def test_values_to_be_entered_after_a_repair_say_so(qtbot, window):
    """As the command line does below its values; and Keep does not send anybody to the car."""
    window, page = deciding(qtbot, window, "off_at_rest")
    assert page.values.head.isVisible()
    assert page.values.head.text() == "Do not enter these yet"
    path = SAMPLES / "synthetic_off_at_rest.csv"
    assert NOT_YET.lower() in brief_findings(swept("off_at_rest"), path)
    window.go_to("keep")
    assert window.step_bar.text.text() == "Save the values, but do not enter them yet."
    deciding(qtbot, window, "healthy_pair")
    assert not page.values.head.isVisible()


def test_each_parameter_has_its_own_way_back(qtbot, window):
    """One button takes its last change back, another goes to the default; others stay."""
    window, page = deciding(qtbot, window, "healthy_pair")
    session, field = window.session, page.fields["margin_volts"]
    assert not field.once.isVisible()
    for typed in ("0.02", "0.05"):
        field.at_s -= 10.0  # as long ago as a person takes
        field.field.setFocus()
        field.field.selectAll()
        qtbot.keyClicks(field.field, typed)
        qtbot.keyClick(field.field, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda t=typed: session.parameters.margin_volts == float(t),
                        timeout=PATIENCE_MS)
    session.set_parameters(allowed_lost_travel_percent=8.0)
    page.column.area.ensureWidgetVisible(field)
    for left in (0.02, 0.0):
        press(qtbot, field.once)
        qtbot.waitUntil(lambda v=left: session.parameters.margin_volts == v, timeout=PATIENCE_MS)
    assert not field.once.isVisible()
    assert session.parameters.allowed_lost_travel_percent == 8.0


def test_values_say_which_parameters_of_the_user_are_behind_them(qtbot, window):
    """They follow into the next recording, so they stand beside its values, and go with a reset."""
    window, page = deciding(qtbot, window, "healthy_pair")
    assert not page.values.mine.isVisible()
    window.session.set_parameters(margin_volts=0.033)
    # As `Session.open` reads another one: with the parameters that stand.
    path = SAMPLES / "synthetic_off_at_rest.csv"
    window.session.take(decide_again(swept("off_at_rest"), window.session.parameters), path)
    assert page.values.mine.text() == "With parameters of yours: Margin on top 0.033 V."
    assert not page.fields["margin_volts"].once.isVisible()
    press(qtbot, page.column.unfold)
    page.column.area.ensureWidgetVisible(page.column.defaults)
    press(qtbot, page.column.defaults)
    assert not page.values.mine.isVisible()


def test_with_a_font_twice_as_large_the_steps_stand_one_below_the_other(qtbot, tmp_path):
    """WCAG 2.2, 1.4.4: text twice as large loses nothing; the print of the plots grows along."""
    usual = QApplication.font()
    large = QApplication.font()
    large.setPointSizeF(2.0 * usual.pointSizeF())
    QApplication.setFont(large)
    try:
        # Not by `shared_window`: it gives the application the system's font again.
        window = MainWindow(settings_in(tmp_path))
        window.resize(1366, 728)
        window.show()
        _, page = deciding(qtbot, window, "off_at_rest", (1366, 728))

        def tops() -> list[int]:
            return [area.mapTo(page, area.rect().topLeft()).y() for area in page.step_areas]

        qtbot.waitUntil(lambda: tops() == sorted(set(tops())), timeout=PATIENCE_MS)
        for area in page.step_areas:
            assert area.widget().width() <= area.viewport().width()
        print_font = page.budget.plot.getAxis("left").style["tickFont"]
        assert print_font.pointSizeF() == pytest.approx(16.0)
        window.close()
    finally:
        QApplication.setFont(usual)
