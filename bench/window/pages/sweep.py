"""Sweep: what to do now and for how long, the pedal over its plan, and what of it counts."""

import math
import time
from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QCheckBox, QHBoxLayout, QVBoxLayout, QWidget

from bench.errors import BenchError
from bench.services.more import join
from bench.services.record import Order, Prompt, SweepJudge, Tally, prompts_of
from bench.window.board_controller import RETRY_S
from bench.window.live import Taken, volts_of
from bench.window.live_plots import LiveNumbers
from bench.window.loud_line import LoudLine
from bench.window.pages.page import NextStep, Page, PageStatus
from bench.window.recorded_files import free_name, throw_away
from bench.window.session import Session
from bench.window.sweep_counts import SweepCounts
from bench.window.sweep_picture import Now, SweepPicture
from bench.window.sweep_setup import SweepSetup
from bench.window.theme import Skin
from bench.window.widgets import Card, button, label
from bench.wording.face import WINDOW, capital
from bench.wording.guided import usable
from bench.wording.limb import Limb, limb_of
from bench.wording.pages import shared
from bench.wording.pages import sweep as words
from bench.wording.refusals import refused

PAINT_MS = 25
# Who stops so soon may have pressed by mistake.
SOON_S = 2.0
# Where no plan asks for it, the first rest is taken to last so long.
REST_S = 1.0


