"""The board's own card: its port or path, what hangs there, and its scale where it does not say."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QSizePolicy,
    QWidget,
)

from analysis.model.pedal_kind import RECORDED
from analysis.parameters import TABLE
from bench.services.boards import SIMULATED
from bench.window.board_controller import BoardController
from bench.window.field_trouble import FieldTrouble
from bench.window.sizes import em
from bench.window.widgets import Card, button, label
from bench.wording.face import capital
from bench.wording.feed import FEEDS, NOT_SAID, TIP
from bench.wording.pages import wire_up as page
from bench.wording.parameters import WORDS as PARAMETER_WORDS

if TYPE_CHECKING:
    from bench.services.boards import FoundPort

BAUDS = ("115200", "500000", "1000000", "57600", "38400", "19200", "9600")


class BoardCard(Card):
    """The fields that name a board. edited: one of them is another; entered: Return was pressed."""

    edited = Signal()
    entered = Signal()
    connect_pressed = Signal()

    def __init__(self, bench: BoardController) -> None:
        super().__init__("Board", page.BOARD_ABOUT)
        self.bench = bench
        self._board_row()
        grid = QGridLayout()
        grid.setColumnStretch(1, 1)
        grid.setVerticalSpacing(em(0.6))
        self._pedal_rows(grid)
        self._port_rows(grid)
        self.kinds = {n: self._kind_box(n, said) for n, said in (
            ("pedal_kind", "kind"), ("pedal_use", "use"))}
        # In a grid of their own: below rows that are hidden a grid leaves no room between two.
        kinds = QGridLayout()
        kinds.setColumnStretch(1, 1)
        kinds.setVerticalSpacing(em(0.6))
        for line, (named, box) in enumerate(self.kinds.items()):
            kinds.addWidget(label(PARAMETER_WORDS[named].label), line, 0)
            kinds.addWidget(box, line, 1)
        self._known_row(kinds, len(self.kinds))
        self.body.addLayout(grid)
        self.body.addLayout(kinds)
        self._scale_rows()
        row = QHBoxLayout()
        self.connect_button = button("&Connect", self.connect_pressed.emit)
        self.disconnect_button = button("&Disconnect", bench.disconnect_board)
        row.addWidget(self.connect_button)
        row.addWidget(self.disconnect_button)
        row.addStretch(1)
        self.body.addLayout(row)
        for field in self.findChildren(QComboBox):
            _narrow(field)
        self._show_kind()

    @property
    def named(self) -> str:
        """Return the board that is named, "" for none."""
        return self.board.currentText().strip()

    @property
    def scale(self) -> tuple[str, str] | None:
        """Return full scale and reference as typed, None where the board says them itself."""
        if not self.unsaid.isVisibleTo(self):
            return None
        return self.full_scale.currentText().strip(), self.reference.currentText().strip()

    @property
    def scale_stated(self) -> bool:
        """Return whether the scale is stated where the board does not say it."""
        return self.scale is None or all(self.scale)

    def numbers_right(self) -> bool:
        """Say beside the first field that should hold a number, and holds none, what is wrong."""
        for trouble in self.number_troubles:
            field = trouble.field
            if field.isVisibleTo(self) and isinstance(field, QComboBox) and not _above_zero(
                    text := field.currentText().strip(), whole=field is self.baud):
                trouble.say(page.no_number(text, field is self.baud))
                return False
        return True

    def ask_scale(self) -> None:
        """Ask what the readings mean: the board does not say it."""
        self.unsaid.show()
        self.full_scale.setFocus()

    def fill(self, found: "Sequence[FoundPort]") -> None:
        """Offer the ports that were found; what was typed or used last stays named."""
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

    def show_link(self, idle: bool, may_connect: bool, recording: bool) -> None:
        """Offer what can be done in this state of the link."""
        self.connect_button.setVisible(idle)
        self.connect_button.setEnabled(may_connect and self.scale_stated)
        self.disconnect_button.setVisible(not idle)
        self.disconnect_button.setEnabled(not recording)
        for widget in (self.board, self.baud, self.pedal):
            widget.setEnabled(idle)

    def _board_row(self) -> None:
        row = QHBoxLayout()
        self.board = QComboBox()
        self.board.setEditable(True)
        self.board.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.board.setAccessibleName(page.BOARD_NAME)
        if self.bench.board_name:
            self.board.addItem(self.bench.board_name)
        typed = self.board.lineEdit()
        assert typed is not None
        # Nothing is chosen for anybody: a simulated pedal must not pass for one's own.
        typed.setPlaceholderText("port or simulated")
        typed.returnPressed.connect(self.entered)
        self.board.currentTextChanged.connect(lambda _text: self._show_kind())
        row.addWidget(self.board, 1)
        row.addWidget(button("&Look again", self.bench.find_boards, tip="F5"))
        self.body.addLayout(row)
        self.board_trouble = FieldTrouble(self.board, lines=0)
        self.body.addWidget(self.board_trouble)

    def _pedal_rows(self, grid: QGridLayout) -> None:
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

    def _port_rows(self, grid: QGridLayout) -> None:
        self.baud = QComboBox()
        self.baud.setEditable(True)
        self.baud.addItems(BAUDS)
        self.baud.setCurrentText(str(self.bench.baud))
        self.baud.setAccessibleName("Speed of the port, baud")
        self.baud_label = label("Speed, baud")
        grid.addWidget(self.baud_label, 2, 0)
        grid.addWidget(self.baud, 2, 1)
        self.number_troubles = [FieldTrouble(self.baud, lines=0)]
        grid.addWidget(self.number_troubles[0], 3, 0, 1, 2)
        self.fed_by = QComboBox()
        self.fed_by.setAccessibleName("What feeds the pedal")
        self.fed_by.setToolTip(TIP)
        self.fed_by.addItem(NOT_SAID, None)
        for fed_by, text in FEEDS.items():
            self.fed_by.addItem(text, fed_by)
        self.fed_by.currentIndexChanged.connect(
            lambda _place: setattr(self.bench, "fed_by", self.fed_by.currentData()))
        self.fed_by_label = label("Pedal fed by")
        grid.addWidget(self.fed_by_label, 4, 0)
        grid.addWidget(self.fed_by, 4, 1)

    def _scale_rows(self) -> None:
        self.unsaid = QWidget()
        fields = QGridLayout(self.unsaid)
        fields.setContentsMargins(0, 0, 0, 0)
        fields.addWidget(label(page.STATE_SCALE, "mend", wrap=True), 0, 0, 1, 2)
        self.full_scale, self.reference = QComboBox(), QComboBox()
        for line, (field, text, name, values, hint) in enumerate((
                (self.full_scale, "Full scale, counts", "Full scale of the readings, counts",
                 ["1024", "4096", "65536"], "such as 4096"),
                (self.reference, "Volts at full scale", "Volts that read full scale",
                 ["5.0", "3.3"], "such as 5.0")), 1):
            field.setEditable(True)
            field.addItems(values)
            # None of them is taken for granted: a wrong scale makes every volt wrong.
            field.setCurrentIndex(-1)
            inner = field.lineEdit()
            assert inner is not None
            inner.setPlaceholderText(hint)
            field.setAccessibleName(name)
            field.currentTextChanged.connect(lambda _text: self.edited.emit())
            fields.addWidget(label(text), 2 * line, 0)
            fields.addWidget(field, 2 * line, 1)
            self.number_troubles.append(FieldTrouble(field, lines=0))
            fields.addWidget(self.number_troubles[-1], 2 * line + 1, 0, 1, 2)
        self.unsaid.hide()
        self.body.addWidget(self.unsaid)

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

    def _known_row(self, grid: QGridLayout, line: int) -> None:
        """Ask for the known resistor where the pedal is a rheostat: every ohm scales with it."""
        words, row = PARAMETER_WORDS["rheostat_known_ohms"], TABLE["rheostat_known_ohms"]
        self.known = QDoubleSpinBox()
        self.known.setAccessibleName(words.label)
        self.known.setToolTip(words.help)
        # One below the least that it may be stands for nothing said.
        self.known.setRange(row.low - 1.0, row.high)
        self.known.setDecimals(0)
        self.known.setSpecialValueText(NOT_SAID)
        self.known.setSuffix(" Ω")
        self.known.valueChanged.connect(lambda ohms: setattr(
            self.bench, "known_ohms", ohms if ohms >= row.low else None))
        self.known_label = label(words.label, wrap=True)
        grid.addWidget(self.known_label, line, 0)
        grid.addWidget(self.known, line, 1)
        box = self.kinds["pedal_kind"]
        box.currentIndexChanged.connect(lambda _place: self._show_known())
        self._show_known()

    def _show_known(self) -> None:
        for widget in (self.known, self.known_label):
            widget.setVisible(self.kinds["pedal_kind"].currentData() == "rheostat")

    def _show_kind(self) -> None:
        simulated = self.named == SIMULATED
        for widget in (self.pedal, self.pedal_about, self.pedal_label):
            widget.setVisible(simulated)
        for widget in (self.baud, self.baud_label, self.fed_by, self.fed_by_label):
            widget.setVisible(bool(self.named) and not simulated)
        self._pick_pedal(self.pedal.currentText())
        self.edited.emit()

    def _pick_pedal(self, name: str) -> None:
        self.bench.pedal = name
        self.pedal_about.setText(capital(dict(self.bench.pedals()).get(name, "")))


def _narrow(field: QComboBox) -> None:
    """Let a field be as narrow as its column: its longest choice must not push it wider."""
    field.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    field.setMinimumContentsLength(6)
    field.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)


def _above_zero(text: str, whole: bool) -> bool:
    try:
        return 0 < (int(text) if whole else float(text)) < math.inf
    except ValueError:
        return False
