"""Decide, in three steps from left to right: the way, the budget it leaves, the values to enter.

The parameters stand below the budget that follows from them.
"""

import math

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QGridLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from analysis.pedal.verdict import off_at_rest
from analysis.pedal.withhold_levels import promise_values
from bench.plots import columns
from bench.services.settings import sheet_of
from bench.window.figure_view import FigureView
from bench.window.finding_view import doubt_of, few, forbidding, must_mend, unproven, what_first
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
from bench.wording.dead_band import HEADS, conditions, level, more_would_pay
from bench.wording.face import REMEDIES, WINDOW
from bench.wording.reasons import in_words

# Ems of width below which three steps have no room side by side.
NARROW = 60.0
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
        self._steps.setContentsMargins(12, 10, 12, 10)
        self._steps.setHorizontalSpacing(10)
        self._heads: list[QLabel] = []
        self._shares: list[int] = []
        self._stacked: bool | None = None
        self.column = ParameterColumn(session)
        self.fields = self.column.fields
        self.remedies = RemedyCards(self.start_nulling)
        self.turn_button = self.remedies.turn_button
        self.values = ValuesCard(session)
        self.values.unit_changed.connect(self._changed)
        self.step_areas = [
            self._step(28, f"1  {REMEDIES}", self.remedies),
            self._step(40, f"2  {BUDGET}", self._budget_step()),
            self._step(32, f"3  {VALUES}", self.values)]
        self.column.area = self.step_areas[1]
        self._arrange()
        QShortcut(QKeySequence("Ctrl+C"), self, lambda: self.values.copy())
        self.nulling = NullingView(session)
        self.nulling.closed.connect(self.stop_nulling)
        self.stack.addWidget(self.nulling)
        self._budgets: dict[str, FigureView] = {}
        session.findings_changed.connect(self._changed)
        session.parameters_changed.connect(self._changed)
        session.key_on_changed.connect(self._changed)

    def _step(self, share: int, title: str, content: QWidget) -> QScrollArea:
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
        self._shares.append(share)
        return area

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """Place the steps from left to right; below one another where a large font asks for it."""
        stacked = self.width() < em(NARROW)
        if stacked == self._stacked:
            return
        self._stacked = stacked
        for place, (head, area) in enumerate(zip(self._heads, self.step_areas, strict=True)):
            row, column = (2 * place, 0) if stacked else (0, place)
            self._steps.addWidget(head, row, column, Qt.AlignmentFlag.AlignTop)
            self._steps.addWidget(area, row + 1, column)
            self._steps.setColumnStretch(place, (1 if place == 0 else 0) if stacked
                                         else self._shares[place])
        for row in range(6):
            self._steps.setRowStretch(row, 1 if row % 2 and (stacked or row == 1) else 0)

    def _budget_step(self) -> QWidget:
        made = QWidget()
        made.setObjectName("scrolled")
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        self._budget_card = Card()
        self._budget_card.body.setContentsMargins(8, 6, 8, 6)
        self._key = label("solid: measured · hatched: assumed · dotted: stated", "quiet", wrap=True)
        self._budget_card.body.addWidget(self._key)
        column.addWidget(self._budget_card)
        column.addWidget(self.column)
        return made

    def hasHeightForWidth(self) -> bool:
        # Every step scrolls by itself: the page takes the room there is.
        return False

    def next_step(self) -> NextStep:
        findings = self.session.findings
        if self.stack.currentWidget() is self.nulling:
            return NextStep("Turn the potentiometer until the needle stands on the target.",
                            "Foot off the pedal. Sweep again afterwards: only that proves it.",
                            "stop turning")
        if findings is None:
            return NextStep("Open a recording, or sweep the pedal first.", "", "open")
        car = car_step(self.session)
        if car is not None:
            return car
        mend = must_mend(findings)
        if mend:
            return NextStep(mend, f"{what_first(findings)} Enter the values found then, not these.",
                            "sweep again")
        costly = [b for b in findings.dead_bands.values()
                  if b.lost_travel_percent > findings.parameters.allowed_lost_travel_percent]
        if costly:
            worst = max(costly, key=lambda b: b.lost_travel_percent)
            return NextStep(f"Track {worst.column} would lose {worst.lost_travel_percent:.1f} % of "
                            "travel: more than you accept.",
                            "Pick one of the three ways, or accept more.", "turn live")
        off = off_at_rest(findings.tracks, findings.pair)
        if off is not None:
            return NextStep(
                f"Track {off[0]} is off at rest: turn it, trim it, or give each track its own "
                "start of travel.", "The three ways stand on the left, each with its cost.",
                "turn live")
        not_proven = unproven(findings)
        if not_proven:
            first, _, rest = not_proven[0].partition(". ")
            return NextStep(f"{first.rstrip('.')}.", rest or "What is saved says so too.",
                            "sweep again" if "weep again" in not_proven[0] else "save values")
        return NextStep("These values cover everything known or assumed to lift the rest reading.",
                        "Move a slider and everything follows.", "save values")

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
            self.session.notify("Connect the board first; then come back to turn the track live.",
                              "mend")
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
        # A tick would say that these values may be driven with.
        return PageStatus(f"dead band costs {worst:.1f} %",
                          findings.sound and not unproven(findings))

    def apply_theme(self, skin: Skin) -> None:
        self.nulling.apply_theme(skin)
        for view in self._budgets.values():
            view.apply_theme(skin.look)
        self._changed()

    def _empty(self) -> None:
        self._make_tracks([])
        self.remedies.clear()
        self.turn_button.setEnabled(False)
        self.values.show_sheet(None)
        self.column.forget_past()

    def _fill(self) -> None:
        findings = self.session.findings
        self.turn_button.setEnabled(findings is not None)
        there = columns(findings) if findings is not None else []
        if list(self._budgets) != there:
            self._make_tracks(there)
        self.values.show_sheet(None if findings is None else sheet_of(findings),
                               [c for c in there if self._doubt(c)],
                               forbidding(findings, self.session.key_on))
        if findings is not None:
            for column in there:
                self._show_track(column)
            self.remedies.show_findings(findings, there)
        self.column.show_parameters(findings)

    def _make_tracks(self, there: list[str]) -> None:
        for old in self._budgets.values():
            old.hide()
            old.deleteLater()
        self._budgets = {}
        self.values.make_starts(there)
        for column in there:
            view = FigureView("budget", self.session.skin, column)
            view.setMinimumHeight(em(12.5))
            view.setMaximumHeight(em(14))
            self._budgets[column] = view
            self._budget_card.body.insertWidget(self._budget_card.body.count() - 1, view)
        self._budget_card.setVisible(bool(there))
        self.column.make_targets(
            there, self.session.shown.recording.nominal_volts if there else 0.0)

    def _show_track(self, column: str) -> None:
        findings = self.session.shown
        band = findings.dead_bands.get(column)
        made = self.values.starts[column]
        if band is not None:
            made.show_level(self.values.level_of("start_of_travel", column),
                            self._doubt(column), forbidding(findings, self.session.key_on))
            made.more.setText(self._more_text(column))
            # What the promise assumes and leaves out stands where the level is read.
            made.more.setToolTip("" if band.weak is not None or not band.cases else
                                 f"{conditions(promise_values(band), WINDOW)}"
                                 f"{more_would_pay(promise_values(band), WINDOW)}")
        self._budgets[column].show_findings(findings)

    def _more_text(self, column: str) -> str:
        band = self.session.shown.dead_bands[column]
        lost = band.lost_travel_percent
        if not math.isfinite(lost):
            return in_words(band.weak, WINDOW) or "The data do not suffice for a dead band."
        over = lost > self.session.shown.parameters.allowed_lost_travel_percent
        text = (f"release {self.values.level_of('release', column)} · costs {lost:.1f} % of "
                f"travel{' ▲ too much' if over else ''} · ")
        # How seldom noise alone would pass it is no promise when the rest itself is in doubt.
        if doubt := self._doubt(column):
            return f"not proven: {doubt} · {text.removesuffix(' · ')}"
        even = next((c for c in band.cases if c.name == "even" and band.law != "even"), None)
        other = "" if even is None else (
            f" · {HEADS['even']}: {level(band.rest_volts, even.start_of_travel_volts)} V, "
            f"{even.lost_travel_percent:.1f} %")
        return f"{text}passed by noise alone in 1000 h: {few(band.false_per_1000_h)}{other}"

    def _doubt(self, column: str) -> str:
        return doubt_of(self.session.shown, self.session.key_on, column)
