"""Read: what the sweep shows, sentence by sentence, with every plot going where one points."""

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QGridLayout,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QSplitter,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from analysis.pedal.faults import Fault
from analysis.pedal.findings import Findings
from bench.plots import FIGURES, columns, point_at
from bench.window.figure_view import FigureView
from bench.window.finding_view import (
    LONE,
    WORDS,
    car_judged_others,
    car_trouble,
    grave_count,
    headline,
    must_mend,
    said,
    unproven,
    what_first,
)
from bench.window.pages.page import NextStep, Page, PageStatus, car_status, on_show
from bench.window.sentences import SentenceDelegate
from bench.window.session import Session
from bench.window.theme import Skin
from bench.window.widgets import button, label, rows_to_pick, scrolled
from bench.wording.face import WINDOW
from bench.wording.faults import fault_words
from bench.wording.short import UNDATED

# More faults than a person reads; the first thousand name every kind and track.
MOST_FAULTS = 1000
COLUMNS = 3
# Pixels below which the marks of an axis and the title no longer fit.
LEAST_PLOT = 190
TRAVEL_FIGURES = ("mismatch", "play", "noise")
FAULT_ROLE = int(Qt.ItemDataRole.UserRole)


class ReadPage(Page):
    """The findings of the opened recording."""

    key = "read"
    title = "Read"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._views: dict[tuple[str, str | None], FigureView] = {}
        self._marks: list[tuple[pg.PlotItem, pg.GraphicsObject]] = []
        self._faults: list[Fault] = []
        outer = QHBoxLayout(self)
        outer.setContentsMargins(12, 12, 12, 12)
        self.split = QSplitter(Qt.Orientation.Horizontal)
        outer.addWidget(self.split)

        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 6, 0)
        column.addWidget(label("What it means, the gravest first", "head"))
        self.sentences = QListWidget()
        self.sentences.setAccessibleName("Findings as sentences, gravest first")
        self.sentences.setWordWrap(True)
        self.sentences.setItemDelegate(SentenceDelegate(self.sentences))
        self.sentences.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.sentences.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.sentences.currentItemChanged.connect(self._sentence_picked)
        column.addWidget(self.sentences, 3)
        self.fault_head = label("", "head", wrap=True)
        column.addWidget(self.fault_head)
        self.faults = rows_to_pick("Faults", ["fault", "what"])
        self.faults.currentCellChanged.connect(lambda row, *_: self._fault_picked(row))
        self.faults.cellClicked.connect(lambda row, _column: self._fault_picked(row))
        column.addWidget(self.faults, 2)
        row = QHBoxLayout()
        self.whole = button("See the whole", self.see_whole, tip="Show every plot whole (Home)")
        self.copy_button = button("Copy", self.copy, tip="Copy what is picked (Ctrl+C)")
        row.addWidget(self.whole)
        row.addWidget(self.copy_button)
        row.addStretch(1)
        column.addLayout(row)
        self.split.addWidget(left)

        self.grid = PlotGrid()
        self.plots = scrolled(self.grid)
        self.plots.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.plots.hide()
        self.split.addWidget(self.plots)
        self.split.setChildrenCollapsible(False)
        self.split.setStretchFactor(0, 0)
        self.split.setStretchFactor(1, 1)
        self.split.setSizes([350, 1000])

        for keys, act in (("Home", self.see_whole), ("Ctrl+C", self.copy)):
            QShortcut(QKeySequence(keys), self, act,
                      context=Qt.ShortcutContext.WidgetWithChildrenShortcut)
        session.findings_changed.connect(self._changed)
        session.before_changed.connect(self._changed)
        session.parameters_changed.connect(self._changed)
        session.key_on_changed.connect(self.step_changed)

    def next_step(self) -> NextStep:
        findings = self.session.findings
        if findings is None:
            return NextStep("Open a recording, or sweep the pedal first.",
                            "Drop a recording anywhere on this window to read it.",
                            "open")
        first, dot, rest = headline(findings).partition(". ")
        if must_mend(findings):
            return NextStep(first + dot.strip(), rest or what_first(findings), "sweep again")
        log = self.session.key_on
        car = car_trouble(findings, log)
        if car and log is not None:
            which = ("the values judged there" if car_judged_others(findings, log)
                     else "these values")
            rest = f"In the car, with {which}: {car[0].text}"
        return NextStep(first + dot.strip(), rest, "decide")

    def act(self) -> None:
        findings = self.session.findings
        self.go_to.emit("keep" if findings is None else
                        "sweep" if must_mend(findings) else "decide")

    def subject(self) -> str:
        return on_show(self.session)

    def status(self) -> PageStatus:
        findings = self.session.findings
        if findings is None:
            return PageStatus("no recording yet", False)
        # A tick would say that all is well.
        if findings.gravest >= 3:
            return PageStatus("do not drive", False)
        if findings.gravest == 2:
            return PageStatus(f"{grave_count(findings)} to repair first", False)
        not_proven = unproven(findings)
        if not_proven:
            alone = any(s.code == LONE for s in findings.graded)
            return PageStatus("nothing checks it" if alone else "not all of it proven", False)
        if findings.state != "sound":
            return PageStatus("not all of it was seen", False)
        count = len(findings.faults)
        return PageStatus(f"{count} to know of" if count else "no fault found",
                          not car_status(self.session))

    def apply_theme(self, skin: Skin) -> None:
        for view in self._views.values():
            view.apply_theme(skin.look)
        self._changed()

    def _empty(self) -> None:
        self._marks.clear()
        self._faults = []
        self.sentences.clear()
        self.faults.setRowCount(0)
        self.faults.hide()
        self.fault_head.setText("")
        self.plots.hide()
        for made in (self.whole, self.copy_button):
            made.setEnabled(False)
        for view in self._views.values():
            view.wipe()

    def _fill(self) -> None:
        findings = self.session.findings
        self._marks.clear()
        for made in (self.whole, self.copy_button):
            made.setEnabled(findings is not None)
        self._fill_sentences()
        self._fill_faults()
        self.plots.setVisible(findings is not None)
        if findings is None:
            return
        self._place_views(wanted_views(columns(findings), findings.pair is not None))
        for view in self._views.values():
            view.show_findings(findings, self.session.before)
        self._link()

    def _fill_sentences(self) -> None:
        self.sentences.blockSignals(True)
        self.sentences.clear()
        findings = self.session.findings
        for each in said(findings) if findings is not None else []:
            item = QListWidgetItem(each.sentence)
            item.setData(FAULT_ROLE, each)
            item.setData(Qt.ItemDataRole.AccessibleTextRole,
                         f"{WORDS.get(each.gravity, 'Fine')}: {each.sentence} {each.evidence}")
            self.sentences.addItem(item)
        self.sentences.blockSignals(False)

    def _fill_faults(self) -> None:
        findings = self.session.findings
        self._faults = list(findings.faults[:MOST_FAULTS]) if findings is not None else []
        self.fault_head.setText("Faults: pick one and every plot goes to it" if self._faults
                                else _no_fault(findings))
        self.faults.setVisible(bool(self._faults))
        self.faults.blockSignals(True)
        self.faults.setRowCount(len(self._faults))
        for row, fault in enumerate(self._faults):
            who = f"track {fault.channel}" if fault.channel else "pedal"
            when = f"{fault.time_s:.2f} s, {who}" if np.isfinite(
                fault.time_s) and fault.kind not in UNDATED else who
            word = WORDS.get(fault.gravity, "")
            seen = fault_words(fault.why, WINDOW)
            for place, text in enumerate((f"{word}\n{when}", seen)):
                item = QTableWidgetItem(text)
                item.setToolTip(seen)
                self.faults.setItem(row, place, item)
        self.faults.resizeColumnToContents(0)
        # Air between the columns and the rows: they are read, not scanned.
        self.faults.setColumnWidth(0, self.faults.columnWidth(0) + 14)
        self.faults.resizeRowsToContents()
        for row in range(len(self._faults)):
            self.faults.setRowHeight(row, self.faults.rowHeight(row) + 10)
        self.faults.setCurrentCell(-1, -1)
        self.faults.blockSignals(False)

    def prepare(self) -> None:
        """Make the plots of a usual pedal beforehand, so that the first opening is quick."""
        if not self._views:
            self._place_views(wanted_views(("a", "b"), True))

    def _place_views(self, wanted: list[tuple[str, str | None]]) -> None:
        if list(self._views) == wanted:
            return
        self._views = {w: FigureView(w[0], self.session.skin, w[1]) for w in wanted}
        self.grid.show_views(list(self._views.values()))

    def _link(self) -> None:
        linked = [v for (name, _), v in self._views.items() if name in TRAVEL_FIGURES]
        for view in linked[1:]:
            view.plot.setXLink(linked[0].plot)

    def _sentence_picked(self, item: QListWidgetItem | None, _old: object = None) -> None:
        each = item.data(FAULT_ROLE) if item is not None else None
        if each is not None and each.fault in self._faults:
            self.faults.setCurrentCell(self._faults.index(each.fault), 0)

    def _fault_picked(self, row: int) -> None:
        if 0 <= row < len(self._faults):
            self.show_fault(self._faults[row])

    def show_fault(self, fault: Fault) -> None:
        """Make every plot go to a fault."""
        findings = self.session.findings
        if findings is None:
            return
        self._unmark()
        for (name, column), view in self._views.items():
            for mark in point_at(name, view.plot, findings, fault, self.session.skin.look,
                                 column=column):
                self._marks.append((view.plot, mark))

    def see_whole(self) -> None:
        """Take the marks away and show every plot whole."""
        self._unmark()
        findings = self.session.findings
        if findings is not None and findings.recording.rows:
            view = self._views.get(("traces", None))
            if view is not None:
                view.plot.enableAutoRange()

    def _unmark(self) -> None:
        for plot, mark in self._marks:
            plot.removeItem(mark)
        self._marks.clear()

    def copy(self) -> None:
        """Copy the picked sentence or fault; without one, all findings as text."""
        self.session.settle()
        findings = self.session.findings
        if findings is None:
            return
        if self.faults.hasFocus() and 0 <= self.faults.currentRow() < len(self._faults):
            text = fault_words(self._faults[self.faults.currentRow()].why, WINDOW)
        elif self.sentences.currentItem() is not None:
            each = self.sentences.currentItem().data(FAULT_ROLE)
            text = f"{each.sentence}\n{each.evidence}"
        else:
            from bench.services.findings import findings_text
            text = findings_text(findings, face=WINDOW)
        QApplication.clipboard().setText(text)
        self.session.notify("Copied.", "good")

    def sizeHint(self) -> QSize:
        return QSize(1100, 700)


