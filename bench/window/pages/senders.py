"""Senders: any other channel checked against a meter, point by point."""

from pathlib import Path

import numpy as np
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QVBoxLayout,
    QWidget,
)

from analysis.model.errors import AnalysisError
from analysis.senders.calibration import PASS, Steady, average
from bench.errors import BenchError
from bench.plots.calibration import draw_points, draw_residuals
from bench.services.boards import SIMULATED, open_named
from bench.services.sender_check import MeterResult, keep
from bench.services.sender_check_live import MeterSession
from bench.services.simulated import SimulatedSenderBoard
from bench.window.field_trouble import FieldTrouble
from bench.window.live_plots import still_view
from bench.window.pages.page import NextStep, Page, PageStatus
from bench.window.recorded_files import free_name
from bench.window.sender_fields import SenderFields
from bench.window.sender_result_card import SenderResultCard
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.widgets import Abreast, Card, button, label
from bench.window.worker import Progress, Worker
from bench.wording.face import WINDOW
from bench.wording.pages import senders as words
from bench.wording.pages import shared
from bench.wording.reasons import in_words
from bench.wording.refusals import refused
from bench.wording.senders.result import standing, what_it_proves
from bench.wording.senders.verdict import change_line

SHOW_MS = 200
LEAST = 3


class SendersPage(Page):
    """A channel against a meter."""

    key = "senders"
    title = "Senders"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.bench = session.bench
        self.work = Worker(self)
        self.work.failed.connect(self._failed)
        self.meter: MeterSession | None = None
        self.result: MeterResult | None = None
        self._simulated: SimulatedSenderBoard | None = None
        self._said = ""
        self._adding = False
        self._finished_with: MeterSession | None = None
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 12, 12, 12)
        self.fields = SenderFields()
        self.fields.setMinimumHeight(em(20))
        self.pair = Abreast(em(28))
        self.pair.row.addWidget(self.fields, 1)
        self.pair.row.addWidget(self._points_column(), 4)
        outer.addWidget(self.pair)
        self._timer = QTimer(self)
        self._timer.setInterval(SHOW_MS)
        self._timer.timeout.connect(self._show_live)
        self.work.ended.connect(self._enable)
        self.bench.edits.changed.connect(self._fill_channels)
        self.bench.link.changed.connect(self._enable)
        session.cautions_changed.connect(self._enable)

    def _points_column(self) -> QWidget:
        whole = QWidget()
        whole.setObjectName("scrolled")
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        self.result_card = SenderResultCard(self.answer)
        column.addWidget(self.result_card)
        card = self.entry_card = Card()
        row = QHBoxLayout()
        self.level = label("–", "big")
        self.level.setMinimumWidth(em(15))
        self.level.setAccessibleName("The channel now")
        self.typed = QLineEdit()
        self.typed.setAccessibleName("What the meter shows")
        self.typed.setPlaceholderText("What the meter shows, then Enter")
        self.typed.returnPressed.connect(self.add)
        self.typed_trouble = FieldTrouble(self.typed)
        self.undo_button = button("Undo", self.undo, name="Take the last point back")
        self.finish_button = button("Finish and keep", self.finish)
        row.addWidget(self.level)
        row.addWidget(self.typed, 1)
        card.body.addLayout(row)
        card.body.addWidget(self.typed_trouble)
        row = QHBoxLayout()
        self.steady = label("", "quiet", wrap=True)
        row.addWidget(self.steady, 1)
        row.addWidget(self.undo_button)
        row.addWidget(self.finish_button)
        card.body.addLayout(row)
        self.simulated_row = QWidget()
        sim = QHBoxLayout(self.simulated_row)
        sim.setContentsMargins(0, 0, 0, 0)
        self.simulated_volts = QDoubleSpinBox()
        self.simulated_volts.setRange(0.0, 5.0)
        self.simulated_volts.setSingleStep(0.5)
        self.simulated_volts.setSuffix(" V")
        self.simulated_volts.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
        self.simulated_volts.setAccessibleName("Simulated volts at the input")
        self.simulated_volts.valueChanged.connect(self._simulate)
        self.simulated_says = label("", "quiet")
        sim.addWidget(label("Simulated input"))
        sim.addWidget(self.simulated_volts)
        sim.addWidget(self.simulated_says, 1)
        card.body.addWidget(self.simulated_row)
        column.addWidget(card)
        grid = QGridLayout()
        self.curve_view = still_view("Meter against channel")
        self.left_view = still_view("What is left over")
        for view in (self.curve_view, self.left_view):
            view.setMinimumSize(em(14), em(9))
        self.words = QListWidget()
        self.words.setWordWrap(True)
        self.words.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.words.setAccessibleName("Points, diagnosis and verdict")
        grid.addWidget(self.curve_view, 0, 0)
        grid.addWidget(self.left_view, 0, 1)
        grid.addWidget(self.words, 1, 0, 1, 2)
        grid.setRowStretch(0, 3)
        grid.setRowStretch(1, 2)
        column.addLayout(grid, 1)
        return whole

    def hasHeightForWidth(self) -> bool:
        # The fields scroll by themselves: the result must not be scrolled out of sight.
        return False

    def next_step(self) -> NextStep:
        if self.work.busy:
            return NextStep("One moment…" if self.meter is None else
                            words.HOLD_STILL)
        if self.meter is None:
            if not self.session.cautions_read:
                return NextStep(shared.CAUTIONS_AND_BOARD, "", "wire up")
            if not self.bench.board_name:
                # No board is chosen for anybody, nor the simulated one.
                return NextStep(words.BOARD_FIRST, "", "wire up")
            if self.bench.link.state == "recording":
                return NextStep(words.STOP_FIRST, "")
            return NextStep(words.START, words.START_MORE, "start check")
        if self._said:
            return NextStep(self._said, words.NEXT, "")
        return NextStep(words.SET, words.SET_MORE, "")

    def act(self) -> None:
        action = self.next_step().action
        if action == "start check":
            self.start()
        elif action == "wire up":
            self.go_to.emit("wire_up")

    def status(self) -> PageStatus:
        if self.meter is not None:
            return PageStatus("checking…", False)
        result = self.result
        if result is None:
            return PageStatus("nothing checked yet", False)
        found = result.stored.calibration
        # A tick stands only where enough points were judged, and found within what is allowed.
        good = (result.enough.enough and not what_it_proves(found, result.enough)
                and bool(result.verdicts) and result.verdicts[-1].result == PASS)
        return PageStatus(standing(found, result.enough, result.verdicts), good)

    def apply_theme(self, skin: Skin) -> None:
        for view in (self.curve_view, self.left_view):
            view.setBackground(QColor(skin.look.background))
        self._draw()

    def shown(self) -> None:
        self._timer.start()
        self._fill_channels()
        self._enable()

    def left(self) -> None:
        self._timer.stop()

    def catch_up(self) -> None:
        self._fill_channels()

    def shut(self) -> None:
        """End a check; every reading of it is kept in its recording."""
        meter, self.meter = self.meter, None
        self.work.cancel()
        self.bench.link.paused = False
        if meter is not None:
            meter.close()

    def start(self) -> None:
        """Take the board for the check; readings go into a recording of their own."""
        try:
            parameters = self.fields.options()
        except (BenchError, AnalysisError) as error:
            self.fields.say_wrong(error)
            return
        self.bench.link.pause()
        self._said = ""
        folder = Path(str(self.session.preferences.value("sweep/folder", Path.home())))
        path = free_name(folder if folder.is_dir() else Path.home(), "meter")
        name, baud, speed = self.bench.board_name, self.bench.baud, self.bench.speed
        channels = self.bench.car_options()
        simulated = name == SIMULATED

        def begin(_progress: Progress) -> tuple[MeterSession, SimulatedSenderBoard | None]:
            made = SimulatedSenderBoard(0.5, speed) if simulated else None
            return MeterSession(made or open_named(name, baud), parameters, path,
                                lambda _text: None, channels).__enter__(), made

        self.work.run("Starting the check", begin, self._started)
        self._enable()

    def _started(self, result: tuple[MeterSession, SimulatedSenderBoard | None]) -> None:
        self.meter, self._simulated = result
        self.result = None
        self.result_card.show_result(self.result)
        self.words.clear()
        self.simulated_volts.setValue(0.5)
        self._simulate(0.5)
        self._draw()
        self._enable()
        self.typed.setFocus()

    def _simulate(self, volts: float) -> None:
        if self._simulated is not None and self.meter is not None:
            self._simulated.go_to(volts)
            shown = float(self.meter.options.sender.shown(np.array([volts]))[0])
            self.simulated_says.setText(words.would_show(shown))

    def add(self) -> None:
        """Take a point for what the meter shows; it is refused while the channel moves."""
        meter, typed = self.meter, self.typed.text().strip()
        if meter is None or not typed or self.work.busy:
            return

        def take(_progress: Progress) -> tuple[Steady, str]:
            steady = meter.add(typed)
            return steady, meter.progress() if steady.steady else ""

        self._adding = True
        self.work.run("Averaging", take, lambda result: self._added(typed, result))
        self._enable()

    def _added(self, typed: str, result: tuple[Steady, str]) -> None:
        steady, progress = result
        self._adding = False
        if steady.steady and self.meter is not None:
            self.words.addItem(words.taken(len(self.meter.points), typed,
                                           in_words(steady.told(self._unit), WINDOW)))
            self.typed.clear()
            self._said = progress
        else:
            self._said = ""
            self.typed_trouble.say(words.not_taken(
                in_words(steady.told(self._unit), WINDOW)))
        self.words.scrollToBottom()
        self._draw()
        self._enable()
        self.typed.setFocus()

    @property
    def _unit(self) -> str:
        return self.meter.options.sender.input_unit if self.meter is not None else "V"

    def undo(self) -> None:
        """Take the last point back."""
        if self.meter is not None and self.meter.points:
            self.meter.undo()
            self.words.takeItem(self.words.count() - 1)
            self._said = ""
            self._draw()
            self._enable()

    def finish(self) -> None:
        """Work the calibration out and keep it with the channel."""
        if self.meter is not None:
            self._finished_with = self.meter
            self._work_out(self.meter)

    def answer(self, right: bool) -> None:
        """Let the doubted points count, or leave them out; the result is worked out again."""
        meter = self._finished_with
        if meter is not None and self.result is not None and not self.work.busy:
            meter.answer(self.result.doubted, right)
            self._work_out(meter)

    def _work_out(self, meter: MeterSession) -> None:
        folder = meter.path.parent / "calibrations"

        def work_out(_progress: Progress) -> tuple[MeterResult, Path]:
            meter.close()
            result = meter.result(folder)
            return result, keep(folder, result)

        self.work.run("Working it out", work_out, self._finished)
        self._enable()

    def _finished(self, found: tuple[MeterResult, Path]) -> None:
        result, path = found
        self.result = result
        self.result_card.show_result(self.result)
        self.shut()
        for text in (*(in_words(d.reason, WINDOW) for d in result.diagnoses),
                     *([change_line(result.change)] if result.change else []),
                     *(in_words(n, WINDOW) for n in result.notes)):
            self.words.addItem(text)
        self.words.scrollToBottom()
        self.session.notify(words.kept(str(path)), "good")
        self._draw()
        self._enable()

    def _failed(self, text: str) -> None:
        if self._adding and self.meter is not None and self.meter.live.error is None:
            self.typed_trouble.say(words.not_taken(text.rstrip(".")))
        else:
            self.session.trouble(text)
        self._adding = False
        if self.meter is None or self.meter.live.error is not None:
            self.shut()
        self._enable()

    def _fill_channels(self) -> None:
        simulated = self.bench.board_name == SIMULATED
        self.fields.offer([""] if simulated else [
            c.column for c in self.bench.edits.channels if c.role != "supply"])

    def _enable(self) -> None:
        free = self.meter is not None and not self.work.busy
        self.fields.card.setEnabled(self.meter is None and not self.work.busy)
        self.typed.setEnabled(free)
        points = len(self.meter.points) if self.meter is not None else 0
        self.undo_button.setEnabled(free and points > 0)
        self.finish_button.setEnabled(free and points >= LEAST)
        # No reading stands still beside a result as if it were one.
        self.entry_card.setVisible(self.meter is not None or self.result is None)
        if self.meter is None:
            self.level.setText("–")
            self.steady.setText("")
        self.simulated_row.setVisible(self.meter is not None and self._simulated is not None)
        self.step_changed.emit()

    def _show_live(self) -> None:
        meter = self.meter
        if meter is None:
            return
        try:
            recording = meter.live.last(0.5)
            volts = recording.channel(meter.channel.column).volts()
            now = average(recording.time_s, volts, meter.channel.step_volts)
            unit = meter.options.sender.input_unit
            if unit != "V":
                now = meter.now_shown()
        except AnalysisError as error:
            if meter.options.sender.input_unit != "V":
                self.level.setText("–")
                self.steady.setText(refused(error, WINDOW))
            return
        self.level.setText(f"{now.mean:.4f} {unit}")
        self.steady.setText(in_words(now.told(unit), WINDOW))

    def _draw(self) -> None:
        look = self.session.skin.look.small()
        found = self.result.stored.calibration if self.result is not None else None
        if self.meter is not None and len(self.meter.points) >= LEAST:
            try:
                found = self.meter.result().stored.calibration
            except (AnalysisError, BenchError):
                found = None
        draw_points(self.curve_view.plot, found, look)
        draw_residuals(self.left_view.plot, found, look)
