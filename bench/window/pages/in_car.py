"""In the car: log what key-on does to the rest readings, and whether the dead band holds."""

from pathlib import Path

import pyqtgraph as pg
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from analysis.key_on.opening import opening, withholding
from bench.plots.key_on import KEY_ON_FIGURES, draw_key_on
from bench.services.key_on import (
    HOW,
    Capture,
    KeyOnFindings,
    LoggerOptions,
    disk_left,
    fails,
    key_on_text,
)
from bench.services.record import Order
from bench.window.finding_view import Said
from bench.window.live import Taken
from bench.window.pages.page import NextStep, Page, PageStatus
from bench.window.pages.sweep import free_name
from bench.window.sentences import SentenceDelegate
from bench.window.session import Session
from bench.window.theme import Skin
from bench.window.traces_card import TracesCard
from bench.window.widgets import Card, button, label
from bench.wording.cautions import CAR
from bench.wording.face import WINDOW
from bench.wording.key_on import forbidding_beside
from bench.wording.key_on_allowance import BRIEF, hindrances_of
from bench.wording.key_on_found import CONTACTOR_WORDS, log_sentence
from bench.wording.key_on_sentences import do_not_enter, do_not_keep
from bench.wording.key_on_verdict import verdict_text
from bench.wording.reasons import in_words
from bench.wording.sweep import sentences

PAINT_MS = 40


