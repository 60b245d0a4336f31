"""The nulling view: one huge reading of how far off a track is, to be read from the pedal box."""

import time
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QKeySequence, QPainter, QPaintEvent, QPen, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QHBoxLayout,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from analysis.model.errors import AnalysisError
from analysis.model.recording import Channel, Recording
from analysis.pedal.nulling import Nulling, nulling
from analysis.pedal.remedies import bench_level
from bench.window.session import Session
from bench.window.theme import LIGHT, Skin
from bench.window.widgets import button, label
from bench.wording.face import WINDOW
from bench.wording.pages import nulling as said
from bench.wording.pages import shared
from bench.wording.refusals import refused

PAINT_MS = 50
WINDOW_S = 0.25
KEPT_ROWS = 5000
# Beeps per second by distance in mV: nearer is faster; inside there is one steady sound.
CADENCE = ((5.0, 0.15), (20.0, 0.3), (60.0, 0.6), (200.0, 1.2))
SCALES = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0)
# Further off than this it is the foot, or another track: no pedal is turned so far (common
# practice, no source).
FOOT_DEGREES = 20.0
NOT_STATED = -60.001


class Needle(QWidget):
    """A needle that stands upright at the target; the scale follows the distance."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Needle: upright is on target")
        self.setMinimumHeight(120)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.skin: Skin = LIGHT
        self._off, self._met, self._scale = float("nan"), False, SCALES[-1]

    @property
    def scale(self) -> float:
        """Return the volts at either end."""
        return self._scale

    def show_off(self, off_volts: float, met: bool, supply_volts: float = 5.0) -> None:
        """Show a distance in volts; no further than the supply, which no track can be off."""
        self._off, self._met = off_volts, met
        scales = [s for s in SCALES if s < supply_volts]
        self._scale = next((s for s in scales if abs(off_volts) <= s), supply_volts)
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        wide, high = self.width() - 40.0, self.height() - 34.0
        middle = self.width() / 2
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self.skin.card))
        painter.drawRoundedRect(QRectF(20, 4, wide, high), 8, 8)
        painter.setPen(QPen(QColor(self.skin.quiet), 1))
        for tick in range(-10, 11):
            x = middle + tick * wide / 20
            painter.drawLine(QPointF(x, high - (16 if tick % 5 else 30)), QPointF(x, high))
        for tick in (-10, -5, 0, 5, 10):
            text = f"{100 * tick * self._scale:+.0f} mV" if tick else "target"
            box = QRectF(middle + tick * wide / 20 - 60, high + 6, 120, 24)
            box.moveLeft(min(max(box.left(), 0), self.width() - 120))
            side = (Qt.AlignmentFlag.AlignLeft if tick == -10 else
                    Qt.AlignmentFlag.AlignRight if tick == 10 else Qt.AlignmentFlag.AlignHCenter)
            painter.drawText(box, side, text)
        painter.setPen(QPen(QColor(self.skin.good), 3))
        painter.drawLine(QPointF(middle, 4), QPointF(middle, high))
        if np.isfinite(self._off):
            share = min(max(self._off / self._scale, -1.0), 1.0)
            color = self.skin.good if self._met else self.skin.grave
            painter.setPen(QPen(QColor(color), 8, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
            x = middle + share * wide / 2
            painter.drawLine(QPointF(x, 14), QPointF(x, high - 6))


class NullingView(QWidget):
    """Turn one track onto its target with live words."""

    closed = Signal()
    step_changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.setObjectName("page")
        self.session, self.bench = session, session.bench
        self.result: Nulling | None = None
        self._time = np.empty(0)
        self._readings = np.empty((0, 0))
        self._beeped = 0.0
        self._supply_volts = 5.0
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 12, 20, 16)
        row = QHBoxLayout()
        self.track = QComboBox()
        self.track.setAccessibleName("Track to turn")
        self.track.currentTextChanged.connect(self._track_picked)
        self.target = QDoubleSpinBox()
        self.target.setAccessibleName("Target at rest, volts")
        self.target.setDecimals(3)
        self.target.setSingleStep(0.001)
        # Below the least target there is "not stated": 0 V must not pass for somebody's wish.
        self.target.setRange(NOT_STATED, 60.0)
        self.target.setSpecialValueText("not stated")
        self.target.valueChanged.connect(lambda _value: self._say_origin("typed here"))
        self.target.setSuffix(" V")
        self.target.setMinimumWidth(120)
        self.target.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
        self.tone = QCheckBox("Tone, faster the nearer")
        self.tone.setAccessibleName("Tone that is faster the nearer")
        self.tone.setToolTip(shared.SOUND_TIP)
        self.tone.setChecked(str(session.preferences.value("nulling/tone", "false")) == "true")
        self.tone.toggled.connect(lambda on: session.preferences.setValue(
            "nulling/tone", "true" if on else "false"))
        for widget in (label("Track"), self.track, label("Target at rest"), self.target,
                       self.tone):
            row.addWidget(widget)
        self.origin = label("", "quiet")
        self.origin.setAccessibleName("Where the target comes from")
        row.insertWidget(4, self.origin)
        row.addStretch(1)
        row.addWidget(button("Done (Esc)", self.closed.emit))
        column.addLayout(row)
        self.number = label("–", "huge")
        self.number.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.number.setAccessibleName("How far off")
        self.words = label("", "nowText")
        self.words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.words.setWordWrap(True)
        self.words.setAccessibleName("Which way, and how many degrees")
        self.small = label("", "quiet")
        self.small.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.needle = Needle()
        column.addStretch(1)
        column.addWidget(self.number)
        column.addWidget(self.words)
        column.addWidget(self.small)
        column.addWidget(self.needle, 3)
        self._timer = QTimer(self)
        self._timer.setInterval(PAINT_MS)
        session.board_state.replaced.connect(self._forget)
        self._timer.timeout.connect(self.paint)
        QShortcut(QKeySequence("Escape"), self, self.closed.emit)

    def begin(self, column: str | None = None) -> None:
        """Start with a track; its target is the parameter, else the other track's rest."""
        names = [c.column for c in self.bench.edits.channels if c.role == "track"]
        self.track.blockSignals(True)
        self.track.clear()
        self.track.addItems(names)
        self.track.setCurrentText(column if column in names else next(iter(names), ""))
        self.track.blockSignals(False)
        self._track_picked(self.track.currentText())
        self.bench.link.look_again()
        self._timer.start()
        self.track.setFocus()

    def end(self) -> None:
        """Stop reading."""
        self._timer.stop()

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        self.needle.skin = skin
        self.needle.update()

    def _track_picked(self, column: str) -> None:
        wished = self.session.parameters.target_rest_volts.get(column)
        findings = self.session.findings
        others = [t.rest.value for name, t in findings.tracks.items() if name != column] if (
            findings is not None) else []
        self._forget()
        bench = None if wished is None or findings is None else bench_level(findings, column)
        if bench is not None and wished is not None:
            # The needle shows the bench, and the target is what the controller is to read.
            self.target.setValue(bench)
            self._say_origin(said.on_the_bench(wished))
            return
        self.target.setValue(wished if wished is not None else others[0] if others else NOT_STATED)
        self._say_origin(said.OF_DECIDE if wished is not None else
                         said.OF_THE_SWEEP if others else "")

    def _say_origin(self, text: str) -> None:
        self.origin.setText(text and f"({text})")

    def _forget(self) -> None:
        """Forget the readings: another track, or another pedal."""
        self._time, self._readings = np.empty(0), np.empty((0, 0))

    def paint(self) -> None:
        """Take what came and show how far off the track is."""
        channels = self.bench.edits.channels
        for piece in self.bench.link.take():
            if piece.readings.shape[1] != self._readings.shape[1] or (
                    self._time.size and piece.time_s[0] < self._time[-1]):
                self._time, self._readings = np.empty(0), np.empty((0, piece.readings.shape[1]))
            self._time = np.append(self._time, piece.time_s)[-KEPT_ROWS:]
            self._readings = np.concatenate([self._readings, piece.readings])[-KEPT_ROWS:]
        track = next((c for c in channels if c.column == self.track.currentText()), None)
        if track is None or not self._time.size or self._readings.shape[1] != len(channels):
            self.show_reading(None, said.CONNECT)
            return
        if self.session.board_state.frozen:
            # What stands still is no reading of now: nobody is to turn by it.
            self._forget()
            self.show_reading(None, said.SILENT)
            return
        if self.target.value() == NOT_STATED:
            self.show_reading(None, said.NO_TARGET)
            return
        recent = self._time >= self._time[-1] - WINDOW_S
        try:
            self.show_reading(self._measure(channels, track, recent), "")
        except AnalysisError as error:
            self.show_reading(None, refused(error, WINDOW))

    def _measure(self, channels: tuple[Channel, ...], track: Channel,
                 recent: np.ndarray) -> Nulling:
        rows = self._readings[recent]
        live = Recording(self._time[recent], tuple(
            _with_readings(c, rows[:, k]) for k, c in enumerate(channels)))
        self._supply_volts = live.nominal_volts
        return nulling(live.stated_volts(live.channel(track.column)), self.target.value(),
                       live.nominal_volts, self.session.parameters.electrical_angle_degrees,
                       track.step_volts)

    def show_reading(self, result: Nulling | None, why: str) -> None:
        self.result = result
        if result is None:
            self.number.setText("–")
            self.words.setText(why)
            self.small.setText("")
            self.needle.show_off(float("nan"), False)
            return
        of = self.session.limb
        if result.degrees > FOOT_DEGREES:
            self.number.setText(f"{result.off_volts:+.2f} V")
            self.words.setText(said.pressed(of))
        else:
            self.number.setText(f"{1000 * result.off_volts:+.1f} mV")
            self.words.setText(
                said.moves(of) if not result.steady else said.ON_TARGET if result.met else
                said.turn(result.way, result.degrees))
        self.small.setText(said.small_print(
            result.level_volts, result.target_volts, result.scatter_volts,
            self.session.parameters.electrical_angle_degrees))
        self.needle.show_off(result.off_volts, result.met and result.steady, self._supply_volts)
        if result.steady:
            self._sound(result)

    def _sound(self, result: Nulling) -> None:
        if not self.tone.isChecked():
            return
        pause = next((s for mv, s in CADENCE if abs(result.off_volts) * 1000 <= mv), None)
        now = time.monotonic()
        if pause is not None and now - self._beeped >= pause:
            self._beeped = now
            QApplication.beep()


def _with_readings(channel: Channel, readings: np.ndarray) -> Channel:
    return replace(channel, readings=readings.astype(float))
