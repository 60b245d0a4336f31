"""Decide, in three steps from left to right: the way, the budget it leaves, the values to enter.

The parameters stand below the budget that follows from them.
"""

import math

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QGridLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from analysis.pedal.findings import Findings
from analysis.pedal.verdict import off_at_rest
from analysis.pedal.withhold_levels import promise_values
from bench.plots import columns
from bench.services.settings import sheet_of
from bench.window.figure_view import FigureView
from bench.window.finding_view import (
    WORDS,
    doubt_of,
    few,
    forbidding,
    must_mend,
    unproven,
    what_first,
)
from bench.window.nulling_view import NullingView
from bench.window.pages.page import (
    NextStep,
    Page,
    PageStatus,
    act_on_car,
    car_status,
    car_step,
    on_show,
)
from bench.window.parameter_column import ParameterColumn
from bench.window.remedy_cards import RemedyCards
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.values_card import ValuesCard
from bench.window.widgets import Card, FrontStack, label, scrolled
from bench.wording.actions import ANOTHER_SWEEP
from bench.wording.dead_band import HEADS, conditions, more_would_pay, safe_start
from bench.wording.face import REMEDIES, WINDOW, first_sentence
from bench.wording.pages import decide as words
from bench.wording.pages import shared
from bench.wording.reasons import in_words

# Ems of width below which three steps have no room side by side, and below which the values, that
# must be seen whole, take theirs from the ways.
NARROW, AMPLE = 60.0, 85.0
# The width of each step: ample, scarce, and one below the other.
SHARES, SCARCE, STACKED = (30, 39, 31), (25, 36, 39), (1, 0, 0)
# The budget of all tracks, and what its patterns stand for.
BUDGET_EMS = 15.5
BUDGET, VALUES = "What the dead band is made of", "What to enter"


