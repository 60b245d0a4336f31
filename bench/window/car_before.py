"""Before the log in the car: cautions, whose pedal it is, and what the contactor does."""

import time

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QSpinBox, QVBoxLayout, QWidget

from bench.services.car_live import SamePedal, same_pedal
from bench.services.key_on import HOW
from bench.services.record import Rows
from bench.window.contactor_choice import NOT_CHOSEN, ContactorChoice
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import Card, button, label
from bench.wording.car_live import rest_words, same_pedal_words
from bench.wording.cautions import CAR
from bench.wording.pages.in_car import AGREED

KEPT_S, EVERY_S = 1.0, 0.4
LOOKS = {"yes": "good", "no": "grave", "other tracks": "grave"}
MARKS = {"yes": "✓ ", "no": "■ ", "other tracks": "■ "}


class CarBefore(QWidget):
    """What is to be known and chosen before the log is started."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session, self.bench = session, session.bench
        self.same = SamePedal("no board")
        self._pieces: list[Rows] = []
        self._looked = 0.0
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(em(0.8))
        column.addWidget(self._caution_card())
        column.addWidget(self._pedal_card())
        column.addWidget(self._contactor_card())
        column.addStretch(1)
        self.show_cautions()

    def _caution_card(self) -> QWidget:
        self.cautions = Card("Before logging in the car")
        self.lines = [label(f"•  {text}", wrap=True) for text in CAR]
        for line in self.lines:
            self.cautions.body.addWidget(line)
        self.agree = button("&All of this is so", self.session.accept_car_cautions,
                            name="All of the cautions for the car are met")
        self.agreed = label(AGREED, "good")
        self.cautions.body.addWidget(self.agree, 0, Qt.AlignmentFlag.AlignLeft)
        self.cautions.body.addWidget(self.agreed)
        return self.cautions

    def _pedal_card(self) -> QWidget:
        self.pedal_card = Card("Is this the pedal of the sweep?")
        self.answer = label(same_pedal_words("no board"), "know", wrap=True)
        self.answer.setAccessibleName("Is this the pedal of the sweep?")
        self.numbers = label("", wrap=True)
        self.numbers.setAccessibleName("Rest of each track now and in the sweep")
        # Room for the numbers from the beginning: nothing moves when they come.
        self.numbers.setMinimumHeight(2 * self.numbers.fontMetrics().height() + 4)
        self.pedal_card.body.addWidget(self.answer)
        self.pedal_card.body.addWidget(self.numbers)
        return self.pedal_card

    def _contactor_card(self) -> QWidget:
        self.contactor_card = Card("What does the contactor do at these key-ons?")
        self.contactor = ContactorChoice()
        self.contactor_about = label(" ", "quiet", wrap=True)
        self.contactor.picked.connect(self._tell_choice)
        body = self.contactor_card.body
        body.addWidget(self.contactor)
        body.addWidget(self.contactor_about)
        row = QHBoxLayout()
        named = label("&Key-ons")
        self.cycles = QSpinBox()
        self.cycles.setRange(1, 100)
        self.cycles.setValue(int(str(self.session.preferences.value("car/cycles", 3))))
        self.cycles.setAccessibleName("Key-ons after which the log ends by itself")
        self.cycles.setButtonSymbols(QSpinBox.ButtonSymbols.NoButtons)
        self.cycles.setMinimumWidth(em(5))
        self.cycles.valueChanged.connect(
            lambda value: self.session.preferences.setValue("car/cycles", value))
        named.setBuddy(self.cycles)
        row.addWidget(named)
        row.addWidget(self.cycles)
        row.addWidget(label(HOW, "quiet", wrap=True), 1)
        body.addLayout(row)
        return self.contactor_card

    def show_cautions(self) -> None:
        """Show the cautions until they are met; then one line, and what comes next."""
        read = self.session.car_cautions_read
        for line in self.lines:
            line.setVisible(not read)
        self.agree.setVisible(not read)
        self.agreed.setVisible(read)
        self.pedal_card.setVisible(read)
        self.contactor_card.setVisible(read)

    def begin(self) -> None:
        """Ask for the contactor anew: the next log may be another one."""
        self.contactor.show_choice(NOT_CHOSEN)
        self._tell_choice()

    def forget(self) -> None:
        """Forget the readings of the board before."""
        self._pieces = []
        self.show_same(SamePedal("no sweep" if self.session.findings is None else "no board"))

    def take(self, pieces: list[Rows], fresh: bool) -> None:
        """Take what came, and say whether it is the pedal of the sweep."""
        channels = self.bench.looked_at
        fitting = [p for p in pieces if p.readings.shape[1] == len(channels)]
        if fitting and self._pieces and fitting[0].time_s[0] < self._pieces[-1].time_s[-1]:
            self._pieces = []
        self._pieces += fitting
        while len(self._pieces) > 1 and (
                self._pieces[-1].time_s[-1] - self._pieces[1].time_s[0] > KEPT_S):
            self._pieces.pop(0)
        now = time.monotonic()
        if now - self._looked < EVERY_S:
            return
        self._looked = now
        if not fresh or not channels or not self._pieces or (
                self._pieces[0].readings.shape[1] != len(channels)):
            self.forget()
            return
        self.show_same(same_pedal(self.session.findings, channels,
                              np.concatenate([p.time_s for p in self._pieces]),
                              np.concatenate([p.readings for p in self._pieces])))

    def show_same(self, same: SamePedal) -> None:
        of = self.session.limb
        words = same_pedal_words(same.answer, same.missing, of)
        if same == self.same and self.answer.text().endswith(words):
            return
        self.same = same
        self.answer.setText(MARKS.get(same.answer, "") + words)
        look = LOOKS.get(same.answer, "know")
        if self.answer.objectName() != look:
            self.answer.setObjectName(look)
            self.answer.style().unpolish(self.answer)
            self.answer.style().polish(self.answer)
        self.numbers.setText("\n".join(rest_words(
            r.column, r.swept_volts, r.now_volts, r.off_volts, r.allowed_volts, of)
            for r in same.rests))

    def _tell_choice(self) -> None:
        self.contactor_about.setText(self.contactor.about or " ")
