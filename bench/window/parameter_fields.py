"""The fields of the parameters, each made from its row of the one table."""

import math
import time
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QEvent, QObject, QSignalBlocker, Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent, QValidator
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from analysis.model.errors import OutOfLimits
from analysis.parameters import Parameter
from bench.window.field_trouble import FieldTrouble
from bench.window.parameter_change import ONE_S
from bench.window.sizes import em
from bench.window.text_field import TextField
from bench.window.widgets import button, label
from bench.wording.face import capital
from bench.wording.parameters import WORDS, refusal, value_text

STEPS = 400
# A slider over a wider range than this goes by factors.
EVEN = 1000.0
# Ems of a parameter's width from which its slider stands beside its field.
IN_LINE_EMS = 29.0


class _Calm(QObject):
    """Leave the wheel to the page that scrolls: it changes only the field that has the focus."""

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Wheel and not (
                isinstance(watched, QWidget) and watched.hasFocus()):
            event.ignore()
            return True
        return False


class _Number(QDoubleSpinBox):
    """A number without needless zeros, but for volts: those are told to the millivolt.

    Qt would not let a number beyond the limits be typed, and drops it without a word. Here it may
    be typed, and `beyond(value)` tells of it once it is entered.
    """

    beyond = Signal(float)

    def validate(self, text: str, place: int) -> object:
        """Let a number beyond the limits be typed, as one that is not finished."""
        found = super().validate(text, place)
        if isinstance(found, tuple) and found[0] == QValidator.State.Invalid and (
                self._beyond(text) is not None):
            return (QValidator.State.Intermediate, *found[1:])
        return found

    def fixup(self, text: str) -> str:
        """Tell of a number that was entered and lies beyond the limits."""
        number = self._beyond(text)
        if number is not None:
            # After the field has gone back to the value before.
            QTimer.singleShot(0, lambda: self.beyond.emit(number))
        return super().fixup(text)

    def _beyond(self, text: str) -> float | None:
        """Return the number that a text is, None for one within the limits, or for none."""
        number, good = self.locale().toDouble(text.removesuffix(self.suffix()).strip())
        return number if good and not self.minimum() <= number <= self.maximum() else None

    def textFromValue(self, value: float) -> str:
        text, point = super().textFromValue(value), self.locale().decimalPoint()
        whole = point not in text or self.suffix() == " V"
        return text if whole else text.rstrip("0").removesuffix(point)


def _small(text: str, act: Callable[[], object], name: str, tip: str) -> QPushButton:
    """Return a button beside a field that keeps its room while it is hidden."""
    made = button(text, act, name=name, tip=tip)
    made.setFixedSize(em(2), em(2.2))
    made.setStyleSheet("padding: 0; min-height: 0")
    policy = made.sizePolicy()
    policy.setRetainSizeWhenHidden(True)
    made.setSizePolicy(policy)
    return made