class SweepPage(Page):
    """The guided sweep."""

    key = "sweep"
    title = "Sweep"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.bench, self.link = session.bench, session.bench.link
        self.prompt: Prompt | None = None
        self._tracks: list[int] = []
        self._alone: SweepJudge | None = None
        self._channels: object = None
        self.began = 0.0
        self._tally, self._wanted, self.whole = Tally(), (0, 0), False
        # What of the last sweep can be used, in words; "" before one.
        self.outcome = ""
        self._counted = False
        self.kept: Path | None = None
        self._extends: Path | None = None
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 12, 12, 12)
        outer.setSpacing(10)
        self.setup = SweepSetup(session)
        self.setup_card = Card()
        self.setup_card.body.addWidget(self.setup)
        outer.addWidget(self.setup_card)
        # Held by name as well: other pages and whoever drives the window know them so.
        self.cycles, self.quick = self.setup.cycles, self.setup.quick
        self.name, self.folder, self.adding = (
            self.setup.name, self.setup.folder, self.setup.adding)
        outer.addWidget(self._picture_card(), 1)
        outer.addLayout(self._last_row())
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(PAINT_MS)
        self._timer.timeout.connect(self.paint)
        self.setup.changed.connect(self._show_plan)
        self.link.prompted.connect(self._prompted)
        self.link.changed.connect(self._changed)
        self.link.notified.connect(self._notified)
        self.link.taken.connect(self._taken)
        session.findings_changed.connect(self.step_changed)
        session.findings_changed.connect(self.setup.offer)
        self.bench.edits.changed.connect(self._forget)
        self._changed()

    def _picture_card(self) -> QWidget:
        card = Card()
        self.loud = LoudLine(words.LOUD_LINE, tuple(
            f"{capital(words)}." for words in prompts_of()))
        self.hint = label("", "mend")
        self.hint.setAccessibleName("What is the matter at the pedal")
        self.hint.setSizePolicy(self.hint.sizePolicy().Policy.Ignored,
                                self.hint.sizePolicy().Policy.Fixed)
        self.picture = SweepPicture()
        self.counts = SweepCounts()
        for widget in (self.loud, self.hint):
            card.body.addWidget(widget)
        card.body.addWidget(self.picture, 1)
        under = QHBoxLayout()
        under.addWidget(self.counts, 1)
        self.clock = label("", "quiet")
        self.clock.setAccessibleName("Time of the sweep")
        under.addWidget(self.clock)
        card.body.addLayout(under)
        return card

    def _last_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(10)
        self.numbers = LiveNumbers()
        self.sound = QCheckBox("&Sound at each change")
        self.sound.setToolTip(shared.SOUND_TIP)
        self.sound.setChecked(self.session.preferences.value("sweep/sound", "false") == "true")
        self.sound.toggled.connect(lambda on: self.session.preferences.setValue(
            "sweep/sound", "true" if on else "false"))
        # Far from the button that started it: a second press there must not stop it.
        self.keep_button = button("Stop and &keep", self.stop_and_keep)
        self.discard_button = button("Stop and &discard…", self.ask_discard)
        row.addWidget(self.numbers, 1)
        for widget in (self.sound, self.keep_button, self.discard_button):
            row.addWidget(widget)
        return row

    def next_step(self) -> NextStep:
        link = self.link
        if link.state == "recording" and link.purpose != "sweep":
            return NextStep(shared.PROOF_RECORDED if link.purpose == "proof" else
                            shared.CAR_LOGGED, "", "")
        if link.state == "recording":
            return self._step_running()
        if not self.session.cautions_read:
            return NextStep(shared.CAUTIONS_AND_BOARD, "", "wire up")
        if link.state == "opening":
            return NextStep(shared.OPENING)
        if link.state == "live" and link.source is not None:
            if not self._tracks:
                return NextStep(words.NO_TRACK, "", "wire up")
            if self.bench.unchecked:
                return NextStep(shared.INPUTS_FIRST, words.INPUTS_MORE, "wire up")
            if self.outcome and not self.whole:
                return NextStep(words.not_all_usable(self.outcome), words.again(self._limb),
                                "sweep again")
            return NextStep(words.start(self._limb), words.START_MORE, "start sweep")
        return NextStep(shared.CONNECT, self.outcome, "wire up")

    @property
    def _limb(self) -> Limb:
        return limb_of(self.bench.use)

    def _step_running(self) -> NextStep:
        """Return what is under way; what to do at the pedal stands in the loud line."""
        if self.link.lost:
            return NextStep(shared.LOST, words.WAITS)
        if self.link.source is None:
            return NextStep(shared.WAITING, self._limb.rests_off)
        guide = self.link.guide
        if guide is None or self.prompt is None:
            return NextStep(words.RECORDING, words.NO_STEPS)
        presses = [p for p in guide.plan.prompts if p.kind == "press"]
        at = max(sum(p.start_s <= self.prompt.start_s for p in presses), 1)
        return NextStep(words.at_press(at, len(presses), self._limb), words.FOLLOW)

    @property
    def _recording(self) -> bool:
        return self.link.state == "recording" and self.link.purpose == "sweep"

    def act(self) -> None:
        action = self.next_step().action
        if action in ("start sweep", "sweep again"):
            self.start()
        elif action:
            self.go_to.emit("wire_up")

    def status(self) -> PageStatus:
        if self._recording:
            return PageStatus("cable is out" if self.link.lost else "recording…", False)
        if not self.outcome:
            return PageStatus("not swept yet", False)
        # A tick beside another recording's values would say that they are of this sweep.
        shown = self.kept is not None and self.session.path == self.kept
        return PageStatus(self.outcome if shown else "another one is on show",
                          shown and self.whole)

    def apply_theme(self, skin: Skin) -> None:
        for widget in (self.loud, self.picture, self.counts, self.numbers):
            widget.apply_theme(skin)

    def shown(self) -> None:
        self._timer.start()
        self._show_plan()
        if self.session.cautions_read:
            self.link.look_again()

    def left(self) -> None:
        self._timer.stop()

    def catch_up(self) -> None:
        self._forget()
        self.setup.offer()

    def start(self) -> None:
        """Record a guided sweep into a new file of the folder."""
        folder = Path(self.folder.text()).expanduser()
        self.setup.remember()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            self.setup.folder_trouble.say(words.no_folder(str(folder), error.strerror))
            return
        self.prompt, self.outcome, self.whole, self._counted = None, "", False, False
        self.began = time.monotonic()
        self._wanted = self.setup.counts
        self.counts.show_tally(Tally(), *self._wanted)
        order = Order("sweep", free_name(folder, "sweep"), self.name.text().strip(),
                      self.bench.edits.options(), retry_s=RETRY_S, number=True,
                      fed_by=self.bench.said_feed, kind=self.bench.kind, use=self.bench.use,
                      rheostat=self.bench.rheostat)
        self._extends = self.session.path if self.setup.adds else None
        self.bench.record(order, *self._wanted)

    def stop_and_keep(self) -> None:
        """End the sweep; its file is closed properly. Asks when it has only just begun."""
        if time.monotonic() - self.began < SOON_S:
            self.session.asked.emit(words.STOP_ALREADY, (("Stop it", self.link.stop),
                                                         ("Go on", lambda: None)))
            return
        self.link.stop()

    def ask_discard(self) -> None:
        """Ask before the recording goes to the trash; it goes on meanwhile."""
        self.session.asked.emit(words.THROW_AWAY, (
            ("Throw it away", lambda: self.link.stop(discard=True)),
            ("Keep recording", lambda: None)))

    def _prompted(self, prompt: Prompt) -> None:
        changed = self.prompt is not None and prompt.kind != self.prompt.kind
        self.prompt = prompt
        if changed and self.sound.isChecked():
            QApplication.beep()
        self.step_changed.emit()

    def _notified(self, kind: str, text: str) -> None:
        guide = self.link.guide
        # What is the matter at the pedal stands beside the words that say what to do.
        if kind != "lost" and not (self._recording and guide is not None and text == guide.hint):
            self.session.notify(text, {"back": "good"}.get(kind, "know"))

    def _changed(self) -> None:
        recording = self._recording
        self.setup_card.setVisible(not recording)
        for widget in (self.loud, self.hint, self.keep_button, self.discard_button):
            widget.setVisible(recording)
        # Without a plan there is nothing to count by: a row of empty marks would say it fell short.
        self.counts.setVisible(self.link.guide is not None if recording else self._counted)
        if recording and self.picture.trail is None:
            self._forget()
        self.counts.limb = self._limb
        if not recording:
            self.prompt = None
            self._show_plan()
        self.step_changed.emit()

    def _show_plan(self) -> None:
        if not self._recording:
            self.clock.setText("")
            self.picture.show_plan(self.setup.plan())

    def _forget(self) -> None:
        self._channels = None
        self._tracks = [k for k, c in enumerate(self.bench.edits.channels) if c.role == "track"]
        self.step_changed.emit()

    def paint(self) -> None:
        """Show what came since the last call; the timer calls this 40 times a second."""
        pieces = self.link.take()
        channels = self.bench.edits.channels
        if channels is not self._channels:
            self._channels = channels
            self.numbers.said = self.bench.said
            self.numbers.begin(channels)
            if self._recording:
                self._begin_picture()
        volts = None
        for piece in pieces:
            if piece.readings.shape[1] == len(channels) > 0:
                volts = volts_of(channels, piece.readings)
                if self._recording and self._tracks and self.picture.trail is not None:
                    self.picture.trail.add(piece.time_s, volts[:, self._tracks])
                    if self._alone is not None:
                        self._alone.take(volts[:, self._tracks], piece.time_s[-1] < REST_S)
        self.numbers.show_level(None if volts is None else volts[-1],
                                self.session.board_state.fresh)
        if self._recording:
            self._show_running()

    def _begin_picture(self) -> None:
        source = self.link.source
        # Without a plan nobody counts, but the picture needs to know how far down the pedal is.
        self._alone = None if self.link.guide is not None else SweepJudge(
            [self.bench.edits.channels[k] for k in self._tracks],
            None if source is None else source.rate_hz)
        self.picture.begin(tuple(self.bench.edits.channels[k].column for k in self._tracks),
                           None if source is None else source.rate_hz)

    def _show_running(self) -> None:
        guide, link, file = self.link.guide, self.link, self.link.file
        if self.picture.trail is None and link.source is not None:
            self._begin_picture()
        now_s = self._now_s()
        if guide is not None:
            judge = guide.judge
            self.picture.show_now(Now(now_s, guide.elapsed_s, guide.plan),
                                  None if judge is None else judge.travel)
            self.counts.show_tally(guide.tally, guide.wanted - guide.wanted_lift_offs,
                                   guide.wanted_lift_offs)
        else:
            self.picture.show_now(Now(now_s, 0.0, None),
                                  None if self._alone is None else self._alone.travel)
        self._show_words()
        text = f"{file.last_s:.0f}\N{NO-BREAK SPACE}s" if file is not None else ""
        if guide is not None:
            text = (f"{guide.elapsed_s:.0f} of {guide.plan.end_s:.0f}\N{NO-BREAK SPACE}s")
        if self.clock.text() != text:
            self.clock.setText(text)

    def _now_s(self) -> float:
        """Return the recording's time now: also while no row comes, by the clock on the wall."""
        trail = self.picture.trail
        if trail is None or math.isnan(trail.now_s):
            return 0.0
        waited = self.session.board_state.silent_s
        return trail.now_s + (waited if waited > 2.0 * trail.gap_s else 0.0)

    def _show_words(self) -> None:
        """Say what to do at the pedal and for how long, so that it is read from there."""
        guide, link = self.link.guide, self.link
        hint = "" if guide is None else guide.hint
        if link.lost:
            self.loud.say(shared.LOST, f"{self.session.board_state.silent_s:.0f} s", "grave")
        elif link.source is None or self.prompt is None:
            self.loud.say(shared.WAITING if link.source is None else words.RECORDING)
        else:
            self.loud.say(f"{capital(self.prompt.words)}.", self._left())
        text = f"▲ {capital(hint)}." if hint else ""
        if self.hint.text() != text:
            self.hint.setText(text)
            self.hint.setAccessibleDescription(text)

    def _left(self) -> str:
        guide = self.link.guide
        if guide is None or self.prompt is None:
            return ""
        following = guide.plan.next_after(guide.elapsed_s)
        left = (following.start_s if following else guide.plan.end_s) - guide.elapsed_s
        # The last second reads 1: at 0 the next thing is to be done already.
        return f"{max(math.ceil(left), 1)} s"

    def _taken(self, taken: Taken) -> None:
        if taken.purpose != "sweep":
            return
        file, guide = taken.file, self.link.guide
        self.session.stop_asking()
        if file.writer is None:
            self.session.trouble(taken.error or shared.NO_ROW)
            self.link.look_again()
            return
        if taken.discarded:
            self.session.notify(throw_away(file.path), "know")
            self.link.look_again()
            return
        self.kept, self._counted = file.path, guide is not None
        if guide is not None:
            self._tally, self.whole = guide.tally, guide.whole
            wanted = guide.wanted - guide.wanted_lift_offs, guide.wanted_lift_offs
            self.outcome = usable((self._tally.presses, self._tally.lift_offs), wanted,
                                  guide.judge.still if guide.judge is not None else (),
                                  self._limb)
            self.counts.show_tally(self._tally, *wanted)
        else:
            # Without prompts nobody knows what was to be seen.
            self.outcome, self.whole = words.uncounted(file.writer.rows), False
        said, kind = ("", "good") if taken.error is None else (f"{taken.error} ", "mend")
        self.session.notify(
            f"{said}{shared.saved(str(file.path), file.writer.rows, file.lost_samples)}", kind)
        self.session.open_sweep(self._with_more(file.path))
        self._changed()

    def _with_more(self, path: Path) -> Path:
        """Return what is to be opened: the sweep, or the two together where it adds to one."""
        first, self._extends = self._extends, None
        if first is None:
            return path
        try:
            self.kept = join(first, path)
        except BenchError as error:
            self.session.trouble(refused(error, WINDOW))
            return path
        self.session.notify(words.together(first.name, str(self.kept), self._limb), "good")
        return self.kept