def _no_fault(findings: Findings | None) -> str:
    """Return what an empty table of faults says, and no more than that."""
    if findings is None:
        return ""
    if findings.gravest >= 2:
        return "No fault along the travel; see above what must be repaired."
    more = "; see above what is not proven." if unproven(findings) else "."
    return f"No fault along the travel{more}"


class PlotGrid(QWidget):
    """The plots: the first over the whole width, the others in as many columns as there is room."""

    def __init__(self) -> None:
        super().__init__()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(6, 0, 0, 0)
        self._grid.setSpacing(8)
        self._views: list[QWidget] = []
        self._columns = 0

    @property
    def columns(self) -> int:
        """Return how many plots stand side by side."""
        return self._columns

    def show_views(self, views: Sequence[QWidget]) -> None:
        """Show these plots in place of those before."""
        for old in self._views:
            self._grid.removeWidget(old)
            # Seen until Qt deletes it: pieces of it would stand between the new ones.
            old.hide()
            old.deleteLater()
        self._views = list(views)
        self._columns = 0
        self._arrange()

    def minimumSizeHint(self) -> QSize:
        return QSize(LEAST_PLOT, super().minimumSizeHint().height())

    def resizeEvent(self, _event: QResizeEvent) -> None:
        self._arrange()

    def _arrange(self) -> None:
        columns = min(max(self.width() // LEAST_PLOT, 1), COLUMNS)
        if columns == self._columns or not self._views:
            return
        self._columns = columns
        for row in range(self._grid.rowCount()):
            self._grid.setRowStretch(row, 0)
        for place in range(COLUMNS):
            self._grid.setColumnStretch(place, 1 if place < columns else 0)
        for place, view in enumerate(self._views):
            row, column = divmod(place - 1, columns)
            self._grid.removeWidget(view)
            if place == 0:
                self._grid.addWidget(view, 0, 0, 1, columns)
            else:
                self._grid.addWidget(view, 1 + row, column)
            view.setMinimumHeight(160 if place else 190)
            self._grid.setRowStretch(1 + row if place else 0, 1)


def wanted_views(tracks: Sequence[str], paired: bool) -> list[tuple[str, str | None]]:
    """Return the figures to show, in order: name and, for some, the track."""
    names = [n for n in ("traces", "pair", "mismatch", "play", "noise")
             if paired or not FIGURES[n].needs_pair]
    return [*((name, None) for name in names), *(("rest", c) for c in tracks[:2])]
