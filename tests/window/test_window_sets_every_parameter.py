"""The window sets every parameter of the one table, takes each change back, and says what follows.

No outside source: the promise is the project's own.
"""

import pytest
from PySide6.QtCore import QPoint, QPointF, QSettings, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QComboBox, QDoubleSpinBox, QLineEdit
from window_driver import (
    PATIENCE_MS,
    keys,
    open_file,
    open_window,
    press,
    wait_told,
)

from analysis.parameters import TABLE, Parameters
from bench.window import parameter_change
from bench.window.session import Session
from bench.wording.parameters import WORDS

BY_FIELD = [n for n, row in TABLE.items() if row.kind != "volts by track"]
WINDOW_SIZE = (1280, 860)


@pytest.fixture
def decide(qtbot, window, sound):
    """Return it on its page Decide with a sound sweep, nothing changed, every parameter in sight.
    """
    session = window.session
    if session.path != sound:
        open_file(qtbot, window, sound)
    session.set_parameters(**{name: getattr(Parameters(), name) for name in TABLE})
    session.undo.clear()
    window.notice.hide()
    window.go_to("decide")
    column = window.pages["decide"].column
    column.forget_past()
    column.fold(True)
    assert session.parameters == Parameters()
    return window


def enter(qtbot, field):
    """Enter another value by the keyboard, as a person would."""
    editor = field.field
    editor.setFocus()
    if isinstance(editor, QComboBox):
        first = editor.currentIndex() == 0
        qtbot.keyClick(editor, Qt.Key.Key_Down if first else Qt.Key.Key_Up)
    elif isinstance(editor, QDoubleSpinBox):
        editor.selectAll()
        typed = min(field.row.high, max(field.row.low, (field.row.default or field.row.step) / 2))
        qtbot.keyClicks(editor, f"{typed:g}")
        qtbot.keyClick(editor, Qt.Key.Key_Return)
    elif isinstance(editor, QLineEdit):
        qtbot.keyClicks(editor, "0:0,30:10,100:100")
        qtbot.keyClick(editor, Qt.Key.Key_Return)
    else:
        qtbot.keyClick(editor, Qt.Key.Key_Space)


def test_the_fields_are_those_of_the_table(decide):
    """Each has one: the usual ones at once, the rest when More is unfolded, all with names."""
    column = decide.pages["decide"].column
    assert set(column.fields) == set(BY_FIELD)
    assert {n for n, _ in column.targets} == set(TABLE) - set(BY_FIELD)
    for name, field in column.fields.items():
        assert field.field.accessibleName() == WORDS[name].label
        assert field.isVisible()
    column.unfold.click()
    for name, field in column.fields.items():
        assert field.isVisible() == TABLE[name].usual


def test_each_is_entered_taken_back_done_again_and_reset(qtbot, decide):
    """The analysis follows at once; Ctrl+Z takes it back, and a button beside the field too."""
    session = decide.session
    for name, field in decide.pages["decide"].fields.items():
        usual = getattr(Parameters(), name)
        decide.pages["decide"].column.area.ensureWidgetVisible(field)
        enter(qtbot, field)
        qtbot.waitUntil(lambda n=name: session.parameters.changed == (n,), timeout=PATIENCE_MS)
        entered = getattr(session.parameters, name)
        assert session.findings.parameters == session.parameters
        assert type(entered) is type(usual), name
        keys(qtbot, decide, Qt.Key.Key_Z)
        assert session.parameters == Parameters(), name
        assert field.value() == usual
        assert not field.back.isVisible()
        decide.session.undo.redo()
        assert getattr(session.parameters, name) == field.value() == entered
        press(qtbot, field.back)
        qtbot.waitUntil(lambda: session.parameters == Parameters(), timeout=PATIENCE_MS)


def test_a_value_off_the_scale_of_the_table_is_not_taken(decide):
    """The fields end where the table does; why not is told by the field's label."""
    for name, field in decide.pages["decide"].fields.items():
        if isinstance(field.field, QDoubleSpinBox):
            assert (field.field.minimum(), field.field.maximum()) == (
                TABLE[name].low, TABLE[name].high)
    told = decide.session.set_parameters(track_ohms=1.0)
    assert decide.session.parameters == Parameters()
    assert told == "Track, end to end is 1.0; use a value from 10 to 10000000 ohm"


