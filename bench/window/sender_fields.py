"""What is checked on the page Senders: the kind, its values as stated, and what may hurt."""

import math
from collections.abc import Collection, Sequence
from dataclasses import fields

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QFormLayout, QLineEdit, QVBoxLayout, QWidget

from analysis.model.errors import AnalysisError
from analysis.senders import KINDS, stated_names
from analysis.senders.sender import ISOLATION_CAUTION, PACK_CAUTION, TOUCH_VOLTS
from bench.errors import BenchError, NotWritten
from bench.services.sender_check import SenderCheckOptions
from bench.services.sender_stated import sender_from
from bench.services.typed_numbers import number_with_multiple
from bench.window.field_trouble import FieldTrouble
from bench.window.sizes import em
from bench.window.widgets import Card, label, scrolled
from bench.wording.face import WINDOW
from bench.wording.pages import senders as words
from bench.wording.refusals import refused
from bench.wording.senders import caution_lines, title
from bench.wording.senders.fields import METER_LIMITS, TOLERANCE, not_written, stated_label


class SenderFields(QWidget):
    """The fields, with the cautions of what they say above them.

    card: what to shut while a check runs.
    """

    def __init__(self) -> None:
        super().__init__()
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        self.card = Card("What is checked", words.FIELDS_ABOUT)
        form = QFormLayout()
        self.kind = QComboBox()
        self.kind.addItems(list(KINDS))
        self.kind.setAccessibleName("Kind of sender")
        self.channel = QComboBox()
        self.channel.setAccessibleName("Channel to check")
        form.addRow("Kind", self.kind)
        form.addRow("Channel", self.channel)
        self.title = label("", "quiet", wrap=True)
        form.addRow(self.title)
        self.card.body.addLayout(form)
        self.stated_form = QFormLayout()
        self.stated_form.setVerticalSpacing(em(0.3))
        self.stated: dict[str, QLineEdit] = {}
        self.card.body.addLayout(self.stated_form)
        more = QFormLayout()
        more.setVerticalSpacing(em(0.3))
        self.limits = QLineEdit()
        self.limits.setPlaceholderText("0.5% + 2 digits")
        self.limits.setAccessibleName(METER_LIMITS)
        self.tolerance = QLineEdit()
        self.tolerance.setPlaceholderText("2%, or in the unit")
        self.tolerance.setAccessibleName(TOLERANCE)
        self._tolerance_trouble = FieldTrouble(self.tolerance, lines=0)
        self.tolerance.textChanged.connect(self._typed_in)
        self.troubles: dict[str, FieldTrouble] = {}
        more.addRow(label(METER_LIMITS, wrap=True))
        more.addRow(self.limits)
        more.addRow(label(TOLERANCE, wrap=True))
        more.addRow(self.tolerance)
        more.addRow(self._tolerance_trouble)
        self.card.body.addLayout(more)
        # Above the fields: what may hurt is read before anything is typed.
        self.caution_card = Card("Before you wire it")
        self.caution = label("", "mend", wrap=True)
        self.caution.setAccessibleName("Cautions for this kind of sender")
        self.caution_card.body.addWidget(self.caution)
        column.addWidget(self.caution_card)
        column.addWidget(self.card)
        self.wrong_field = label("", "mend", wrap=True)
        column.addWidget(self.wrong_field)
        column.addStretch(1)
        area = scrolled(inside)
        area.setMinimumWidth(em(24))
        area.setMaximumWidth(em(32))
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(area)
        self._touched = False
        self.kind.currentTextChanged.connect(lambda _kind: self._kind_picked())
        self._kind_picked()

    def options(self) -> SenderCheckOptions:
        """Return what the fields say; raise BenchError or AnalysisError with what is wrong."""
        stated = [f"{name}={field.text()}" for name, field in self.stated.items() if field.text()]
        tolerance = self.tolerance.text().strip()
        percent = tolerance.endswith("%")
        number = tolerance.rstrip("% ").replace(",", ".")
        try:
            value = float(number) if number else None
        except ValueError:
            raise NotWritten("tolerance", tolerance, "number",
                             f"{TOLERANCE}: {tolerance!r} is no number; write for example 2%"
                             ) from None
        return SenderCheckOptions(sender_from(self.kind.currentText(), stated),
                           self.limits.text().strip(), channel=self.channel.currentText(),
                           tolerance=value, tolerance_percent=percent)

    def offer(self, columns: Sequence[str]) -> None:
        """Offer these channels; the one that was picked stays picked."""
        picked = self.channel.currentText()
        self.channel.clear()
        self.channel.addItems(columns)
        self.channel.setCurrentText(picked)

    def _kind_picked(self) -> None:
        while self.stated_form.rowCount():
            self.stated_form.removeRow(0)
        self.stated, self.troubles = {}, {"tolerance": self._tolerance_trouble}
        self.title.setText(title(self.kind.currentText()))
        usually = {f.name: f.default for f in fields(KINDS[self.kind.currentText()])}
        for name, kind in stated_names(self.kind.currentText()).items():
            field = QLineEdit()
            field.setAccessibleName(stated_label(name))
            usual = usually.get(name)
            told = isinstance(usual, float) and usual and math.isfinite(usual)
            field.setPlaceholderText("yes or no" if kind is bool else f"{usual:g}" if told else "")
            self.stated[name] = field
            caption = label(stated_label(name), wrap=True)
            caption.setBuddy(field)
            # Each over the whole width: what a value is stands whole above it.
            self.stated_form.addRow(caption)
            self.stated_form.addRow(field)
            self.troubles[name] = FieldTrouble(field, lines=0)
            self.stated_form.addRow(self.troubles[name])
            field.textChanged.connect(self._typed_in)
        # A kind that was just picked asks for its values; nothing is wrong yet.
        self._touched = False
        self._show_cautions()

    def _typed_in(self, _text: str) -> None:
        self._touched = True
        self._show_cautions()

    def _show_cautions(self) -> None:
        stated = [f"{name}={field.text()}" for name, field in self.stated.items() if field.text()]
        try:
            codes = sender_from(self.kind.currentText(), stated).cautions()
        except (BenchError, AnalysisError):
            # Until it is stated how much the line carries, it may be a pack.
            pack = "highest_volts" in self.stated and self._may_be_pack()
            codes = (*KINDS[self.kind.currentText()].always,
                     *((PACK_CAUTION, ISOLATION_CAUTION) if pack else ()))
        self.caution.setText("\n\n".join(caution_lines(codes)))
        self.caution_card.setVisible(bool(codes))
        try:
            self.options()
            self._say(None)
        except (BenchError, AnalysisError) as error:
            if self._touched:
                self._say(error)

    def say_wrong(self, error: BenchError | AnalysisError) -> None:
        """Say below the fields why a check cannot begin with them; the next letter clears it."""
        self._touched = True
        self._say(error)
        # The first that must be stated and is not.
        for name in KINDS[self.kind.currentText()].must_state:
            if not self.stated[name].text():
                self.stated[name].setFocus()
                return

    @property
    def wrong(self) -> str:
        """Return what is said to be wrong, beside a field or below them; "" for nothing."""
        return " ".join(filter(None, (*(t.text() for t in self.troubles.values()),
                                      self.wrong_field.text())))

    def _say(self, error: BenchError | AnalysisError | None) -> None:
        """Say what is wrong beside the one field it concerns, else below all of them."""
        for trouble in self.troubles.values():
            trouble.clear()
        if error is None:
            self.wrong_field.setText("")
            return
        named = self.troubles.get(_concerned(error, self.troubles))
        if named is not None:
            named.say(self._words_of(error), focus=False)
        self.wrong_field.setText("" if named is not None else self._words_of(error))

    def _words_of(self, error: BenchError | AnalysisError) -> str:
        if isinstance(error, NotWritten) and error.name in self.stated:
            return not_written(error.name, error.text, error.kind, WINDOW)
        return refused(error, WINDOW)

    def _may_be_pack(self) -> bool:
        try:
            return not number_with_multiple(
                self.stated["highest_volts"].text(), "highest_volts") <= TOUCH_VOLTS
        except (BenchError, AnalysisError):
            return True


def _concerned(error: BenchError | AnalysisError, names: Collection[str]) -> str:
    """Return the stated value that an error concerns, the first of several; "" for none."""
    if isinstance(error, NotWritten):
        return error.name
    values = error.values if isinstance(error, AnalysisError) else {}
    asked = [values.get("stated"), values.get("first"), *values]
    return next((str(name) for name in asked if name in names), "")
