"""In the car: log what key-on does to the rest readings, and whether the dead band holds."""

from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

from analysis.key_on.opening import opening, withholding
from analysis.model.pedal_kind import KIND_KEY, USE_KEY
from bench.services.car_live import CarWatch
from bench.services.key_on import (
    HOW,
    Capture,
    KeyOnFindings,
    LoggerOptions,
    fails,
    key_on_text,
    pedal_of,
)
from bench.services.record import Order
from bench.window.car_before import CarBefore
from bench.window.car_live_view import CarLiveView
from bench.window.car_read import CarRead, told
from bench.window.contactor_choice import NOT_CHOSEN
from bench.window.finding_view import must_mend
from bench.window.live import Taken
from bench.window.pages.page import NextStep, Page, PageStatus
from bench.window.recorded_files import free_name
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.widgets import FrontStack, scrolled
from bench.wording.face import WINDOW, first_sentence
from bench.wording.key_on_allowance import brief_reason, hindrances_of
from bench.wording.key_on_verdict import verdict_text
from bench.wording.pages import in_car as words
from bench.wording.pages import shared

PAINT_MS = 25
BEFORE, LIVE, READ = range(3)


class InCarPage(Page):
    """The key-on log: before it, while it runs, and what it showed."""

    key = "in_car"
    title = "In the car"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.bench, self.link = session.bench, session.bench.link
        self.watch: CarWatch | None = None
        self._words = ""
        self._stale = self._begun = False
        outer = QVBoxLayout(self)
        outer.setContentsMargins(em(1), em(1), em(1), em(1))
        self.stack = FrontStack()
        outer.addWidget(self.stack)
        self.before, self.live, self.read = (
            CarBefore(session), CarLiveView(session), CarRead())
        for each in (scrolled(self.before), self.live, self.read):
            self.stack.addWidget(each)
        # Held by name as well: whoever drives the window knows them so.
        self.contactor, self.stated = self.before.contactor, self.read.stated
        self.agree, self.sentences, self.use = (
            self.before.agree, self.read.sentences, self.read.use)
        self._timer = QTimer(self)
        self._timer.setInterval(PAINT_MS)
        self._timer.timeout.connect(self.paint)
        self.contactor.picked.connect(self.step_changed)
        self.stated.picked.connect(self._contactor_stated)
        self.read.used.connect(self.use_measured)
        self.read.copied.connect(self.copy)
        self.link.changed.connect(self._changed)
        self.link.taken.connect(self._taken)
        session.board_state.replaced.connect(self.before.forget)
        session.cautions_changed.connect(self._changed)
        session.key_on_changed.connect(self._key_on_changed)
        session.findings_changed.connect(self._fits_changed)
        session.parameters_changed.connect(self._fits_changed)

    @property
    def _logging(self) -> bool:
        return self.link.state == "recording" and self.link.purpose == "key-on"

    def next_step(self) -> NextStep:
        session, link = self.session, self.link
        if self._logging:
            if link.lost:
                return NextStep(shared.LOST, words.NOTHING_LOST)
            log = link.log
            if log is None or not log.logging:
                return NextStep(words.WAITS_FOR_KEY, session.limb.rests_off)
            return NextStep(words.logging(session.limb), HOW)
        if session.key_on is not None and self.stack.currentIndex() == READ:
            return self._step_read(session.key_on)
        if not session.car_cautions_read:
            return NextStep(words.CAUTIONS_FIRST, "", "accept cautions")
        if link.state == "recording":
            return NextStep(shared.PROOF_RECORDED if link.purpose == "proof" else
                            shared.SWEEP_RECORDED, "")
        if link.state == "opening":
            return NextStep(shared.OPENING)
        if not self.bench.edits.channels:
            return NextStep(shared.CONNECT, words.CONNECT_MORE, "wire up")
        if self.contactor.choice == NOT_CHOSEN:
            return NextStep(words.CONTACTOR_FIRST, words.CONTACTOR_FIRST_MORE, "start log",
                            enabled=False)
        return NextStep(words.start(session.limb), words.ANOTHER_PEDAL
                        if self.before.same.answer in ("no", "other tracks") else HOW,
                        "start log")

    def _step_read(self, found: KeyOnFindings) -> NextStep:
        if self.session.findings is not None and not self.session.key_on_fits:
            return NextStep(words.JUDGED_BY_ANOTHER, words.JUDGED_BY_ANOTHER_MORE, "judge log")
        more = verdict_text(found, WINDOW) if found.forbidding else ""
        hindered = hindrances_of(found, WINDOW)
        if found.verdict.applied is False and not more and not found.noisy and hindered:
            more = f"{hindered[0].then[0].upper()}{hindered[0].then[1:]}."
        lead = told(found)[0]
        if not found.forbidding:
            return NextStep(lead, more, "log again")
        swept = self.session.findings
        return NextStep(f"{first_sentence(lead)[0]}.", more, "sweep again" if
                        swept is None or must_mend(swept) else "decide")

    def act(self) -> None:
        action = self.next_step().action
        if action == "judge log":
            self.session.judge_key_on(self._stated())
        elif action in ("sweep again", "decide"):
            self.go_to.emit({"sweep again": "sweep"}.get(action, action))
        elif action == "accept cautions":
            self.session.accept_car_cautions()
        elif action == "start log":
            self.start()
        elif action == "log again":
            self.log_again()
        elif action:
            self.go_to.emit("wire_up")

    def first_focus(self) -> QWidget | None:
        """Return the first answer on the contactor while none is picked: nothing starts before."""
        asked = self.session.car_cautions_read and self.contactor.choice == NOT_CHOSEN
        return next(iter(self.contactor.buttons.values())) if asked else None

    def status(self) -> PageStatus:
        if self._logging:
            return PageStatus("logging…", False)
        found = self.session.key_on
        if found is None:
            return PageStatus("not logged yet", False)
        if self.session.findings is not None and not self.session.key_on_fits:
            return PageStatus("of another sweep", False)
        if found.verdict.applied is None:
            return PageStatus(("no values to judge by" if not found.verdict.tracks else
                    brief_reason(opening(found.found)[0].code, self.session.limb)
                    if opening(found.found) else
                    "not judged all the time" if found.unread else
                    "not every track judged"), False)
        if found.verdict.applied:
            return PageStatus("power would be applied", False)
        if found.noisy:
            return PageStatus("noise passes the values", False)
        if fails(found):
            return PageStatus("repair the pedal first", False)
        withheld = withholding(found.found)
        if withheld:
            return PageStatus(brief_reason(withheld[0].code, self.session.limb), False)
        if not found.car:
            return PageStatus("too few key-ons", False)
        # A tick would say that nothing is left to log.
        hindered = hindrances_of(found, WINDOW)
        if hindered:
            return PageStatus(f"held; {hindered[0].brief}", False)
        return PageStatus("the dead band holds", True)

    def subject(self) -> str:
        """Return the name of the log on show, "" for none."""
        path = self.session.key_on_path
        return path.name if path is not None and self.stack.currentIndex() == READ else ""

    def _stated(self) -> str | None:
        """Return what is stated of the opened log's contactor: its header's word, or the choice."""
        log = self.session.key_on
        written = log is not None and "contactor" in log.recording.extra
        return None if written or self.stated.choice == NOT_CHOSEN else self.stated.choice

    def _contactor_stated(self) -> None:
        found = self.session.key_on
        if found is not None and self.stated.choice != found.contactor:
            self.session.judge_key_on(self.stated.choice)

    def log_again(self) -> None:
        """Go back to what is asked before a log: the next one may be another."""
        self.before.begin()
        self.stack.setCurrentIndex(BEFORE)
        self.bench.look_in_car()
        self.link.look_again()
        self.step_changed.emit()

    def start(self) -> None:
        """Log from the board that was connected; the key line or the supply starts it."""
        if not self.session.car_cautions_read:
            self.stack.setCurrentIndex(BEFORE)
            self.step_changed.emit()
            return
        if not self.bench.edits.channels:
            self.go_to.emit("wire_up")
            return
        folder = Path(str(self.session.preferences.value("sweep/folder", Path.home())))
        if not folder.is_dir():
            folder = Path.home()
        self._words = ""
        chosen = self.contactor.choice
        options = LoggerOptions(cycles=self.before.cycles.value(),
                                contactor=None if chosen == NOT_CHOSEN else chosen)
        self.live.begin(self.before.cycles.value())
        self.watch = CarWatch(self.session.findings, options.key_volts,
                              self.before.same.answer in ("no", "other tracks"))
        kind, use = self._pedal()
        self.bench.log_car(Order("key-on", free_name(folder, "key-on"),
                                 channels=self.bench.car_options(), retry_s=float("inf"),
                                 number=True, kind=kind, use=use), options, self._said, self.watch)

    def _pedal(self) -> tuple[str | None, str | None]:
        """Return the kind and use of the pedal for the log's header: the sweep's, else as said."""
        findings = self.session.findings
        return pedal_of({KIND_KEY: self.bench.kind, USE_KEY: self.bench.use} if findings is None
                        else findings.recording.extra)

    def _said(self, text: str) -> None:
        # Called from the recorder's thread: only a word is kept, the timer shows it.
        self._words = text

    def apply_theme(self, skin: Skin) -> None:
        self.live.apply_theme(skin)
        self.read.apply_theme(skin)
        self._key_on_changed()

    def shown(self) -> None:
        self._timer.start()
        self._show_read()
        self.bench.look_in_car()
        if self.session.cautions_read:
            self.link.look_again()
        self._changed()

    def left(self) -> None:
        self._timer.stop()
        self.bench.look_at_pedal()

    def catch_up(self) -> None:
        self._key_on_changed()

    def _changed(self) -> None:
        self.before.show_cautions()
        if self._logging:
            self.stack.setCurrentIndex(LIVE)
        elif self.stack.currentIndex() == LIVE:
            self.stack.setCurrentIndex(READ if self.session.key_on is not None else BEFORE)
        self.step_changed.emit()

    def paint(self) -> None:
        """Show what came since the last call; the timer calls this 40 times a second."""
        if self._logging:
            # Every row is judged where it is recorded; what waits for the display is not needed.
            self.link.take()
            log = self.link.log
            begun = log is not None and log.logging
            if begun != self._begun:
                self._begun = begun
                self.step_changed.emit()
            if self.watch is not None:
                self.live.show_now(self.watch.now, self._words)
        elif self.stack.currentIndex() == BEFORE and self.session.car_cautions_read:
            self.bench.look_in_car()
            before = self.before.same.answer
            self.before.take(self.link.take(), self.session.board_state.fresh)
            if self.before.same.answer != before:
                self.step_changed.emit()

    def _taken(self, taken: Taken) -> None:
        file = taken.file
        if not isinstance(file, Capture):
            return
        self.before.begin()
        if file.writer is None:
            self.session.trouble(taken.error or words.NEVER_STARTED)
            return
        self.session.notify(shared.saved(str(file.path), file.writer.rows,
                                         key_ons=file.key_ons)
                          + (f" {taken.error}" if taken.error else ""),
                          "mend" if taken.error else "good")
        self.session.open(file.path)

    def _key_on_changed(self) -> None:
        self._stale = True
        if self.isVisible():
            self._show_read()
        self.step_changed.emit()

    def _fits_changed(self) -> None:
        found = self.session.key_on
        self.use.setEnabled(found is not None and bool(found.car) and self.session.key_on_fits)
        self.step_changed.emit()

    def _show_read(self) -> None:
        found = self.session.key_on
        if found is None or not self._stale:
            return
        self._stale = False
        if not self._logging:
            self.stack.setCurrentIndex(READ)
        self._fits_changed()
        # Green only where the rail has its tick too.
        self.read.show_log(found, self.status()[1], self.session.skin)
        self.step_changed.emit()

    def use_measured(self) -> None:
        """Let the page Decide go by what the car was measured to add."""
        found = self.session.key_on
        if found is not None and found.car:
            self.session.take_measured()
            self.go_to.emit("decide")

    def copy(self) -> None:
        """Copy everything the log shows as text."""
        if self.session.key_on is not None:
            QApplication.clipboard().setText(
                key_on_text(self.session.key_on, face=WINDOW))
            self.session.notify("Copied.", "good")
