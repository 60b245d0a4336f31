"""Decide: parameters on the left, what they cost and what to enter on the right, at once."""

import math

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from analysis.pedal.verdict import off_at_rest
from analysis.pedal.withhold_levels import promise_values
from bench.plots import columns
from bench.services.settings import sheet_of
from bench.window.figure_view import FigureView
from bench.window.finding_view import doubt_of, few, must_mend, unproven, what_first
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
from bench.window.session import Session
from bench.window.theme import Skin
from bench.window.values_card import NOT_PROVEN, ValuesCard
from bench.window.widgets import Abreast, Card, FrontStack, button, label, scrolled
from bench.wording.dead_band import HEADS, conditions, level, more_would_pay
from bench.wording.face import REMEDIES, WINDOW
from bench.wording.reasons import in_words


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
        values = QWidget()
        self.stack.addWidget(values)
        row = QHBoxLayout(values)
        row.setContentsMargins(12, 12, 12, 12)
        row.setSpacing(12)
        self.column = ParameterColumn(session)
        self.fields = self.column.fields
        row.addWidget(self.column, 1)
        row.addWidget(self._results_column(), 4)
        QShortcut(QKeySequence("Ctrl+C"), self, lambda: self.values.copy(),
                  context=Qt.ShortcutContext.WidgetWithChildrenShortcut)
        self.nulling = NullingView(session)
        self.nulling.closed.connect(self.stop_nulling)
        self.stack.addWidget(self.nulling)
        self._budgets: dict[str, FigureView] = {}
        session.findings_changed.connect(self._changed)
        session.parameters_changed.connect(self._changed)
        session.key_on_changed.connect(self._changed)

    def _results_column(self) -> QScrollArea:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(12)
        self.tracks_row = Abreast(290)
        column.addWidget(self.tracks_row)
        self.remedy_card = Card(REMEDIES)
        self.turn_button = button("Turn the potentiometer, live…", self.start_nulling)
        ways = QWidget()
        self.remedy_grid = QGridLayout(ways)
        self.remedy_grid.setContentsMargins(0, 0, 6, 0)
        self.remedy_grid.setHorizontalSpacing(18)
        area = scrolled(ways)
        ways.setObjectName("onCard")
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setAccessibleName("Three ways to live with a rest that is off")
        area.setMinimumHeight(110)
        self.remedy_card.body.addWidget(area, 1)
        self.remedy_card.body.addWidget(self.turn_button)
        low = Abreast(300)
        low.row.addWidget(self.remedy_card, 2)
        self.values = ValuesCard(self.session)
        self.values.unit_changed.connect(self._changed)
        low.row.addWidget(self.values, 3)
        column.addWidget(low, 1)
        area = scrolled(inside)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        return area

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
                            "Pick one of the three ways below, or accept more.", "turn live")
        off = off_at_rest(findings.tracks, findings.pair)
        if off is not None:
            return NextStep(
                f"Track {off[0]} is off at rest: turn it, trim it, or give each track its own "
                "start of travel.", "The three ways stand below, each with its cost.",
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
        self._clear_remedies()
        self.turn_button.setEnabled(False)
        self.values.show_sheet(None)

    def _fill(self) -> None:
        findings = self.session.findings
        self.turn_button.setEnabled(findings is not None)
        there = columns(findings) if findings is not None else []
        if list(self._budgets) != there:
            self._make_tracks(there)
        self.values.show_sheet(None if findings is None else sheet_of(findings),
                               [c for c in there if self._doubt(c)])
        if findings is not None:
            for column in there:
                self._show_track(column)
            self._fill_remedies()
        self.column.show_parameters(findings)

    def _make_tracks(self, there: list[str]) -> None:
        while (item := self.tracks_row.row.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.hide()
                old.deleteLater()
        self._budgets, self._numbers, self._doubts = {}, {}, {}
        for column in there:
            card = Card()
            head = QHBoxLayout()
            start = label("", "big")
            start.setAccessibleName(f"Start of travel of track {column}")
            more = label("", "quiet", wrap=True)
            words = QVBoxLayout()
            words.setSpacing(0)
            mark = label(NOT_PROVEN, "mend")
            words.addWidget(label(f"Track {column}: start of travel", "quiet"))
            words.addWidget(start)
            words.addWidget(mark)
            head.addLayout(words)
            head.addWidget(more, 1, Qt.AlignmentFlag.AlignBottom)
            card.body.addLayout(head)
            view = FigureView("budget", self.session.skin, column)
            view.setMinimumHeight(190)
            card.body.addWidget(view, 1)
            card.setMaximumHeight(320)
            self._budgets[column] = view
            self._numbers[column] = (start, more)
            self._doubts[column] = mark
            self.tracks_row.row.addWidget(card, 1)
        self.column.make_targets(
            there, self.session.shown.recording.nominal_volts if there else 0.0)
        self.tracks_row.arrange()

    def _show_track(self, column: str) -> None:
        findings = self.session.shown
        band = findings.dead_bands.get(column)
        start, more = self._numbers[column]
        doubt = self._doubt(column)
        self._doubts[column].setVisible(bool(doubt))
        start.setAccessibleDescription(f"{NOT_PROVEN}: {doubt}" if doubt else "")
        if band is not None:
            start.setText(self.values.level_of("start_of_travel", column))
            more.setText(self._more_text(column))
            # What the promise assumes and leaves out stands where the level is read.
            more.setToolTip("" if band.weak is not None or not band.cases else
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
        return f"{text}noise crossings in 1000 h: {few(band.false_per_1000_h)}{other}"

    def _doubt(self, column: str) -> str:
        return doubt_of(self.session.shown, self.session.key_on, column)

    def _clear_remedies(self) -> None:
        while (item := self.remedy_grid.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.hide()
                old.deleteLater()

    def _fill_remedies(self) -> None:
        findings = self.session.shown
        self._clear_remedies()
        row = 0
        for kind in ("turn", "trim resistor", "dead band"):
            self.remedy_grid.addWidget(label(kind.capitalize(), "head"), row, 0)
            texts = {column: [in_words(r.why, WINDOW) for r in findings.remedies.get(column, ())
                              if r.kind == kind]
                     or ["not possible here"] for column in self._budgets}
            alike = len({tuple(t) for t in texts.values()}) == 1
            for column, several in list(texts.items())[:1 if alike else None]:
                who = "" if alike else f"Track {column}: "
                row += 1
                self.remedy_grid.addWidget(label(who + "; ".join(several), wrap=True), row, 0)
            row += 1
        self.remedy_grid.setRowStretch(row, 1)