class DecidePage(Page):
    """The recommended values, and the parameters they follow from."""

    key = "decide"
    title = "Decide"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.stack = FrontStack()
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.stack)
        steps = QWidget()
        self.stack.addWidget(steps)
        self._steps = QGridLayout(steps)
        self._steps.setContentsMargins(12, 6, 12, 4)
        self._steps.setHorizontalSpacing(10)
        self._steps.setVerticalSpacing(4)
        self._heads: list[QLabel] = []
        self._shares: tuple[int, ...] = ()
        self._tracks: list[str] = []
        self._per_volt: float | None = None
        self.column = ParameterColumn(session)
        self.fields = self.column.fields
        self.remedies = RemedyCards(self.start_nulling)
        self.turn_button = self.remedies.turn_button
        self.values = ValuesCard(session)
        self.values.unit_changed.connect(self._changed)
        self.step_areas = [
            self._step(f"1  {REMEDIES}", self.remedies),
            self._step(f"2  {BUDGET}", self._budget_step()),
            self._step(f"3  {VALUES}", self.values)]
        self.column.area = self.step_areas[1]
        self._arrange()
        QShortcut(QKeySequence("Ctrl+C"), self, lambda: self.values.copy())
        self.nulling = NullingView(session)
        self.nulling.closed.connect(self.stop_nulling)
        self.stack.addWidget(self.nulling)
        session.findings_changed.connect(self._changed)
        session.parameters_changed.connect(self._changed)
        session.key_on_changed.connect(self._changed)

    def _step(self, title: str, content: QWidget) -> QScrollArea:
        """Place the next of the three steps: its title, and below it what scrolls by itself."""
        head = label(title, "head", wrap=True)
        head.setMinimumWidth(1)
        inside = QWidget()
        body = QVBoxLayout(inside)
        body.setContentsMargins(0, 0, 6, 0)
        body.addWidget(content)
        body.addStretch(1)
        area = scrolled(inside)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setAccessibleName(title)
        area.setMinimumSize(em(15), em(20))
        self._heads.append(head)
        return area

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """Place the steps from left to right; below one another where a large font asks for it."""
        width = self.width()
        shares = STACKED if width < em(NARROW) else SCARCE if width < em(AMPLE) else SHARES
        if shares == self._shares:
            return
        self._shares, stacked = shares, shares == STACKED
        self._show_key()
        for place, (head, area) in enumerate(zip(self._heads, self.step_areas, strict=True)):
            row, column = (2 * place, 0) if stacked else (0, place)
            self._steps.addWidget(head, row, column, Qt.AlignmentFlag.AlignTop)
            self._steps.addWidget(area, row + 1, column)
            self._steps.setColumnStretch(place, shares[place])
        for row in range(6):
            self._steps.setRowStretch(row, 1 if row % 2 and (stacked or row == 1) else 0)

    def _budget_step(self) -> QWidget:
        made = QWidget()
        made.setObjectName("scrolled")
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        self._budget_card = Card()
        self._budget_card.body.setContentsMargins(8, 4, 8, 6)
        self._budget_card.body.setSpacing(2)
        self.budget = FigureView("budgets", self.session.skin)
        self.budget.setFixedHeight(em(BUDGET_EMS))
        self._budget_card.body.addWidget(self.budget)
        self.budget_key = label("", "quiet", wrap=True)
        self._budget_card.body.addWidget(self.budget_key)
        column.addWidget(self._budget_card)
        column.addWidget(self.column)
        return made

    def hasHeightForWidth(self) -> bool:
        # Every step scrolls by itself: the page takes the room there is.
        return False

    def next_step(self) -> NextStep:
        findings = self.session.findings
        if self.stack.currentWidget() is self.nulling:
            return NextStep(words.TURNING, words.turning_more(self.session.limb), "stop turning")
        if findings is None:
            return NextStep(shared.OPEN_OR_SWEEP, "", "open")
        car = car_step(self.session)
        if car is not None:
            return car
        mend = must_mend(findings)
        if mend:
            return NextStep(mend, words.values_then(what_first(findings)), "sweep again")
        at_rest = _rest_step(findings)
        if at_rest is not None:
            return at_rest
        not_proven = unproven(findings)
        if not_proven:
            first, rest = first_sentence(not_proven[0].text)
            return NextStep(f"{first}.", rest or words.SAVED_SAYS_SO,
                            "sweep again" if not_proven[0].code in ANOTHER_SWEEP else "save values")
        return NextStep(words.COVERED, words.COVERED_MORE, "save values")

    def act(self) -> None:
        action = self.next_step().action
        if act_on_car(self, action):
            return
        if action == "turn live":
            self.start_nulling()
        elif action == "stop turning":
            self.stop_nulling()
        elif action == "sweep again":
            self.go_to.emit("sweep")
        else:
            self.go_to.emit("keep")

    def subject(self) -> str:
        return on_show(self.session)

    def start_nulling(self) -> None:
        """Show the big live reading for turning the potentiometer."""
        if not self.session.cautions_read or self.session.bench.link.source is None:
            self.session.notify(words.BOARD_FIRST, "mend")
            self.go_to.emit("wire_up")
            return
        findings = self.session.findings
        off = off_at_rest(findings.tracks, findings.pair) if findings is not None else None
        self.stack.setCurrentWidget(self.nulling)
        self.nulling.begin(off[0] if off is not None else None)
        self.step_changed.emit()

    def stop_nulling(self) -> None:
        """Go back to the values."""
        self.nulling.end()
        self.stack.setCurrentIndex(0)
        self.step_changed.emit()

    def left(self) -> None:
        self.stop_nulling()

    def status(self) -> PageStatus:
        findings = self.session.findings
        if findings is None or not findings.dead_bands:
            return PageStatus("nothing to decide yet", False)
        lost = [b.lost_travel_percent for b in findings.dead_bands.values()]
        if not all(math.isfinite(each) for each in lost):
            return PageStatus("no dead band known", False)
        worst = max(lost)
        car = car_status(self.session)
        if car:
            return PageStatus(car, False)
        if findings.gravest >= max(WORDS):
            # What it costs reads like something to be had.
            return PageStatus(WORDS[findings.gravest].lower(), False)
        # A tick would say that these values may be driven with.
        return PageStatus(words.dead_band_costs(worst),
                          findings.sound and not unproven(findings))

    def apply_theme(self, skin: Skin) -> None:
        self.nulling.apply_theme(skin)
        self.budget.apply_theme(skin.look)
        self._changed()

    def _empty(self) -> None:
        self._make_tracks([])
        self.remedies.clear()
        self.turn_button.setEnabled(False)
        self.values.show_sheet(None)
        self.column.forget_past()

    def _fill(self) -> None:
        findings = self.session.findings
        self.turn_button.setEnabled(findings is not None and turns_live(findings))
        there = columns(findings) if findings is not None else []
        per_volt = None if findings is None else findings.recording.ohms_per_volt
        if self._tracks != there or per_volt != self._per_volt:
            self._per_volt = per_volt
            self._make_tracks(there)
        self.values.show_sheet(None if findings is None else sheet_of(findings),
                               [c for c in there if self._doubt(c)],
                               forbidding(findings, self.session.key_on),
                               findings is not None and findings.gravest >= 2)
        if findings is not None:
            self.budget.show_findings(findings)
            self._show_key()
            for column in there:
                self._show_track(column)
            self.remedies.show_findings(findings, there)
        self.column.show_parameters(findings)

    def _make_tracks(self, there: list[str]) -> None:
        self._tracks = there
        self.budget.wipe()
        self.values.make_starts(there)
        self._show_key()
        self._budget_card.setVisible(bool(there))
        self.column.make_targets(
            there, self.session.shown.recording.nominal_volts if there else 0.0, self._per_volt)

    def _show_key(self) -> None:
        """Say what the bars are, and how many mV each is where there is room for numbers."""
        numbers = self._shares != SCARCE
        self.budget.plot.showAxis("right", show=numbers)
        unit = "mV" if self._per_volt is None else "Ω"
        self.budget_key.setText(words.key_of_bars(self._tracks, unit if numbers else ""))

    def _show_track(self, column: str) -> None:
        findings = self.session.shown
        band = findings.dead_bands.get(column)
        made = self.values.starts[column]
        if band is not None:
            made.show_level(self.values.level_of("start_of_travel", column),
                            self._doubt(column), forbidding(findings, self.session.key_on))
            # What the promise assumes and leaves out stands where the level is read.
            made.show_more(self._more_text(column),
                           "" if band.weak is not None or not band.cases else
                           f"{conditions(promise_values(band), WINDOW)}"
                           f"{more_would_pay(promise_values(band), WINDOW, self.session.limb)}")

    def _more_text(self, column: str) -> str:
        band = self.session.shown.dead_bands[column]
        lost = band.lost_travel_percent
        if not math.isfinite(lost):
            return words.has_no_dead_band(in_words(band.weak, WINDOW))
        over = lost > self.session.shown.parameters.allowed_lost_travel_percent
        text = words.costs(lost, over)
        # How seldom noise alone would pass it is no promise when the rest itself is in doubt.
        if doubt := self._doubt(column):
            return words.not_proven(doubt, text)
        even = next((c for c in band.cases if c.name == "even" and band.law != "even"), None)
        other = "" if even is None else (
            f" · {HEADS['even']}: {safe_start(band, even.start_of_travel_volts)}, "
            f"{even.lost_travel_percent:.1f} %")
        return words.passed_by_noise(text, few(band.false_per_1000_h), other)

    def _doubt(self, column: str) -> str:
        return doubt_of(self.session.shown, self.session.key_on, column)


def _rest_step(findings: Findings) -> NextStep | None:
    """Return what is to be done about a rest that is off or a dead band that costs too much."""
    live, magnetic = turns_live(findings), findings.recording.pedal.magnetic
    costly = [b for b in findings.dead_bands.values()
              if b.lost_travel_percent > findings.parameters.allowed_lost_travel_percent]
    if costly:
        worst = max(costly, key=lambda b: b.lost_travel_percent)
        return NextStep(words.costs_too_much(worst.column, worst.lost_travel_percent),
                        words.SENSOR_SEEN_TO if magnetic else words.PICK_A_WAY,
                        "turn live" if live else "sweep again")
    off = off_at_rest(findings.tracks, findings.pair)
    if off is None:
        return None
    if magnetic:
        return NextStep(words.hall_off_at_rest(off[0]), words.NOTHING_TO_TURN, "save values")
    return NextStep(words.off_at_rest(off[0]), words.THREE_WAYS,
                    "turn live" if live else "save values")


def turns_live(findings: Findings) -> bool:
    """Return whether a track of this pedal is turned by the needle.

    It shows volts of a divider: a rheostat is turned by an ohmmeter, and a Hall sensor not at all.
    """
    return findings.recording.rheostat is None and not findings.recording.pedal.magnetic