def test_all_go_back_at_once_and_that_is_taken_back_too(qtbot, decide):
    """One button for a fresh start; one Undo brings everything back."""
    column, session = decide.pages["decide"].column, decide.session
    session.set_parameters(key_ons=250, returns="wide", target_rest_volts={"a": 0.7})
    mine = session.parameters
    assert "2 changed" in column.unfold.text()
    press(qtbot, column.defaults)
    assert session.parameters == Parameters()
    assert not column.defaults.isEnabled()
    press(qtbot, column.undo)
    assert session.parameters == mine


def test_undo_changes_no_parameter_out_of_sight(qtbot, decide):
    """Ctrl+Z on a page that does not show them brings the page that does, as it takes back."""
    for title in ("read", "keep", "wire_up"):
        decide.session.set_parameters(margin_volts=0.02)
        decide.go_to(title)
        decide.setFocus()
        keys(qtbot, decide, Qt.Key.Key_Z)
        assert decide.session.parameters == Parameters()
        assert decide.page.key == "decide"


def test_the_way_of_a_slider_is_one_change(qtbot, decide, monkeypatch):
    """Undo takes back the whole of it, not the last step."""
    # On a busy machine a key's step may take longer than what parts two changes.
    monkeypatch.setattr(parameter_change, "ONE_S", 60.0)
    field = decide.pages["decide"].fields["margin_volts"]
    field.slider.setFocus()
    for _ in range(3):
        qtbot.keyClick(field.slider, Qt.Key.Key_PageUp)
        qtbot.wait(10)
    qtbot.waitUntil(lambda: decide.session.parameters.margin_volts > 0.02, timeout=PATIENCE_MS)
    keys(qtbot, decide, Qt.Key.Key_Z)
    assert decide.session.parameters.margin_volts == 0.0


def test_the_wheel_scrolls_the_column_and_changes_nothing(qtbot, decide):
    """Whoever scrolls past the fields must not find another value in one of them."""
    decide.pages["decide"].values.setFocus()
    for field in decide.pages["decide"].fields.values():
        for target in (field.field, field.slider):
            if target is not None:
                where = QPointF(5, 5)
                QApplication.sendEvent(target, QWheelEvent(
                    where, target.mapToGlobal(where), QPoint(0, 0), QPoint(0, -120),
                    Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier,
                    Qt.ScrollPhase.NoScrollPhase, False))
    qtbot.wait(20)
    assert decide.session.parameters == Parameters()


def test_what_is_remembered_is_there_the_next_time(qtbot, tmp_path):
    """All but what belongs to one pedal, one car or one sweep."""
    window = open_window(qtbot, tmp_path)
    window.session.set_parameters(
        returns="wide", ratiometric_controller=False, key_ons=300, mismatch_time_s=0.2, cold=True,
        electrical_angle_degrees=300.0, car_allowance_volts=0.05, target_rest_volts={"a": 0.7})
    window.close()
    again = open_window(qtbot, tmp_path).session.parameters
    assert again == Parameters(returns="wide", ratiometric_controller=False, key_ons=300,
                               mismatch_time_s=0.2, electrical_angle_degrees=300.0)


@pytest.mark.parametrize("wrong", ["", "nan", "inf", "much", "-3", "true"])
def test_a_settings_file_of_another_hand_gives_the_defaults(qtbot, tmp_path, wrong):
    """Whatever stands there, the window opens with values that make sense."""
    kept = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    for name, row in TABLE.items():
        if row.kind != "yes/no":
            kept.setValue(f"parameters/{name}", wrong)
    session = Session(kept)
    assert session.parameters == Parameters()
    session.bench.link.shut()


def test_parameters_do_not_follow_into_another_recording_unseen(qtbot, tmp_path, sound, worn):
    """The name and value of each that is not the default is said as the recording opens."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, sound)
    assert not window.notice.isVisible()
    window.session.set_parameters(margin_volts=0.033, electrical_angle_degrees=300.0)
    open_file(qtbot, window, worn)
    told = wait_told(qtbot, window, "parameters of yours")
    assert worn.name in told
    assert "Margin on top 0.033 V, Electrical angle 300 degrees" in told


def test_the_needle_turns_by_the_angle_that_was_set(qtbot, decide):
    """The degrees to turn are in proportion to the electrical angle."""
    session = decide.session
    session.set_parameters(target_rest_volts={"a": 0.6})

    def degrees():
        return next(r for r in session.findings.remedies["a"] if r.kind == "turn").amount

    before = degrees()
    session.set_parameters(electrical_angle_degrees=135.0)
    assert degrees() == pytest.approx(before / 2)
