"""One parameter as a slider and a number field that follow each other."""

import math

from PySide6.QtCore import QSignalBlocker, Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QSlider,
    QWidget,
)

from bench.window.widgets import label

STEPS = 400


class ParameterField(QWidget):
    """A number with a slider; `changed(value)` comes at most once per turn of the event loop.

    low, high: ends of the slider, inside the range the parameters allow; the field takes that whole
    range (least, most). even: False for a slider whose steps are factors, for hours.
    """

    changed = Signal(float)

    def __init__(self, text: str, unit: str, low: float, high: float, least: float, most: float,
                 decimals: int, *, even: bool = True, step: float = 1.0, tip: str = "") -> None:
        super().__init__()
        self._low, self._high, self._even = low, high, even
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 4)
        grid.setVerticalSpacing(2)
        grid.setColumnStretch(0, 1)
        caption = label(text, wrap=True)
        caption.setToolTip(tip)
        self.field = QDoubleSpinBox()
        self.field.setAccessibleName(text)
        self.field.setAccessibleDescription(tip)
        self.field.setToolTip(tip)
        self.field.setDecimals(decimals)
        self.field.setRange(least, most)
        self.field.setSingleStep(step)
        self.field.setStepType(QDoubleSpinBox.StepType.DefaultStepType if even
                               else QDoubleSpinBox.StepType.AdaptiveDecimalStepType)
        self.field.setSuffix(f" {unit}" if unit else "")
        self.field.setKeyboardTracking(False)
        self.field.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
        self.field.setMinimumWidth(130)
        caption.setBuddy(self.field)
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(0, STEPS)
        self.slider.setPageStep(STEPS // 20)
        self.slider.setAccessibleName(f"{text}, slider")
        self.slider.setMinimumHeight(28)
        grid.addWidget(caption, 0, 0)
        grid.addWidget(self.field, 0, 1)
        grid.addWidget(self.slider, 1, 0, 1, 2)
        self._note = label("", "know", wrap=True)
        self._note.hide()
        grid.addWidget(self._note, 2, 0, 1, 2)
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(0)
        self._soon.timeout.connect(lambda: self.changed.emit(self.field.value()))
        self.slider.valueChanged.connect(self._slid)
        self.field.valueChanged.connect(self._typed)

    def show_value(self, value: float) -> None:
        """Show a value without telling of a change."""
        with QSignalBlocker(self.field), QSignalBlocker(self.slider):
            self.field.setValue(value)
            self.slider.setValue(self._place(value))

    def note(self, text: str) -> None:
        """Say below the field what goes in place of its value; "" for nothing."""
        self._note.setText(text)
        self._note.setVisible(bool(text))
        self.field.setAccessibleDescription(text or self.field.toolTip())

    def _slid(self, place: int) -> None:
        share = place / STEPS
        value = self._low + share * (self._high - self._low) if self._even else (
            self._low * (self._high / self._low) ** share)
        with QSignalBlocker(self.field):
            self.field.setValue(value if self._even else float(f"{value:.2g}"))
        self._soon.start()

    def _typed(self, value: float) -> None:
        with QSignalBlocker(self.slider):
            self.slider.setValue(self._place(value))
        self._soon.start()

    def _place(self, value: float) -> int:
        value = min(max(value, self._low), self._high)
        share = ((value - self._low) / (self._high - self._low) if self._even
                 else math.log(value / self._low) / math.log(self._high / self._low))
        return round(STEPS * share)


class TargetField(QWidget):
    """A target in volts that may be left open; `changed(volts or None)`."""

    changed = Signal(object)

    def __init__(self, text: str, most: float) -> None:
        super().__init__()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        self.wanted = QCheckBox(text)
        self.wanted.setAccessibleName(f"State a {text}")
        self.field = QDoubleSpinBox()
        self.field.setAccessibleName(text)
        self.field.setDecimals(3)
        self.field.setSingleStep(0.005)
        self.field.setRange(0.0, most)
        self.field.setSuffix(" V")
        self.field.setKeyboardTracking(False)
        self.field.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
        self.field.setMinimumWidth(110)
        self.field.setEnabled(False)
        row.addWidget(self.wanted, 1)
        row.addWidget(self.field)
        self.wanted.toggled.connect(self._told)
        self.field.valueChanged.connect(self._told)

    def show_value(self, volts: float | None, found: float) -> None:
        """Show a target, or what was found when there is none."""
        with QSignalBlocker(self.field), QSignalBlocker(self.wanted):
            self.wanted.setChecked(volts is not None)
            self.field.setEnabled(volts is not None)
            shown = volts if volts is not None else found
            known = math.isfinite(shown)
            # Nothing found is said in words: what stood here before is of another pedal.
            self.field.setSpecialValueText("" if known else "not known")
            self.field.setValue(shown if known else self.field.minimum())

    def _told(self, _value: object = None) -> None:
        self.field.setEnabled(self.wanted.isChecked())
        if self.wanted.isChecked():
            self.field.setSpecialValueText("")
        self.changed.emit(self.field.value() if self.wanted.isChecked() else None)
