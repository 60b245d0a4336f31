"""Read: what the sweep shows in a line each, one large plot, and a strip of small ones below.

With an earlier recording laid under it, a table on top says what became of every quantity.
"""

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPoint, QSize, Qt
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QMenu,
    QSplitter,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from analysis.pedal.faults import Fault
from analysis.pedal.findings import Findings
from bench.plots import FIGURES, columns, point_at
from bench.window.comparison_table import ComparisonTable
from bench.window.figure_desk import FigureDesk, Key
from bench.window.finding_list import FindingList
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
from bench.window.pictures import copy_picture, save_picture
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.widgets import button, label, rows_to_pick
from bench.wording.face import WINDOW, first_sentence
from bench.wording.faults import fault_words
from bench.wording.pages import read as words
from bench.wording.pages import shared
from bench.wording.short import UNDATED

# More faults than a person reads; the first thousand name every kind and track.
MOST_FAULTS = 1000
# Ems of width below which the plot finds no room beside the findings.
NARROW = 47.0
# More rows than this keep one height: to measure each takes too long.
MOST_FITTED = 200


class ReadPage(Page):
    """The findings of the opened recording."""

    key = "read"
    title = "Read"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._marks: list[tuple[pg.PlotItem, pg.GraphicsObject]] = []
        self._faults: list[Fault] = []
        self._marked: Fault | None = None
        self._figures: list[Key] = []
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 10)
        outer.setSpacing(8)
        self.compared = ComparisonTable(session)
        outer.addWidget(self.compared)
        self.split = QSplitter(Qt.Orientation.Horizontal)
        outer.addWidget(self.split, 1)
        self.split.addWidget(self._left_column())
        self.desk = FigureDesk(session.skin)
        self.desk.setMinimumSize(em(22), em(17))
        self.desk.hide()
        self.whole = self.desk.add_button("Reset", self.see_whole, "Show the plot whole",
                                          "Show the plot whole (Home)")
        self.copy_figure = self.desk.add_button("Copy", self.copy_picture, "Copy the picture",
                                                "Copy the picture (Ctrl+Shift+C)")
        self.save_figure = self.desk.add_button("Save…", self.save_picture, "Save the picture",
                                                "Save the picture as a file")
        self.desk.menu_asked.connect(self._menu)
        self.desk.enlarged.connect(self._mark_again)
        self.split.addWidget(self.desk)
        self.split.setChildrenCollapsible(False)
        self.split.setStretchFactor(0, 36)
        self.split.setStretchFactor(1, 64)
        self.split.setSizes([360, 640])
        self.desk.strip.hide()
        outer.addWidget(self.desk.strip)

        for keys, act in (("Home", self.see_whole), ("Ctrl+C", self.copy),
                          ("Ctrl+Shift+C", self.copy_picture)):
            QShortcut(QKeySequence(keys), self, act)
        session.findings_changed.connect(self._changed)
        session.before_changed.connect(self._changed)
        session.parameters_changed.connect(self._changed)
        session.key_on_changed.connect(self.step_changed)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # With a large font the plot stands below the findings.
        way = (Qt.Orientation.Vertical if self.width() < em(NARROW) else
               Qt.Orientation.Horizontal)
        if way != self.split.orientation():
            self.split.setOrientation(way)

    def _left_column(self) -> QWidget:
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 4, 0)
        column.setSpacing(6)
        head = QHBoxLayout()
        head.addWidget(label("What it means", "head"), 1)
        self.copy_button = button("Copy", self.copy, name="Copy the findings",
                                  tip=words.COPY_TIP)
        self.copy_button.setObjectName("corner")
        head.addWidget(self.copy_button)
        column.addLayout(head)
        self.sentences = FindingList()
        self.sentences.picked.connect(self._finding_picked)
        self.sentences.setMinimumHeight(em(9))
        column.addWidget(self.sentences, 3)
        self.fault_head = label("", "quiet", wrap=True)
        column.addWidget(self.fault_head)
        self.faults = rows_to_pick("Faults", ["fault", "what"])
        self.faults.currentCellChanged.connect(lambda row, *_: self._fault_picked(row))
        self.faults.cellClicked.connect(lambda row, _column: self._fault_picked(row))
        self.faults.setMinimumHeight(em(7))
        self.faults.horizontalHeader().sectionResized.connect(lambda *_: self._fit_rows())
        column.addWidget(self.faults, 2)
        left.setMinimumWidth(em(22))
        return left

    def next_step(self) -> NextStep:
        findings = self.session.findings
        if findings is None:
            return NextStep(shared.OPEN_OR_SWEEP, words.OPEN_MORE, "open")
        first, rest = first_sentence(headline(findings))
        if must_mend(findings):
            return NextStep(f"{first}.", rest or what_first(findings), "sweep again")
        log = self.session.key_on
        car = car_trouble(findings, log)
        if car and log is not None:
            rest = words.in_the_car(car_judged_others(findings, log), car[0].text)
        return NextStep(f"{first}.", rest, "decide")

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
        if count := grave_count(findings):
            return PageStatus(words.to_repair(count), False)
        not_proven = unproven(findings)
        if not_proven:
            alone = any(s.code == LONE for s in findings.graded)
            return PageStatus("nothing checks it" if alone else "not all of it proven", False)
        if findings.state != "sound":
            return PageStatus("not all of it was seen", False)
        count = len(findings.faults)
        return PageStatus(words.to_know(count) if count else "no fault found",
                          not car_status(self.session))

    def apply_theme(self, skin: Skin) -> None:
        self.desk.apply_theme(skin)
        self._changed()

    def _empty(self) -> None:
        self._marks.clear()
        self._faults, self._marked = [], None
        self.sentences.clear()
        self.faults.setRowCount(0)
        self.faults.hide()
        self.fault_head.setText("")
        self.compared.show_pair(None, None)
        self._show_desk(False)
        self.desk.wipe()

    def _show_desk(self, there: bool) -> None:
        self.desk.setVisible(there)
        self.desk.strip.setVisible(there)
        for made in (self.whole, self.copy_button, self.copy_figure, self.save_figure):
            made.setEnabled(there)

    def _fill(self) -> None:
        findings, before = self.session.findings, self.session.before
        self._marks.clear()
        self._marked = None
        self.sentences.show_said(said(findings) if findings is not None else [])
        self._fill_faults()
        self.compared.show_pair(before, findings)
        self._show_desk(findings is not None)
        if findings is None:
            return
        self._place_figures(wanted_views(columns(findings), findings.pair is not None,
                                         before is not None))
        self.desk.show_findings(findings, before)

    def _fill_faults(self) -> None:
        findings = self.session.findings
        self._faults = list(findings.faults[:MOST_FAULTS]) if findings is not None else []
        self.fault_head.setText(words.PICK_A_FAULT if self._faults
                                else _no_fault(findings))
        # With two recordings the table on top has a row for each kind of fault.
        shown = bool(self._faults) and self.session.before is None
        self.faults.setVisible(shown)
        self.fault_head.setVisible(shown or not self._faults)
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
        self._fit_rows()
        self.faults.setCurrentCell(-1, -1)
        self.faults.blockSignals(False)

    def _fit_rows(self) -> None:
        """Give each fault the lines it needs at the width there is, and some air."""
        if self.faults.rowCount() > MOST_FITTED:
            return
        self.faults.resizeRowsToContents()
        for row in range(self.faults.rowCount()):
            self.faults.setRowHeight(row, self.faults.rowHeight(row) + 10)

    def prepare(self) -> None:
        """Make the plots of a usual pedal beforehand, so that the first opening is quick."""
        if not self.desk.views:
            self._place_figures(wanted_views(("a", "b"), True, False))

    def _place_figures(self, wanted: list[Key]) -> None:
        self.desk.show_figures(wanted, wanted[0])

    def _finding_picked(self, fault: Fault) -> None:
        if fault in self._faults:
            self.faults.setCurrentCell(self._faults.index(fault), 0)

    def _fault_picked(self, row: int) -> None:
        if 0 <= row < len(self._faults):
            self.show_fault(self._faults[row])

    def show_fault(self, fault: Fault) -> None:
        """Make every plot go to a fault."""
        findings = self.session.findings
        if findings is None:
            return
        self._unmark()
        self._marked = fault
        self.desk.finish()
        self.desk.forget_place()
        for (name, column), view in self.desk.views.items():
            for mark in point_at(name, view.plot, findings, fault, self.session.skin.look,
                                 column=column):
                self._marks.append((view.plot, mark))

    def _mark_again(self) -> None:
        """Point at the picked fault in figures that were drawn anew."""
        if self._marked is not None:
            self.show_fault(self._marked)

    def see_whole(self) -> None:
        """Take the marks away and show the large plot whole."""
        self._unmark()
        self._marked = None
        self.faults.setCurrentCell(-1, -1)
        self.desk.see_whole()

    def _unmark(self) -> None:
        for plot, mark in self._marks:
            plot.removeItem(mark)
        self._marks.clear()

    def _menu(self, point: QPoint) -> None:
        """Offer with a right click what the buttons in the corner do."""
        menu = QMenu(self)
        for text, act in ((words.RESET, self.see_whole),
                          ("&Copy the picture\tCtrl+Shift+C", self.copy_picture),
                          ("&Save the picture…", self.save_picture)):
            menu.addAction(text, act)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.popup(point)

    def copy_picture(self) -> None:
        """Copy the large plot as a picture."""
        if self.desk.view is not None and self.session.findings is not None:
            copy_picture(self.session, self.desk.view)

    def save_picture(self) -> None:
        """Save the large plot as a picture."""
        if self.desk.view is not None and self.session.findings is not None:
            save_picture(self.session, self.desk.view, self)

    def copy(self) -> None:
        """Copy the picked sentence or fault; without one, all findings as text."""
        self.session.settle()
        findings = self.session.findings
        if findings is None:
            return
        if self.faults.hasFocus() and 0 <= self.faults.currentRow() < len(self._faults):
            text = fault_words(self._faults[self.faults.currentRow()].why, WINDOW)
        elif each := self.sentences.said_of(self.sentences.currentItem()):
            text = f"{each.sentence}\n{each.evidence}".strip()
        else:
            from bench.services.findings import findings_text
            text = findings_text(findings, face=WINDOW)
        QApplication.clipboard().setText(text)
        self.session.notify("Copied.", "good")

    def hasHeightForWidth(self) -> bool:
        # Its wrapped texts have frames of their own: the page takes the room there is.
        return False

    def sizeHint(self) -> QSize:
        return QSize(1100, 700)


def _no_fault(findings: Findings | None) -> str:
    """Return what an empty table of faults says, and no more than that."""
    if findings is None:
        return ""
    if findings.gravest >= 2:
        return words.NO_FAULT_BUT_REPAIR
    return words.NO_FAULT_BUT_UNPROVEN if unproven(findings) else words.NO_FAULT


def wanted_views(tracks: Sequence[str], paired: bool, before: bool) -> list[Key]:
    """Return the figures to show, in order: name and, for some, the track.

    before: with an earlier recording the two are laid on each other along travel first.
    """
    shown = [(name, figure) for when in ("before", "always") for name, figure in FIGURES.items()
             if figure.in_window == when and (before or when == "always")
             and (paired or not figure.needs_pair)]
    return [(name, column) for name, figure in shown
            for column in (tracks if figure.per_track else (None,))]
