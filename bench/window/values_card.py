"""Step three of the page Decide: the values to enter, each in the unit picked, to be copied.

While "do not drive" holds every value is struck through, and none is copied without a second
look: what stands on the clipboard has left its warning behind.
"""

from collections.abc import Sequence

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from analysis.pedal.settings import Setting
from bench.errors import BadCall
from bench.services.settings import Sheet, convert, units_of
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.value_table import ValueTable
from bench.window.widgets import Card, button, label
from bench.wording.face import WINDOW, capital
from bench.wording.pages import decide as words
from bench.wording.parameters import changes_text
from bench.wording.reasons import in_words
from bench.wording.settings import label as setting_label

VALUES, NOT_PROVEN = "Values to enter", "NOT PROVEN"
DO_NOT_DRIVE = "DO NOT DRIVE"
# As the command line says below its values.
NOT_YET = "Do not enter these yet"
# Ems of the card for each track below which its large number is printed smaller, or stands alone.
LARGE_EMS, SMALL_EMS = 13.5, 9.5
UNITS = (("volts", "volts"), ("millivolts", "millivolts"),
         ("percent_of_supply", "% of supply"), ("counts10", "10-bit counts"),
         ("counts12", "12-bit counts"), ("counts16", "16-bit counts"))
OHMS = (("ohms", "ohms"), ("ohms_from_top", "ohms from the top"),
        ("percent_of_supply", "% of its ohms"))


class StartOfTravel(QFrame):
    """The large number of one track, and what speaks against it.

    more: what it costs and promises, for the card to place below the values.
    """

    def __init__(self, column: str) -> None:
        super().__init__()
        self.column = column
        self.setObjectName("onCard")
        row = QVBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(label(f"Track {column}: start of travel", "quiet", wrap=True))
        self.start = label("", "big")
        self.start.setAccessibleName(f"Start of travel of track {column}")
        # The card decides how large it is printed: it must be able to become narrower first.
        self.start.setMinimumWidth(1)
        self.forbidden = label(DO_NOT_DRIVE, "grave")
        self.doubted = label(NOT_PROVEN, "mend")
        row.addWidget(self.start)
        row.addWidget(self.forbidden)
        row.addWidget(self.doubted)
        row.addStretch(1)
        self.more = label("", "quiet", wrap=True)
        self.more.setMinimumWidth(1)

    def show_level(self, text: str, doubt: str, forbidden: str) -> None:
        """Show the level; doubt: why it carries no promise; forbidden: why nobody may drive."""
        self.start.setText(text)
        struck(self.start, bool(forbidden))
        against = f"{DO_NOT_DRIVE}: {forbidden}" if forbidden else (
            f"{NOT_PROVEN}: {doubt}" if doubt else "")
        self.start.setAccessibleDescription(against)
        self.forbidden.setVisible(bool(forbidden))
        self.doubted.setVisible(bool(doubt))

    def show_more(self, text: str, tip: str) -> None:
        """Show what it costs and promises; tip: what that rests on."""
        self.more.setText(f"Track {self.column} {text}" if text else "")
        self.more.setToolTip(tip)

    def print_small(self, small: bool) -> None:
        """Print the number smaller where two of them have no room side by side."""
        wear(self.start, "mid" if small else "big")