class InCarPage(Page):
    """The key-on log, live and read."""

    key = "in_car"
    title = "In the car"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.bench, self.link = session.bench, session.bench.link
        self._words = ""
        self._stale = False
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 12, 12, 12)
        outer.addLayout(self._contactor_row())
        self.stack = QStackedWidget()
        outer.addWidget(self.stack, 1)
        self.stack.addWidget(self._before_page())
        self.stack.addWidget(self._live_page())
        self.stack.addWidget(self._read_page())
        self._timer = QTimer(self)
        self._timer.setInterval(PAINT_MS)
        self._timer.timeout.connect(self.paint)
        self.link.changed.connect(self._changed)
        self.link.taken.connect(self._taken)
        session.cautions_changed.connect(self._changed)
        session.key_on_changed.connect(self._key_on_changed)
        session.findings_changed.connect(self._fits_changed)
        session.parameters_changed.connect(self._fits_changed)

    def _contactor_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.contactor = QComboBox()
        self.contactor.setAccessibleName("Contactor at these key-ons")
        for word in (None, "open", "closed"):
            self.contactor.addItem(CONTACTOR_WORDS[word], word)
        self.contactor.setToolTip("Only a log in which it closes may lower the assumed allowance")
        self.contactor.activated.connect(lambda _index: self._contactor_stated())
        self.of_log = label("", "quiet")
        row.addWidget(label("Contactor at these key-ons:"))
        row.addWidget(self.contactor)
        row.addWidget(self.of_log)
        row.addStretch(1)
        return row

    def _before_page(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        card = Card("Before logging in the car")
        for text in CAR:
            card.body.addWidget(label(f"•  {text}", wrap=True))
        self.agree = button("All of this is so", self.session.accept_car_cautions,
                            name="All of the cautions for the car are met")
        self.agreed = label("✓ Read and met, for this session.", "good")
        card.body.addWidget(self.agree)
        card.body.addWidget(self.agreed)
        column.addWidget(card)
        how = Card("What this is for", "The bench says what the pedal does on its own. At key-on "
                   "the car adds its part: grounds shift, the field comes up, the supply sags. "
                   "The log measures that, says whether power would have been applied with your "
                   "values, and puts what it measured in place of what was assumed. "
                   "Less than assumed counts only when the contactor closes at these key-ons: log "
                   "with it open first, then, when all is well, again with it closed.")
        how.body.addWidget(label("Foot off the pedal. " + HOW, wrap=True))
        column.addWidget(how)
        column.addStretch(1)
        return page

    def _live_page(self) -> QWidget:
        self.traces = TracesCard()
        self.state = label("", "head", wrap=True)
        self.state.setAccessibleName("How the log stands")
        self.traces.body.insertWidget(0, self.state)
        return self.traces

    def _read_page(self) -> QWidget:
        page = QWidget()
        row = QHBoxLayout(page)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(10)
        left = QVBoxLayout()
        self.sentences = QListWidget()
        self.sentences.setAccessibleName("What the log shows, the verdict first")
        self.sentences.setWordWrap(True)
        self.sentences.setItemDelegate(SentenceDelegate(self.sentences))
        self.sentences.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.sentences.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        left.addWidget(self.sentences, 1)
        buttons = QHBoxLayout()
        self.use = button("Use the allowance of this log", self.use_measured,
                          tip="The page Decide then goes by it, for the sweep on show only")
        buttons.addWidget(self.use)
        buttons.addWidget(button("Copy", self.copy, tip="Copy all of it as text"))
        buttons.addStretch(1)
        left.addLayout(buttons)
        row.addLayout(left, 2)
        grid = QGridLayout()
        grid.setSpacing(8)
        self._views = {}
        for place, (name, (title, _)) in enumerate(KEY_ON_FIGURES.items()):
            view = pg.GraphicsLayoutWidget()
            view.setAccessibleName(title)
            view.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            view.plot = view.addPlot(enableMenu=False)
            self._views[name] = view
            grid.addWidget(view, min(place, 1), max(place - 1, 0), 1, 2 if not place else 1)
        row.addLayout(grid, 3)
        return page

    @property
    def _logging(self) -> bool:
        return self.link.state == "recording" and self.link.purpose == "key-on"

    def next_step(self) -> NextStep:
        session, link = self.session, self.link
        if self._logging:
            if link.lost:
                return NextStep("The cable is out: plug it in again.", "Nothing logged is lost.",
                                "stop log", loud=True)
            log = link.log
            if log is None or not log.logging:
                waits = log.waits_for if log is not None else "the board"
                return NextStep(
                    "Turn the key on.", f"The log waits for {waits}; what happens shortly before "
                    "is kept too.", "start log now", loud=True)
            return NextStep("Foot off the pedal.", HOW, "stop log", loud=True)
        if session.key_on is not None and self.stack.currentIndex() == 2:
            return self._step_read(session.key_on)
        if not session.car_cautions_read:
            return NextStep("Read the cautions for the car and see to them first.", "",
                            "accept cautions")
        if link.state == "recording":
            return NextStep("A sweep is being recorded.", "")
        if not self.bench.edits.channels or link.state == "opening":
            return NextStep("Connect a board first.",
                            "Both tracks, and the supply and the key line if you can.", "wire up")
        return NextStep("Foot off the pedal, then start the log.", HOW, "start log")

    def _step_read(self, found: KeyOnFindings) -> NextStep:
        if self.session.findings is not None and not self.session.key_on_fits:
            return NextStep("This log was judged by another sweep or other parameters, or by none.",
                       "Judge it by the sweep on show if that is the pedal in this car.",
                       "judge log")
        more = verdict_text(found, WINDOW) if found.forbidding else ""
        hindered = hindrances_of(found, WINDOW)
        if found.verdict.applied is False and not more and not found.noisy and hindered:
            more = f"{hindered[0].then[0].upper()}{hindered[0].then[1:]}."
        return NextStep(_told(found)[0], more, "sweep again" if found.forbidding else "log again")

    def act(self) -> None:
        action = self.next_step().action
        if action == "judge log":
            self.session.judge_key_on(self._stated())
        elif action == "sweep again":
            self.go_to.emit("sweep")
        elif action == "accept cautions":
            self.session.accept_car_cautions()
        elif action in ("start log", "log again"):
            self.start()
        elif action == "start log now":
            if self.link.log is not None:
                self.link.log.enter()
        elif action == "stop log":
            self.link.stop()
        elif action:
            self.go_to.emit("wire_up")

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
                    BRIEF[opening(found.found)[0].code] if opening(found.found) else
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
            return PageStatus(BRIEF[withheld[0].code], False)
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
        return path.name if path is not None and self.stack.currentIndex() == 2 else ""

    def _stated(self) -> str | None:
        """Return what is stated of the opened log's contactor: its header's word, or the choice."""
        log = self.session.key_on
        written = log is not None and "contactor" in log.recording.extra
        return None if written else self.contactor.currentData()

    def _contactor_stated(self) -> None:
        found = self.session.key_on
        if found is None or self._logging or self.stack.currentIndex() != 2:
            return
        if "contactor" in found.recording.extra:
            self.session.notify("The choice is for the next log; this one has it in its header.",
                              "know")
        elif self.contactor.currentData() != found.contactor:
            self.session.judge_key_on(self.contactor.currentData())

    def start(self) -> None:
        """Log from the board that was connected; the key line or the supply starts it."""
        if not self.session.car_cautions_read:
            self.stack.setCurrentIndex(0)
            self.step_changed.emit()
            return
        if not self.bench.edits.channels:
            self.go_to.emit("wire_up")
            return
        folder = Path(str(self.session.preferences.value("sweep/folder", Path.home())))
        if not folder.is_dir():
            folder = Path.home()
        self._words = ""
        self.traces.channels = ()
        self.bench.log_car(Order("key-on", free_name(folder, "key-on"),
                                 channels=self.bench.car_options(), retry_s=float("inf"),
                                 number=True),
                           LoggerOptions(contactor=self.contactor.currentData()), self._said)

    def _said(self, text: str) -> None:
        # Called from the recorder's thread: only a word is kept, the timer shows it.
        self._words = text

    def apply_theme(self, skin: Skin) -> None:
        self.traces.apply_theme(skin)
        for view in self._views.values():
            view.setBackground(QColor(skin.look.background))
        self._key_on_changed()

    def shown(self) -> None:
        self._timer.start()
        self._show_read()
        self._changed()

    def left(self) -> None:
        self._timer.stop()

    def catch_up(self) -> None:
        self._key_on_changed()

    def _changed(self) -> None:
        read = self.session.car_cautions_read
        self.agree.setVisible(not read)
        self.agreed.setVisible(read)
        self.contactor.setEnabled(not self._logging)
        if self._logging:
            self.stack.setCurrentIndex(1)
        elif self.stack.currentIndex() == 1:
            self.stack.setCurrentIndex(2 if self.session.key_on is not None else 0)
        self.step_changed.emit()

    def paint(self) -> None:
        """Show what came since the last call."""
        if not self._logging:
            return
        source, pieces = self.link.source, self.link.take()
        if source is not None and pieces and (
                pieces[-1].readings.shape[1] == len(source.channels)):
            if self.traces.channels is not source.channels:
                self.traces.begin(source.channels, self.session.skin, close_up=True)
            self.traces.show_rows(pieces)
        log = self.link.log
        if log is not None and log.logging and log.writer is not None:
            size, free = log.writer.bytes_written / 1e6, disk_left(log.path) / 1e9
            text = (f"{log.key_ons} key-ons · {log.last_s:.0f} s · {size:.1f} MB, "
                    f"{free:.0f} GB free on the disk")
        else:
            text = self._words
        if self.state.text() != text:
            self.state.setText(text)
            self.step_changed.emit()

    def _taken(self, taken: Taken) -> None:
        file = taken.file
        if not isinstance(file, Capture):
            return
        if file.writer is None:
            self.session.trouble(taken.error or "Nothing was logged: the log never started.")
            return
        self.session.notify(f"Saved: {file.path} ({file.writer.rows} rows, {file.key_ons} key-ons)."
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
            self.stack.setCurrentIndex(2)
        self.contactor.setCurrentIndex(self.contactor.findData(found.contactor))
        self.of_log.setText(f"This log: {CONTACTOR_WORDS[found.contactor]}")
        self._fits_changed()
        self.sentences.clear()
        # Green only where the rail has its tick too.
        levels = {verdict_text(found, WINDOW): 3 if found.verdict.applied else
                  0 if self.status()[1] else 1,
                  **dict.fromkeys(sentences(found.forbidding, WINDOW), 3),
                  **{log_sentence(f, WINDOW): f.gravity for f in found.found if f.gravity > 1}}
        if found.verdict.applied:
            levels[do_not_enter(found)] = 3
        elif found.noisy:
            levels[do_not_keep(found)] = 2
        for text in (*_told(found), *(in_words(note, WINDOW) for note in found.notes)):
            item = QListWidgetItem(text)
            item.setData(Qt.ItemDataRole.UserRole, Said(levels.get(text, 1), text, ""))
            self.sentences.addItem(item)
        look = self.session.skin.look.small()
        for name, view in self._views.items():
            draw_key_on(name, view.plot, found, look)
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


def _told(found: KeyOnFindings) -> tuple[str, ...]:
    """Return what forbids driving, then what the log shows."""
    return forbidding_beside(sentences(found.forbidding, WINDOW), found, WINDOW)