class ParameterField(QWidget):
    """One parameter: label, field, way back to the default, and a slider over its common range.

    `changed(value)` comes at most once per turn of the event loop.
    """

    changed = Signal(object)

    def __init__(self, row: Parameter) -> None:
        super().__init__()
        self.row = row
        words = WORDS[row.name]
        tip = words.tip or f"{words.help[:1].upper()}{words.help[1:]}."
        self._calm = _Calm(self)
        self.field = self._editor()
        self.field.setObjectName("tight")
        self.field.setAccessibleName(words.label)
        self.field.setAccessibleDescription(tip)
        self.field.setToolTip(tip)
        self.field.setFixedWidth(em(8.4))
        caption = label(words.label, wrap=True)
        caption.setMinimumWidth(em(5))
        caption.setToolTip(tip)
        caption.setBuddy(self.field)
        default = value_text(row.name, row.default)
        self.once = _small("↶", self._take_back, f"{words.label}: take the last change back",
                           "Take the last change of this one back")
        self.back = _small("↺", self._reset, f"{words.label}: back to {default}",
                           f"Back to the default: {default}")
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setVerticalSpacing(2)
        grid.setHorizontalSpacing(em(0.4))
        grid.addWidget(caption, 0, 0)
        for place, made in enumerate((self.field, self.once, self.back), 2):
            grid.addWidget(made, 0, place)
        self.slider = self._slider() if row.common is not None else None
        self._note = label("", "know", wrap=True)
        self._note.hide()
        grid.addWidget(self._note, 2, 0, 1, 5)
        self.trouble = FieldTrouble(self.field, lines=0)
        grid.addWidget(self.trouble, 3, 0, 1, 5)
        self._in_line: bool | None = None
        self._arrange()
        self._shown: Any = row.default
        self._past: list[Any] = []
        self.at_s = 0.0
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(0)
        self._soon.timeout.connect(lambda: self.changed.emit(self.value()))
        for watched in (self.field, self.slider):
            if watched is not None:
                watched.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
                watched.installEventFilter(self._calm)
        self.show_value(row.default)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """Place the slider between name and field where there is room, else below them."""
        in_line = self.width() >= em(IN_LINE_EMS)
        grid = self.layout()
        if in_line == self._in_line or not isinstance(grid, QGridLayout):
            return
        self._in_line = in_line
        beside = in_line and self.slider is not None
        if self.slider is not None:
            grid.removeWidget(self.slider)
            grid.addWidget(self.slider, *((0, 1) if in_line else (1, 0, 1, 3)))
        grid.setColumnStretch(0, 3 if beside else 1)
        grid.setColumnStretch(1, 2 if beside else 0)

    def value(self) -> Any:
        """Return the value in the field."""
        if isinstance(self.field, QComboBox):
            return self.field.currentData()
        if isinstance(self.field, QCheckBox):
            return self.field.isChecked()
        if isinstance(self.field, QLineEdit):
            return self.field.text().strip()
        number = self.field.value()
        return round(number) if self.row.kind == "whole" else number

    def show_value(self, value: Any) -> None:
        """Show a value without telling of a change."""
        with QSignalBlocker(self.field):
            if isinstance(self.field, QComboBox):
                self.field.setCurrentIndex(self.field.findData(value))
            elif isinstance(self.field, QLineEdit):
                if self.field.text() != value:
                    # What was refused stands there no more.
                    self.trouble.clear()
                self.field.setText(value)
            elif isinstance(self.field, QCheckBox):
                self.field.setChecked(bool(value))
            else:
                self.field.setValue(value)
        self._slide_to(value)
        self._note_change(value)
        self.back.setVisible(value != self.row.default)
        self.once.setVisible(bool(self._past))

    def refuse(self, why: str) -> None:
        """Say beside the field why a value was not taken, "" for one that was."""
        if why:
            self.trouble.say(f"{capital(why).rstrip('.')}. Not taken.", focus=False)
        else:
            self.trouble.clear()

    def forget_past(self) -> None:
        """Forget the values before: they were another recording's."""
        self.trouble.clear()
        self._past = []
        self.once.hide()

    def _note_change(self, value: Any) -> None:
        """Keep the value before, for one step back; the way of a slider is one step."""
        if value == self._shown:
            return
        now = time.monotonic()
        if self._past and self._past[-1] == value:
            self._past.pop()
        elif not self._past or now - self.at_s > ONE_S:
            self._past.append(self._shown)
        self._shown, self.at_s = value, now

    def _take_back(self) -> None:
        if self._past:
            self.show_value(self._past[-1])
            self.field.setFocus()
            self._soon.start()

    def note(self, text: str) -> None:
        """Say below the field what goes in place of its value; "" for nothing."""
        self._note.setText(text)
        self._note.setVisible(bool(text))
        self.field.setAccessibleDescription(text or self.field.toolTip())

    def _editor(self) -> QDoubleSpinBox | QComboBox | QCheckBox | QLineEdit:
        row = self.row
        if row.kind == "choice":
            made: Any = QComboBox()
            for choice, text in WORDS[row.name].options.items():
                made.addItem(text, choice)
            made.currentIndexChanged.connect(lambda _place: self._soon.start())
            return made
        if row.kind == "points":
            made = TextField()
            made.setPlaceholderText("0:0,30:10,100:100")
            made.editingFinished.connect(self._text_entered)
            return made
        if row.kind == "yes/no":
            made = QCheckBox("yes")
            made.toggled.connect(lambda _on: self._soon.start())
            return made
        made = _Number()
        made.setLineEdit(TextField())
        made.setDecimals(row.decimals)
        made.setRange(row.low, row.high)
        made.setSingleStep(row.step)
        made.setStepType(QDoubleSpinBox.StepType.DefaultStepType if self._even
                         else QDoubleSpinBox.StepType.AdaptiveDecimalStepType)
        made.setSuffix(f" {row.unit}" if row.unit else "")
        made.setKeyboardTracking(False)
        made.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
        made.valueChanged.connect(self._typed)
        made.beyond.connect(self.changed.emit)
        return made

    def _text_entered(self) -> None:
        """Take over what was typed; what is no such list is told of and not taken."""
        if self.value() == self._shown:
            return
        try:
            self.row.check(self.value())
        except OutOfLimits as error:
            self.refuse(refusal(error, "window"))
            return
        self.refuse("")
        self._soon.start()

    def _slider(self) -> QSlider:
        made = QSlider(Qt.Orientation.Horizontal)
        made.setRange(0, STEPS)
        made.setPageStep(STEPS // 20)
        made.setAccessibleName(f"{WORDS[self.row.name].label}, slider")
        made.setMinimumSize(em(5), em(2.1))
        made.valueChanged.connect(self._slid)
        return made

    @property
    def _even(self) -> bool:
        low, high = self.row.common or (0.0, 0.0)
        return low <= 0.0 or high < EVEN * low

    def _reset(self) -> None:
        self.show_value(self.row.default)
        self.field.setFocus()
        self._soon.start()

    def _slid(self, place: int) -> None:
        assert self.row.common is not None
        assert isinstance(self.field, QDoubleSpinBox)
        low, high = self.row.common
        share = place / STEPS
        value = low + share * (high - low) if self._even else low * (high / low) ** share
        with QSignalBlocker(self.field):
            self.field.setValue(value if self._even else float(f"{value:.2g}"))
        self._soon.start()

    def _typed(self, value: float) -> None:
        self._slide_to(value)
        self._soon.start()

    def _slide_to(self, value: float) -> None:
        if self.slider is None or self.row.common is None:
            return
        low, high = self.row.common
        value = min(max(value, low), high)
        share = ((value - low) / (high - low) if self._even
                 else math.log(value / low) / math.log(high / low))
        with QSignalBlocker(self.slider):
            self.slider.setValue(round(STEPS * share))


class TargetField(QWidget):
    """A target in volts, of a rheostat in ohms, that may be left open; `changed(it or None)`.

    most: the largest that it may be. ohms_per_volt: of a rheostat, None of another pedal.
    """

    changed = Signal(object)

    def __init__(self, text: str, most: float, ohms_per_volt: float | None = None) -> None:
        super().__init__()
        self._found_times = 1.0 if ohms_per_volt is None else ohms_per_volt
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        row = QHBoxLayout()
        self.wanted = QCheckBox(text)
        self.wanted.setAccessibleName(f"State a {text}")
        self.field = _Number()
        self.field.setObjectName("tight")
        self.field.beyond.connect(self.changed.emit)
        self.field.setAccessibleName(text)
        self.field.setDecimals(3 if ohms_per_volt is None else 0)
        self.field.setSingleStep(0.005 if ohms_per_volt is None else 10.0)
        self.field.setRange(0.0, most * self._found_times)
        self.field.setSuffix(" V" if ohms_per_volt is None else " Ω")
        self.field.setKeyboardTracking(False)
        self.field.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
        self.field.setFixedWidth(em(8.4))
        self.field.setEnabled(False)
        row.addWidget(self.wanted, 1)
        row.addWidget(self.field)
        self.trouble = FieldTrouble(self.field, lines=0)
        column.addLayout(row)
        column.addWidget(self.trouble)
        self.wanted.toggled.connect(self._told)
        self.field.valueChanged.connect(self._told)

    def show_value(self, volts: float | None, found: float) -> None:
        """Show a target, or what was found, in volts as stated, when there is none."""
        with QSignalBlocker(self.field), QSignalBlocker(self.wanted):
            self.wanted.setChecked(volts is not None)
            self.field.setEnabled(volts is not None)
            shown = volts if volts is not None else self._found_times * found
            known = math.isfinite(shown)
            # Nothing found is said in words: what stood here before is of another pedal.
            self.field.setSpecialValueText("" if known else "not known")
            self.field.setValue(shown if known else self.field.minimum())

    def refuse(self, why: str) -> None:
        """Say beside the field why a target was not taken, "" for one that was."""
        if why:
            self.trouble.say(f"{capital(why).rstrip('.')}. Not taken.", focus=False)
        else:
            self.trouble.clear()

    def _told(self, _value: object = None) -> None:
        self.field.setEnabled(self.wanted.isChecked())
        if self.wanted.isChecked():
            self.field.setSpecialValueText("")
        self.changed.emit(self.field.value() if self.wanted.isChecked() else None)