class SecondLook(QFrame):
    """The question before a value that must not be driven with is copied."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("second")
        self.setAccessibleName("Look twice")
        body = QVBoxLayout(self)
        body.setContentsMargins(10, 6, 10, 8)
        self.text = label("", "grave", wrap=True)
        body.addWidget(self.text)
        self.leave = button("&Leave it", self.hide)
        self.all_the_same = button("Copy it all the &same", self.hide)
        body.addWidget(self.leave)
        body.addWidget(self.all_the_same)
        self.hide()


class ValuesCard(Card):
    """The list of settings; `unit_changed` when the user picks another unit."""

    unit_changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self._sheet: Sheet | None = None
        self._in_doubt: tuple[str, ...] = ()
        self._forbidden = ""
        self.body.setContentsMargins(10, 8, 10, 8)
        self.body.setSpacing(6)
        self.starts: dict[str, StartOfTravel] = {}
        self._starts = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._starts.setSpacing(em(0.7))
        self.body.addLayout(self._starts)
        self.head = label(VALUES, "head", wrap=True)
        self.body.addWidget(self.head)
        self.mine = label("", "mend", wrap=True)
        self.mine.setAccessibleName("Parameters of yours behind these values")
        self.body.addWidget(self.mine)
        self._add_tools()
        self.second = SecondLook()
        self.second.all_the_same.clicked.connect(lambda _checked=False: self._copy())
        self.body.addWidget(self.second)
        self.table = ValueTable()
        self.table.asked.connect(self.copy)
        self.table.picked.connect(self._show_why)
        self.body.addWidget(self.table)
        self.why = label(words.PICK, "quiet", wrap=True)
        self.why.setAccessibleName("Why the picked value lies where it does")
        self.body.addWidget(self.why)
        self._mores = QVBoxLayout()
        self._mores.setSpacing(4)
        self.body.addLayout(self._mores)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)

    def _add_tools(self) -> None:
        tools = QHBoxLayout()
        self.unit = QComboBox()
        self.unit.setObjectName("tight")
        self.unit.setAccessibleName("Unit of the values")
        self._offer(UNITS)
        self.unit.currentIndexChanged.connect(lambda _index: self.unit_changed.emit())
        self.unit.setMinimumContentsLength(6)
        self.unit.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        tools.addWidget(self.unit, 1)
        self.copy_button = button("&Copy", self.copy, name="Copy the picked value, else all",
                                  tip="Copy the picked value, else all of them (Ctrl+C)")
        self.copy_button.setObjectName("corner")
        tools.addWidget(self.copy_button)
        self.body.addLayout(tools)

    def make_starts(self, tracks: Sequence[str]) -> None:
        """Make the large numbers anew for these tracks."""
        for old in self.starts.values():
            for made in (old, old.more):
                made.hide()
                made.deleteLater()
        self.starts = {column: StartOfTravel(column) for column in tracks}
        for made in self.starts.values():
            self._starts.addWidget(made, 1)
            self._mores.addWidget(made.more)
        self._arrange()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """Place the large numbers side by side where they have room, smaller where it is scarce."""
        each = self.width() / max(len(self.starts), 1)
        narrow = each < em(SMALL_EMS)
        self._starts.setDirection(QBoxLayout.Direction.TopToBottom if narrow
                                  else QBoxLayout.Direction.LeftToRight)
        for made in self.starts.values():
            made.print_small(not narrow and each < em(LARGE_EMS))

    def show_sheet(self, sheet: Sheet | None, in_doubt: Sequence[str] = (),
                   forbidden: str = "", not_yet: bool = False) -> None:
        """List the values of a sheet, None for nothing.

        in_doubt: tracks without a promise. forbidden: why nobody may drive with these values.
        not_yet: something must be repaired before they are entered.
        """
        self._sheet, self._in_doubt, self._forbidden = sheet, tuple(in_doubt), forbidden
        settings = sheet.settings if sheet is not None else ()
        if sheet is not None:
            self._offer(UNITS if sheet.ohms_per_volt is None else OHMS)
        self.head.setText((f"{DO_NOT_DRIVE} with these values" if forbidden else
                           NOT_YET if not_yet else VALUES) + (
            f": {NOT_PROVEN} for track {', '.join(in_doubt)}" if in_doubt else ""))
        changed = changes_text(self._session.parameters) if settings else ""
        self.mine.setText(words.with_yours(changed) if changed else "")
        self.mine.setVisible(bool(changed))
        # The step's own title says what these are, but not what speaks against them.
        self.head.setVisible(bool(forbidden or in_doubt or not_yet))
        self.copy_button.setEnabled(bool(settings))
        self.second.hide()
        self.table.show_settings(settings, self.text_of, bool(forbidden))
        self._show_why()

    def text_of(self, setting: Setting) -> str:
        """Return a setting in the unit picked, rounded to the safe side."""
        unit = self.unit.currentData()
        asked = unit if unit in units_of(setting) else ""
        if self._sheet is None:
            return "not known"
        try:
            made = convert(setting, asked, self._sheet)
        except BadCall:
            return "not known"
        names = dict(UNITS) | {"volts": "V", "millivolts": "mV", "percent_of_supply": "%",
                               "ohms": "Ω", "ohms_from_top": "Ω from the top"}
        shown = names[asked] if asked else {"ohm": "Ω"}.get(setting.unit, setting.unit)
        return f"{made.rounded():.{made.decimals}f} {shown}"

    def _offer(self, units: Sequence[tuple[str, str]]) -> None:
        """Offer these units; those that stand already keep what is picked."""
        if [self.unit.itemData(k) for k in range(self.unit.count())] == [key for key, _ in units]:
            return
        with QSignalBlocker(self.unit):
            self.unit.clear()
            for key, text in units:
                self.unit.addItem(text, key)

    def level_of(self, name: str, column: str) -> str:
        """Return the level of that name of a track as it stands in the list."""
        settings = self._sheet.settings if self._sheet is not None else ()
        setting = next((x for x in settings if (x.name, x.channel) == (name, column)), None)
        return self.text_of(setting) if setting is not None else "not known"

    def copy(self) -> None:
        """Copy the picked value, or the whole list with its warnings when none is picked.

        What must not be driven with is asked about first.
        """
        self._session.settle()
        if self._sheet is None or not self._sheet.settings:
            self._session.notify(words.NO_VALUE, "mend")
        elif self._forbidden:
            self.second.text.setText(words.copy_all_the_same(self._forbidden))
            self.second.show()
            # Focus brings it into sight, and a second Enter leaves it.
            self.second.leave.setFocus()
        else:
            self._copy()

    def _copy(self) -> None:
        if self._sheet is None:
            return
        setting = self.table.current()
        if setting is not None:
            text = self.text_of(setting)
            doubted = setting.channel in self._in_doubt
            told = words.copied(text, NOT_PROVEN if doubted else "")
        else:
            doubted = bool(self._in_doubt)
            lines = [f"{setting_label(s)}\t{self.text_of(s)}" for s in self._sheet.settings]
            text = "\n".join((*(f"! {w}" for w in self._sheet.warnings), *lines))
            told = "Copied all values" + (f", {NOT_PROVEN} for track {', '.join(self._in_doubt)}."
                                          if doubted else ".")
        if self._forbidden:
            told = f"{told.rstrip('.')}; {DO_NOT_DRIVE} with it."
        QApplication.clipboard().setText(text)
        self._session.notify(told, "mend" if doubted or self._forbidden else "good")

    def _show_why(self) -> None:
        picked = self.table.current()
        there = self._sheet is not None and bool(self._sheet.settings)
        self.why.setText(
            f"{capital(setting_label(picked))}: {in_words(picked.why, WINDOW)}."
            if picked is not None else words.PICK if there else "")


def wear(made: QWidget, kind: str) -> None:
    """Give a widget another kind of the style sheet."""
    if made.objectName() != kind:
        made.setObjectName(kind)
        made.style().unpolish(made)
        made.style().polish(made)


def struck(made: QWidget | QLabel, through: bool) -> None:
    """Strike the text of a widget through, or take the line away again."""
    if bool(made.property("struck")) != through:
        made.setProperty("struck", through)
        made.style().unpolish(made)
        made.style().polish(made)
