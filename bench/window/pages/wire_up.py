"""Wire up: cautions, the board, what it says of itself, and every input live."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QVBoxLayout,
    QWidget,
)

from bench.errors import BoardTrouble, ScaleUnknown, SilentBoard
from bench.window.board_card import BoardCard
from bench.window.channel_rows import ChannelRows
from bench.window.pages.page import NextStep, Page, PageStatus
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.widgets import Abreast, Card, button, label
from bench.wording.board_silent import silent_board_words
from bench.wording.cautions import BENCH
from bench.wording.face import WINDOW, capital
from bench.wording.limb import limb_of
from bench.wording.live import BOTH_CLOSED, BOTH_CLOSED_MORE
from bench.wording.pages import shared
from bench.wording.pages import wire_up as words
from bench.wording.refusals import refused

if TYPE_CHECKING:
    pass

BAUDS = ("115200", "500000", "1000000", "57600", "38400", "19200", "9600")
PAINT_MS = 33


class WireUpPage(Page):
    """The board and its inputs."""

    key = "wire_up"
    title = "Wire up"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.bench = session.bench
        self._looked = False
        self._silent = ""
        # A sweep was recorded from this board: what it was is told on the page Sweep.
        self._recorded = self._was_live = False
        outer = QHBoxLayout(self)
        outer.setContentsMargins(12, 12, 12, 12)
        outer.setSpacing(12)
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(12)
        column.addWidget(self._caution_card())
        column.addWidget(self._board_card())
        column.addStretch(1)
        right = QVBoxLayout()
        right.setSpacing(12)
        right.addWidget(self._says_card())
        self.rows = ChannelRows(session)
        right.addWidget(self.rows, 1)
        beside = QWidget()
        beside.setLayout(right)
        right.setContentsMargins(0, 0, 0, 0)
        # One below the other where the text is large and the window small.
        both = Abreast(em(31))
        both.row.addWidget(left, 1)
        both.row.addWidget(beside, 4)
        outer.addWidget(both)
        self.timer = QTimer(self)
        self.timer.setTimerType(Qt.TimerType.PreciseTimer)
        self.timer.setInterval(PAINT_MS)
        self.timer.timeout.connect(self.paint_readings)
        QShortcut(QKeySequence("F5"), self, self.find_boards)
        self.bench.link.changed.connect(self._changed)
        self.bench.boards_found.connect(self.card.fill)
        self.bench.checked.connect(self._changed)
        self.bench.edits.changed.connect(self._changed)
        session.board_state.changed.connect(self._changed)
        session.board_state.replaced.connect(self._replaced)
        session.cautions_changed.connect(self._changed)
        self._changed()

    def _caution_card(self) -> QWidget:
        self.cautions = Card("Before you connect anything")
        self.caution_lines = QWidget()
        lines = QVBoxLayout(self.caution_lines)
        lines.setContentsMargins(0, 0, 0, 0)
        for text in BENCH:
            lines.addWidget(label(f"•  {text}", wrap=True))
        self.cautions.body.addWidget(self.caution_lines)
        self.agree = button("All of this is so", self.session.accept_cautions,
                            name=words.ALL_MET)
        self.cautions.body.addWidget(self.agree, 0, Qt.AlignmentFlag.AlignLeft)
        self.agreed = label(words.AGREED, "good")
        self.cautions.body.addWidget(self.agreed)
        return self.cautions

    def _board_card(self) -> QWidget:
        card = self.card = BoardCard(self.bench)
        # Held by name as well: whoever drives the window knows them so.
        self.board, self.board_trouble, self.pedal, self.baud, self.fed_by, self.kinds = (
            card.board, card.board_trouble, card.pedal, card.baud, card.fed_by, card.kinds)
        self.unsaid, self.full_scale, self.reference = (
            card.unsaid, card.full_scale, card.reference)
        self.connect_button, self.disconnect_button = card.connect_button, card.disconnect_button
        card.entered.connect(self.act)
        card.edited.connect(self._changed)
        card.connect_pressed.connect(self.connect_board)
        self.bench.link.failed.connect(self._failed)
        return card

    def _says_card(self) -> QWidget:
        card = Card("What the board says")
        self.says = label(words.SAYS_NOTHING, wrap=True)
        self.says.setAccessibleName("What the board says of itself")
        card.body.addWidget(self.says)
        self.recalled = QWidget()
        row = QHBoxLayout(self.recalled)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(label(words.RECALLED, "mend", wrap=True), 1)
        self.right = button("They are &right", self.bench.check_inputs,
                            name=words.RIGHT)
        row.addWidget(self.right)
        card.body.addWidget(self.recalled)
        return card

    def next_step(self) -> NextStep:
        link = self.bench.link
        if not self.session.cautions_read:
            return NextStep(words.CAUTIONS_FIRST, words.CAUTIONS_FIRST_MORE, "accept cautions")
        if link.state == "opening":
            return NextStep(shared.OPENING, "", "stop opening", True)
        if link.state == "recording":
            return NextStep(shared.SWEEP_RECORDED, "", "to the sweep")
        if link.state == "live":
            return self._step_live()
        if self._silent:
            return NextStep(words.SILENT, self._silent, "connect",
                            bool(self.card.named))
        named = self.card.named
        last = named and named == self.bench.board_name and not self.board_trouble.wrong
        return NextStep(words.CHOOSE, words.of_last_time(named) if last else "", "connect",
                         bool(named) and self.card.scale_stated)

    def _step_live(self) -> NextStep:
        link, state = self.bench.link, self.session.board_state
        if link.lost:
            return NextStep(shared.LOST, link.board_name)
        if link.source is None:
            return NextStep(words.HELLO, words.HELLO_MORE, "disconnect")
        if state.kind == "silent":
            return NextStep(words.went_silent(link.board_name), words.CHECK_CABLE, "disconnect")
        if self.bench.unchecked:
            return NextStep(words.STILL_RIGHT, shared.OF_LAST_TIME, "inputs right")
        if self.rows.both_closed:
            return NextStep(BOTH_CLOSED, BOTH_CLOSED_MORE, "to the sweep")
        still, of = self.rows.unmoved, limb_of(self.bench.use)
        if still and len(still) == len(self.rows.tracks):
            return NextStep(words.press(of), words.PRESS_MORE, "to the sweep")
        if still:
            return NextStep(words.unmoved(still), words.unmoved_more(of), "to the sweep")
        return NextStep(words.ALL_MOVE, words.ALL_MOVE_MORE, "to the sweep")

    def act(self) -> None:
        action = self.next_step().action
        if action == "accept cautions":
            self.session.accept_cautions()
        elif action == "connect":
            self.connect_board()
        elif action in ("stop opening", "disconnect"):
            self.bench.disconnect_board()
        elif action == "inputs right":
            self.bench.check_inputs()
        elif action:
            self.go_to.emit("sweep")

    def status(self) -> PageStatus:
        link = self.bench.link
        if link.lost:
            return PageStatus("cable is out", False)
        if link.state in ("live", "recording") and link.source is not None:
            # Wired up is what was seen to be: every track moves, and the inputs were looked at.
            moved = self._recorded or (self.rows.tracks and not self.rows.unmoved)
            done = bool(moved) and not self.bench.unchecked
            return PageStatus(link.source.board_name, done)
        return PageStatus({"opening": "opening…", "live": "waiting for the board"}.get(
            link.state, "not connected"), False)

    def apply_theme(self, skin: Skin) -> None:
        self.rows.apply_theme(skin)

    def shown(self) -> None:
        self.timer.start()
        if not self._looked:
            self._looked = True
            self.find_boards()
        if self.session.cautions_read:
            self.bench.link.look_again()

    def left(self) -> None:
        self.timer.stop()

    def catch_up(self) -> None:
        self.rows.show_edits()

    def find_boards(self) -> None:
        """Look for ports again."""
        self.bench.find_boards()

    def connect_board(self) -> None:
        """Connect the board that is named."""
        if not self.session.cautions_read:
            self.session.notify(words.PRESS_AGREE, "mend", "cautions")
            return
        name = self.card.named
        if not name:
            self.board_trouble.say(words.NAME_A_BOARD)
            return
        if not self.card.scale_stated:
            self.full_scale.setFocus()
            return
        if not self.card.numbers_right():
            return
        self._silent = ""
        self.board_trouble.clear()
        self.bench.connect_board(name, self.baud.currentText(), self.card.scale)

    def _failed(self, error: Exception) -> None:
        plain = error.plain if isinstance(error, BoardTrouble) else refused(error, WINDOW)
        text = f"{capital(' '.join(plain.split()))}."
        if isinstance(error, ScaleUnknown):
            self.card.ask_scale()
        else:
            if isinstance(error, SilentBoard):
                self._silent = silent_board_words(self.bench.board_name, str(self.bench.baud))
            # Beside the board it is about, until another is named or it sends.
            self.board_trouble.say(text, focus=False)
        self._changed()

    def _replaced(self) -> None:
        self._recorded = False

    def _changed(self) -> None:
        self._recorded |= (self.bench.link.state, self.bench.link.purpose) == (
            "recording", "sweep")
        read = self.session.cautions_read
        self.caution_lines.setVisible(not read)
        self.agree.setVisible(not read)
        self.agreed.setVisible(read)
        link = self.bench.link
        idle = link.state == "idle"
        self.card.show_link(idle, read, link.state == "recording")
        source = link.source
        if source is None:
            self.says.setText(words.SAYS_NOTHING if idle else words.SAYS_WAITING)
        else:
            self.unsaid.hide()
            first = source.channels[0]
            scale = (words.scale(first.full_scale, first.reference_volts)
                     if first.full_scale and first.reference_volts else "")
            self.says.setText(" · ".join(t for t in (
                source.board_name, f"{len(source.channels)} inputs", words.rate(source.rate_hz),
                scale) if t))
        self.recalled.setVisible(self.bench.unchecked)
        self.rows.setEnabled(link.state in ("live", "idle"))
        self.step_changed.emit()
        live = link.state == "live" and source is not None
        if live and not self._was_live and self.isVisible():
            self.focus_next.emit()
        self._was_live = live

    def first_focus(self) -> QWidget | None:
        """Return the board's field while there is none to connect."""
        return self.board if self.session.cautions_read and not self.card.named else None

    def paint_readings(self) -> None:
        still = self.rows.unmoved
        self.rows.paint()
        if self.rows.unmoved != still:
            self.step_changed.emit()
