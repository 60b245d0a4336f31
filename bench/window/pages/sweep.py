"""Sweep: what to do now, how far the plan is, and both tracks while they move."""

import datetime
from pathlib import Path

from PySide6.QtCore import QFile, QStandardPaths, Qt, QTimer
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QCheckBox,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QProgressBar,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from analysis.pedal.returns import MORE_LIFT_OFFS
from bench.errors import BenchError
from bench.plots.live import GrowingPair
from bench.services.more import join
from bench.services.record import Order, Plan, Prompt, guided_plan
from bench.services.saving import free_path, move_new
from bench.window.board_controller import RETRY_S
from bench.window.live import Taken
from bench.window.live_plots import TracesCard, still_view
from bench.window.pages.page import NextStep, Page, PageStatus
from bench.window.plan_strip import PlanStrip
from bench.window.session import Session
from bench.window.theme import Skin
from bench.window.widgets import Card, button, label
from bench.wording.dead_band import added_words
from bench.wording.face import WINDOW
from bench.wording.refusals import refused

PAINT_MS = 25
PAIR_EVERY = 2  # the pair changes little from one painting to the next, and costs as much


class SweepPage(Page):
    """The guided sweep."""

    key = "sweep"
    title = "Sweep"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.bench, self.link = session.bench, session.bench.link
        self.prompt: Prompt | None = None
        self.frames = 0
        self._plan: Plan | None = None
        self._pair: GrowingPair | None = None
        self._tracks: list[int] = []
        self._asking = False
        self._done = ""
        self._kept: Path | None = None
        self._extends: Path | None = None
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 12, 12, 12)
        outer.setSpacing(10)
        outer.addWidget(self._plan_card())
        row = QHBoxLayout()
        row.setSpacing(10)
        self.traces = TracesCard()
        row.addWidget(self.traces, 3)
        row.addWidget(self._pair_card(), 2)
        outer.addLayout(row, 1)
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(PAINT_MS)
        self._timer.timeout.connect(self.paint)
        self.link.prompted.connect(self._prompted)
        self.link.changed.connect(self._changed)
        self.link.notified.connect(self._notified)
        self.link.taken.connect(self._taken)
        session.findings_changed.connect(self.step_changed)
        session.findings_changed.connect(self._offer)
        self.bench.edits.changed.connect(self._forget_plots)
        self._changed()

    def _plan_card(self) -> QWidget:
        card = Card()
        self.setup = QWidget()
        grid = QGridLayout(self.setup)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setColumnStretch(5, 1)
        self.cycles, self.quick = QSpinBox(), QSpinBox()
        for place, (text, field, low, value) in enumerate((
                ("Slow presses", self.cycles, 1, 8), ("Quick lift-offs", self.quick, 0, 4))):
            field.setRange(low, 100)
            field.setValue(int(str(self.session.preferences.value(
                f"sweep/{'cycles' if not place else 'quick'}", value))))
            field.setAccessibleName(text)
            field.setMinimumWidth(70)
            field.setButtonSymbols(QSpinBox.ButtonSymbols.NoButtons)
            field.valueChanged.connect(lambda _value: self._show_plan())
            grid.addWidget(label(text), 0, 2 * place)
            grid.addWidget(field, 0, 2 * place + 1)
        self.name = QLineEdit()
        self.name.setAccessibleName("What is swept, in your words")
        self.name.setPlaceholderText("What is swept, in your words (becomes the title)")
        grid.addWidget(self.name, 0, 5)
        self.folder = QLineEdit(str(self.session.preferences.value(
            "sweep/folder", QStandardPaths.writableLocation(
                QStandardPaths.StandardLocation.DocumentsLocation) or str(Path.home()))))
        self.folder.setAccessibleName("Folder the recording goes to")
        self.adding = QCheckBox("")
        self.adding.setAccessibleName("Add the lift-offs to the sweep on show")
        self.adding.setToolTip("Both files are kept; a new one beside the sweep has the two "
                               "together. More lift-offs make the bound on later ones narrower.")
        self.adding.toggled.connect(lambda _on: self._show_plan())
        self.adding.hide()
        grid.addWidget(self.adding, 2, 1, 1, 5)
        grid.addWidget(label("Into folder"), 1, 0)
        grid.addWidget(self.folder, 1, 1, 1, 5)
        card.body.addWidget(self.setup)
        self.strip = PlanStrip()
        card.body.addWidget(self.strip)
        row = QHBoxLayout()
        self.progress = QProgressBar()
        self.progress.setAccessibleName("Progress of the sweep")
        self.progress.setRange(0, 1000)
        self.clock = label("", "head")
        self.clock.setAccessibleName("Time of the sweep")
        self.keep_button = button("Stop and &keep", self.stop_and_keep)
        self.discard_button = button("Stop and &discard…", self.ask_discard)
        row.addWidget(self.progress, 1)
        row.addWidget(self.clock)
        row.addWidget(self.keep_button)
        row.addWidget(self.discard_button)
        card.body.addLayout(row)
        return card

    def _pair_card(self) -> QWidget:
        card = Card()
        self.pair_head = label("Track against track, as it grows", "head")
        card.body.addWidget(self.pair_head)
        self.pair_view = still_view("Track against track, as it grows")
        card.body.addWidget(self.pair_view, 1)
        return card

    def next_step(self) -> NextStep:
        link = self.link
        if link.state == "recording" and link.purpose != "sweep":
            return NextStep("The car is being logged.", "", "")
        if link.state == "recording":
            if link.lost:
                return NextStep("The cable is out: plug it in again.",
                                "Nothing recorded is lost; the recording waits.", "stop sweep",
                                loud=True)
            if link.source is None:
                return NextStep("Waiting for the board…", "Foot off the pedal.", "stop sweep")
            if self.prompt is None:
                return NextStep("Recording.", "", "stop sweep")
            words = self.prompt.words
            return NextStep(words[:1].upper() + words[1:] + ".", self._step_text(), "stop sweep",
                            loud=True)
        if not self.session.cautions_read:
            return NextStep("Read the cautions and connect a board first.", "", "wire up")
        if link.state == "opening":
            return NextStep("Opening the board…")
        if link.state == "live" and link.source is not None:
            if not self._tracks:
                return NextStep("Give at least one input the role track.", "", "wire up")
            return NextStep("Foot off the pedal, then start.",
                            "You will be told what to do; being late by seconds does not matter.",
                            "start sweep")
        return NextStep("Connect a board first.", self._done, "wire up")

    @property
    def _recording(self) -> bool:
        return self.link.state == "recording" and self.link.purpose == "sweep"

    def act(self) -> None:
        action = self.next_step().action
        if action == "start sweep":
            self.start()
        elif action == "stop sweep":
            self.stop_and_keep()
        elif action:
            self.go_to.emit("wire_up")

    def status(self) -> PageStatus:
        if self._recording:
            return PageStatus("cable is out" if self.link.lost else "recording…", False)
        if not self._done:
            return PageStatus("not swept yet", False)
        # A tick beside another recording's values would say that they are of this sweep.
        shown = self._kept is not None and self.session.path == self._kept
        return PageStatus(self._done if shown else "another one is on show", shown)

    def apply_theme(self, skin: Skin) -> None:
        self.strip.apply_theme(skin)
        self.traces.apply_theme(skin)
        self.pair_view.setBackground(QColor(skin.look.background))
        self._forget_plots()

    def shown(self) -> None:
        self._timer.start()
        self._show_plan()
        if self.session.cautions_read:
            self.link.look_again()

    def left(self) -> None:
        self._timer.stop()

    def start(self) -> None:
        """Record a guided sweep into a new file of the folder."""
        folder = Path(self.folder.text()).expanduser()
        preferences = self.session.preferences
        preferences.setValue("sweep/folder", str(folder))
        preferences.setValue("sweep/cycles", self.cycles.value())
        preferences.setValue("sweep/quick", self.quick.value())
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            self.session.trouble(f"cannot make the folder {folder} ({error.strerror}); choose "
                                 "another one")
            return
        self.prompt, self._asking, self._done = None, False, ""
        self._forget_plots()
        order = Order("sweep", free_name(folder, "sweep"), self.name.text().strip(),
                      self.bench.edits.options(), retry_s=RETRY_S, number=True,
                      fed_by=self.bench.said_feed)
        self._extends = self.session.path if self._adds else None
        if self._adds:
            self.bench.record(order, 0, MORE_LIFT_OFFS)
        else:
            self.bench.record(order, self.cycles.value(), self.quick.value())

    @property
    def _adds(self) -> bool:
        """Return whether lift-offs are to be added to the sweep on show."""
        return self.adding.isChecked() and self.adding.isVisibleTo(self)

    def _offer(self) -> None:
        """Offer to add lift-offs to the sweep on show, with what they would save."""
        findings, path = self.session.findings, self.session.path
        self.adding.setVisible(findings is not None and path is not None)
        self.adding.setChecked(False)
        if findings is not None and path is not None:
            self.adding.setText(added_words(findings, path.name))
        self._show_plan()

    def stop_and_keep(self) -> None:
        """End the sweep; its file is closed properly."""
        self.link.stop()

    def ask_discard(self) -> None:
        """Ask before the recording goes to the trash; it goes on meanwhile."""
        self._asking = True
        self.session.asked.emit("Throw this recording away? It goes on while you think.", (
            ("Throw it away", lambda: self.link.stop(discard=True)),
            ("Keep recording", lambda: None)))

    def _prompted(self, prompt: Prompt) -> None:
        self.prompt = prompt
        self.step_changed.emit()

    def _notified(self, kind: str, text: str) -> None:
        self.session.notify(text, {"lost": "mend", "back": "good"}.get(kind, "know"))

    def _step_text(self) -> str:
        guide = self.link.guide
        if guide is None or self.prompt is None:
            return ""
        plan = guide.plan
        presses = [p for p in plan.prompts if p.kind == "press"]
        at = sum(p.start_s <= self.prompt.start_s for p in presses)
        following = plan.next_after(self.prompt.start_s)
        left = (following.start_s if following else plan.end_s) - guide.elapsed_s
        return f"Press {max(at, 1)} of {len(presses)} · {max(left, 0.0):.0f} s left"

    def _changed(self) -> None:
        recording = self._recording
        self.setup.setVisible(not recording)
        self.progress.setVisible(recording)
        self.clock.setVisible(recording)
        self.keep_button.setVisible(recording)
        self.discard_button.setVisible(recording)
        if recording and self.link.guide is not None and self._plan is not self.link.guide.plan:
            self._plan = self.link.guide.plan
            self.strip.show_plan(self._plan)
        elif recording and self.link.guide is None:
            self.strip.show_plan(None)
        if not recording:
            self.prompt = None
        self.step_changed.emit()

    def _show_plan(self) -> None:
        if not self._recording:
            self._plan = (guided_plan(0, MORE_LIFT_OFFS, alone=True) if self._adds else
                          guided_plan(self.cycles.value(), self.quick.value()))
            self.strip.show_plan(self._plan)

    def _forget_plots(self) -> None:
        self._pair = None
        self.traces.channels = ()
        channels = self.bench.edits.channels
        self._tracks = [k for k, c in enumerate(channels) if c.role == "track"]
        self.step_changed.emit()

    def _make_plots(self) -> None:
        channels = self.bench.edits.channels
        full = self.traces.begin(channels, self.session.skin)
        self._pair = None
        if len(self._tracks) > 1:
            first, second = (channels[k] for k in self._tracks[:2])
            self._pair = GrowingPair(self.pair_view.plot, self.session.skin.look.small(),
                                     first.column, second.column, full)
        self.pair_view.parentWidget().setVisible(self._pair is not None)

    def paint(self) -> None:
        """Show what came since the last call; the timer calls this 40 times a second."""
        pieces = self.link.take()
        channels = self.bench.edits.channels
        if pieces and channels and pieces[-1].readings.shape[1] == len(channels):
            if self.traces.channels is not channels:
                self._make_plots()
            volts = self.traces.show_rows(pieces)
            if self._pair is not None:
                first, second = self._tracks[:2]
                self._pair.add(volts[:, first], volts[:, second])
                if self.frames % PAIR_EVERY == 0:
                    self._pair.paint()
            self.frames += 1
        if self._recording:
            self._show_time()

    def _show_time(self) -> None:
        guide, file = self.link.guide, self.link.file
        if guide is not None:
            share = guide.elapsed_s / guide.plan.end_s
            self.progress.setValue(round(1000 * min(share, 1.0)))
            self.strip.show_time(guide.elapsed_s)
            text = (f"{guide.accepted} of {guide.wanted} presses count, "
                    f"{guide.elapsed_s:.0f} of {guide.plan.end_s:.0f} s")
        else:
            self.progress.setRange(0, 0)
            text = f"{file.last_s:.0f} s" if file is not None else ""
        if self.clock.text() != text:
            self.clock.setText(text)
            self.step_changed.emit()

    def _taken(self, taken: Taken) -> None:
        if taken.purpose != "sweep":
            return
        file = taken.file
        self.session.stop_asking()
        if file.writer is None:
            self.session.trouble(taken.error or "nothing was recorded; the board sent no row")
            self.link.look_again()
            return
        if taken.discarded:
            self._throw_away(file.path)
            self.link.look_again()
            return
        lost = f", {file.lost_samples} samples lost" if file.lost_samples else ""
        self._done, self._kept = f"{file.writer.rows} rows{lost}", file.path
        if taken.error is not None:
            self.session.notify(f"{taken.error} Saved: {file.path} ({file.writer.rows} rows).",
                              "mend")
        else:
            self.session.notify(f"Saved: {file.path} ({self._done}).", "good")
        self.session.open_sweep(self._with_more(file.path))
        self.step_changed.emit()

    def _with_more(self, path: Path) -> Path:
        """Return what is to be opened: the sweep, or the two together where it adds to one."""
        first, self._extends = self._extends, None
        if first is None:
            return path
        try:
            self._kept = join(first, path)
        except BenchError as error:
            self.session.trouble(refused(error, WINDOW))
            return path
        self.session.notify(f"{first.name} and the lift-offs together: {self._kept}", "good")
        return self._kept

    def _throw_away(self, path: Path) -> None:
        if QFile.moveToTrash(str(path)):
            self.session.notify(f"{path.name} went to the trash.", "know")
            return
        aside = move_new(path, path.with_name(f"{path.name}.discarded"))
        self.session.notify(f"There is no trash here: it was put aside as {aside}.", "know")


def free_name(folder: Path, what: str) -> Path:
    """Return a new file's path in the folder, named by what it is and by date."""
    return free_path(folder / f"{what}-{datetime.datetime.now():%Y-%m-%d-%H%M%S}.csv")
