"""Wire up: cautions, the board, what it says of itself, and every input live."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from analysis.model.pedal_kind import RECORDED
from bench.errors import ScaleUnknown, SilentBoard
from bench.services.boards import SIMULATED
from bench.window.channel_rows import ChannelRows
from bench.window.field_trouble import FieldTrouble
from bench.window.pages.page import NextStep, Page, PageStatus
from bench.window.session import Session
from bench.window.theme import Skin
from bench.window.widgets import Card, button, label, scrolled
from bench.wording.board_silent import silent_board_words
from bench.wording.cautions import BENCH
from bench.wording.face import WINDOW, capital
from bench.wording.feed import FEEDS, NOT_SAID, TIP
from bench.wording.parameters import WORDS as PARAMETER_WORDS
from bench.wording.refusals import refused

if TYPE_CHECKING:
    from bench.services.boards import FoundPort

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
        area = scrolled(left)
        area.setMinimumWidth(300)
        area.setMaximumWidth(380)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        outer.addWidget(area, 1)
        right = QVBoxLayout()
        right.setSpacing(12)
        right.addWidget(self._says_card())
        self.rows = ChannelRows(session)
        right.addWidget(self.rows, 1)
        outer.addLayout(right, 4)
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(PAINT_MS)
        self._timer.timeout.connect(self._paint)
        QShortcut(QKeySequence("F5"), self, self.find_boards)
        self.bench.link.changed.connect(self._changed)
        self.bench.boards_found.connect(self._fill_boards)
        self.bench.checked.connect(self._changed)
        self.bench.edits.changed.connect(self._changed)
        session.board_state.changed.connect(self._changed)
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
                            name="All of these cautions are met")
        self.cautions.body.addWidget(self.agree)
        self.agreed = label("✓ Read and met, for this session.", "good")
        self.cautions.body.addWidget(self.agreed)
        return self.cautions

    def _board_card(self) -> QWidget:
        card = Card("Board", "Pick a port that was found, type a path or a COM name, or learn "
                             "with the simulated pedal.")
        row = QHBoxLayout()
        self.board = QComboBox()
        self.board.setEditable(True)
        self.board.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.board.setAccessibleName("Board: a port that was found, a typed path, or simulated")
        self.board.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.board.setMinimumContentsLength(12)
        if self.bench.board_name:
            self.board.addItem(self.bench.board_name)
        typed = self.board.lineEdit()
        assert typed is not None
        # Nothing is chosen for anybody: a simulated pedal must not pass for one's own.
        typed.setPlaceholderText("a port, a path, or simulated")
        typed.returnPressed.connect(self.act)
        self.board.currentTextChanged.connect(lambda _text: self._show_kind())
        row.addWidget(self.board, 1)
        row.addWidget(button("&Look again", self.find_boards, tip="F5"))
        card.body.addLayout(row)
        self.board_trouble = FieldTrouble(self.board, lines=0)
        card.body.addWidget(self.board_trouble)
        grid = QGridLayout()
        grid.setColumnStretch(1, 1)
        self.pedal = QComboBox()
        self.pedal.setAccessibleName("Which simulated pedal")
        for name, about in self.bench.pedals():
            self.pedal.addItem(name, name)
            self.pedal.setItemData(self.pedal.count() - 1, about, Qt.ItemDataRole.ToolTipRole)
        self.pedal.setCurrentText(self.bench.pedal)
        self.pedal.currentTextChanged.connect(self._pick_pedal)
        self.pedal_about = label("", "quiet", wrap=True)
        self.pedal_label = label("Pedal")
        grid.addWidget(self.pedal_label, 0, 0)
        grid.addWidget(self.pedal, 0, 1)
        grid.addWidget(self.pedal_about, 1, 0, 1, 2)
        self.baud = QComboBox()
        self.baud.setEditable(True)
        self.baud.addItems(BAUDS)
        self.baud.setCurrentText(str(self.bench.baud))
        self.baud.setAccessibleName("Speed of the port, baud")
        self.baud_label = label("Speed")
        grid.addWidget(self.baud_label, 2, 0)
        grid.addWidget(self.baud, 2, 1)
        self.fed_by = QComboBox()
        self.fed_by.setAccessibleName("What feeds the pedal")
        self.fed_by.setToolTip(TIP)
        self.fed_by.addItem(NOT_SAID, None)
        for fed_by, text in FEEDS.items():
            self.fed_by.addItem(text, fed_by)
        self.fed_by.currentIndexChanged.connect(
            lambda _place: setattr(self.bench, "fed_by", self.fed_by.currentData()))
        self.fed_by_label = label("Pedal fed by")
        grid.addWidget(self.fed_by_label, 3, 0)
        grid.addWidget(self.fed_by, 3, 1)
        self.kinds = {n: self._kind_box(n, set_to) for n, set_to in (
            ("pedal_kind", "kind"), ("pedal_use", "use"))}
        for line, (named, kind_box) in enumerate(self.kinds.items(), 4):
            grid.addWidget(label(PARAMETER_WORDS[named].label), line, 0)
            grid.addWidget(kind_box, line, 1)
        card.body.addLayout(grid)
        self.unsaid = QWidget()
        fields = QGridLayout(self.unsaid)
        fields.setContentsMargins(0, 0, 0, 0)
        fields.addWidget(label("The board does not say what its readings mean:", "mend",
                               wrap=True), 0, 0, 1, 2)
        self.full_scale = QComboBox()
        self.full_scale.setEditable(True)
        self.full_scale.addItems(["1024", "4096", "65536"])
        self.full_scale.setCurrentIndex(-1)
        self.full_scale.setAccessibleName("Full scale of the readings, counts")
        self.reference = QComboBox()
        self.reference.setEditable(True)
        self.reference.addItems(["5.0", "3.3"])
        self.reference.setCurrentIndex(-1)
        for field, hint in ((self.full_scale, "such as 4096"), (self.reference, "such as 5.0")):
            line = field.lineEdit()
            assert line is not None
            line.setPlaceholderText(hint)
            field.currentTextChanged.connect(lambda _text: self._changed())
        self.reference.setAccessibleName("Volts that read full scale")
        fields.addWidget(label("Full scale, counts"), 1, 0)
        fields.addWidget(self.full_scale, 1, 1)
        fields.addWidget(label("Volts at full scale"), 2, 0)
        fields.addWidget(self.reference, 2, 1)
        self.unsaid.hide()
        card.body.addWidget(self.unsaid)
        row = QHBoxLayout()
        self.connect_button = button("&Connect", self.connect_board)
        self.disconnect_button = button("&Disconnect", self.bench.disconnect_board)
        row.addWidget(self.connect_button)
        row.addWidget(self.disconnect_button)
        row.addStretch(1)
        card.body.addLayout(row)
        self.bench.link.failed.connect(self._failed)
        self._show_kind()
        return card

    def _says_card(self) -> QWidget:
        card = Card("What the board says")
        self.says = label("Nothing yet: it is not connected.", wrap=True)
        self.says.setAccessibleName("What the board says of itself")
        card.body.addWidget(self.says)
        self.recalled = QWidget()
        row = QHBoxLayout(self.recalled)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(label("▲ Names, roles and dividers below are those of last time: look at "
                            "each.", "mend", wrap=True), 1)
        self.right = button("They are &right", self.bench.check_inputs,
                            name="The inputs below are right as they are")
        row.addWidget(self.right)
        card.body.addWidget(self.recalled)
        return card

    def next_step(self) -> NextStep:
        link = self.bench.link
        if not self.session.cautions_read:
            return NextStep("Read the cautions and see to them first.",
                            "Once per session; reading old recordings needs none of it.",
                            "accept cautions")
        if link.state == "opening":
            return NextStep("Opening the board…", "", "stop opening", True)
        if link.state == "recording":
            return NextStep("A sweep is being recorded.", "", "to the sweep")
        if link.state == "live":
            return self._step_live()
        if self._silent:
            return NextStep("The board is silent.", self._silent, "connect",
                            bool(self.board.currentText().strip()))
        named = self.board.currentText().strip()
        last = named and named == self.bench.board_name
        return NextStep("Choose your board and connect it.",
                        f"{named} is the one of last time: is it the one before you?" if last
                        else "", "connect", bool(named) and self._scale_stated)

    def _step_live(self) -> NextStep:
        link, state = self.bench.link, self.session.board_state
        if link.lost:
            return NextStep("The cable is out: plug it in again.", link.board_name)
        if link.source is None:
            return NextStep("Waiting for the board to say what it is…",
                            "Some boards take two seconds to start.", "disconnect")
        if state.kind == "silent":
            return NextStep(f"{link.board_name} is silent: it stopped sending.",
                            "Check its cable and its power. Numbers are dashes until it sends "
                            "again.", "disconnect")
        if self.bench.unchecked:
            return NextStep("Are the inputs still what they were?",
                            "Names, roles and dividers are those of last time: look at each.",
                            "inputs right")
        still = self.rows.unmoved
        if still and len(still) == len(self.rows.tracks):
            return NextStep("Press the pedal: both tracks should move.",
                            "Give each input its name and role, then go on.", "to the sweep")
        if still:
            return NextStep(f"Track {', '.join(still)} has not moved yet.",
                            "Press the pedal. If it stays, check that track's three wires and its "
                            "input.", "to the sweep")
        return NextStep("Every track moves: go on to the sweep.",
                        "Are names and roles right?", "to the sweep")

    @property
    def _scale_stated(self) -> bool:
        """Return whether the scale is stated where the board does not say it."""
        return not self.unsaid.isVisibleTo(self) or bool(
            self.full_scale.currentText().strip() and self.reference.currentText().strip())

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
            return PageStatus(link.source.board_name, True)
        return PageStatus({"opening": "opening…", "live": "waiting for the board"}.get(
            link.state, "not connected"), False)

    def apply_theme(self, skin: Skin) -> None:
        self.rows.apply_theme(skin)

    def shown(self) -> None:
        self._timer.start()
        if not self._looked:
            self._looked = True
            self.find_boards()
        if self.session.cautions_read:
            self.bench.link.look_again()

    def left(self) -> None:
        self._timer.stop()

    def catch_up(self) -> None:
        self.rows.show_edits()

    def find_boards(self) -> None:
        """Look for ports again."""
        self.bench.find_boards()

    def _fill_boards(self, found: "Sequence[FoundPort]") -> None:
        typed = self.board.currentText() or self.bench.board_name
        self.board.blockSignals(True)
        self.board.clear()
        for port in found:
            self.board.addItem(port.port, port.port)
            self.board.setItemData(self.board.count() - 1, port.text,
                                   Qt.ItemDataRole.ToolTipRole)
        self.board.setCurrentText(typed)
        self.board.blockSignals(False)
        self._show_kind()
        self.step_changed.emit()

    def _kind_box(self, name: str, said: str) -> QComboBox:
        """Return the box that says of what kind the pedal is; every recording keeps it."""
        words = PARAMETER_WORDS[name]
        box = QComboBox()
        box.setAccessibleName(words.label)
        box.setToolTip(words.tip or words.help)
        box.addItem(NOT_SAID, None)
        for value, text in words.options.items():
            if value != RECORDED:
                box.addItem(text, value)
        box.currentIndexChanged.connect(
            lambda _place: setattr(self.bench, said, box.currentData()))
        return box

    def _show_kind(self) -> None:
        name = self.board.currentText().strip()
        simulated = name == SIMULATED
        for widget in (self.pedal, self.pedal_about, self.pedal_label):
            widget.setVisible(simulated)
        for widget in (self.baud, self.baud_label, self.fed_by, self.fed_by_label):
            widget.setVisible(bool(name) and not simulated)
        self._pick_pedal(self.pedal.currentText())
        self.step_changed.emit()

    def _pick_pedal(self, name: str) -> None:
        self.bench.pedal = name
        self.pedal_about.setText(dict(self.bench.pedals()).get(name, ""))

    def connect_board(self) -> None:
        """Connect the board that is named."""
        if not self.session.cautions_read:
            self.session.notify("Read the cautions and press All of this is so first.", "mend",
                                "cautions")
            return
        name = self.board.currentText().strip()
        if not name:
            self.board_trouble.say("Name a board first: a port, a path, or simulated.")
            return
        scale = (self.full_scale.currentText(), self.reference.currentText()) if (
            self.unsaid.isVisible()) else None
        if not self._scale_stated:
            self.full_scale.setFocus()
            return
        self._silent = ""
        self.board_trouble.clear()
        self.bench.connect_board(name, self.baud.currentText(), scale)

    def _failed(self, error: Exception) -> None:
        text = capital(" ".join(refused(error, WINDOW).split()))
        if isinstance(error, ScaleUnknown):
            self.unsaid.show()
            self.full_scale.setFocus()
            self.session.trouble("The board does not say what its readings mean; state it here "
                                 "and connect.", "board")
        else:
            if isinstance(error, SilentBoard):
                self._silent = silent_board_words(self.bench.board_name, str(self.bench.baud))
            # Beside the board it is about, until another is named or it sends.
            self.board_trouble.say(text, focus=False)
        self._changed()

    def _changed(self) -> None:
        read = self.session.cautions_read
        self.caution_lines.setVisible(not read)
        self.agree.setVisible(not read)
        self.agreed.setVisible(read)
        link = self.bench.link
        idle = link.state == "idle"
        self.connect_button.setVisible(idle)
        self.connect_button.setEnabled(read and self._scale_stated)
        self.disconnect_button.setVisible(not idle)
        self.disconnect_button.setEnabled(link.state != "recording")
        for widget in (self.board, self.baud, self.pedal):
            widget.setEnabled(idle)
        source = link.source
        if source is None:
            self.says.setText("Nothing yet: it is not connected." if idle else
                              "Connected; waiting for it to say what it is.")
        else:
            self.unsaid.hide()
            rate = f"{source.rate_hz:g} rows a second" if source.rate_hz else "rate not stated"
            first = source.channels[0]
            scale = (f"full scale {first.full_scale:g} counts at {first.reference_volts:g} V"
                     if first.full_scale and first.reference_volts else "")
            self.says.setText(" · ".join(t for t in (
                source.board_name, f"{len(source.channels)} inputs", rate, scale) if t))
        self.recalled.setVisible(self.bench.unchecked)
        self.rows.setEnabled(link.state in ("live", "idle"))
        self.step_changed.emit()

    def first_focus(self) -> QWidget | None:
        """Return the board's field while there is none to connect."""
        named = bool(self.board.currentText().strip())
        return self.board if self.session.cautions_read and not named else None

    def _paint(self) -> None:
        still = self.rows.unmoved
        self.rows.paint()
        if self.rows.unmoved != still:
            self.step_changed.emit()
