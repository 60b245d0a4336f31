"""Before and after on top of the page Read: every quantity, whether it moved, what is left."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QHeaderView, QTableWidgetItem

from analysis.pedal.findings import Findings
from bench.services.compare import Comparison, compare
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import Card, button, label, rows_to_pick
from bench.wording.compare import answer, closing, notes, still_to_be_repaired
from bench.wording.compare_table import HEADS, compared_rows
from bench.wording.face import WINDOW, capital
from bench.wording.short import short_line

# Rows seen at once; the rest scrolls.
SEEN = 4


class ComparisonTable(Card):
    """The table, with its answer above and its closing sentence below; hidden without a before."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self.setAccessibleName("Before and after")
        self.comparison: Comparison | None = None
        self._of: tuple[Findings, Findings] | None = None
        self.body.setContentsMargins(10, 6, 10, 8)
        self.body.setSpacing(4)
        head = QHBoxLayout()
        self.answer = label("", "head", wrap=True)
        self.answer.setAccessibleName("What became of the pedal")
        head.addWidget(self.answer, 1)
        self.more = button("", self._unfold_notes, name="Notes on the comparison")
        self.more.setObjectName("corner")
        head.addWidget(self.more)
        self.fold = button("Fold", self._fold, name="Fold the table of before and after")
        self.fold.setObjectName("corner")
        head.addWidget(self.fold)
        self.body.addLayout(head)
        self.table = rows_to_pick("Before and after, what is left to repair first", list(HEADS))
        sections = self.table.horizontalHeader()
        sections.setStretchLastSection(False)
        sections.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        sections.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.table.setWordWrap(False)
        self.body.addWidget(self.table)
        self.closing = label("", wrap=True)
        self.closing.setAccessibleName("Where the pedal stands now")
        self.body.addWidget(self.closing)
        self.notes = label("", "quiet", wrap=True)
        self._noted = 0
        self.body.addWidget(self.notes)
        self.hide()

    def show_pair(self, before: Findings | None, after: Findings | None) -> None:
        """Compare two recordings; without either of them show nothing."""
        if before is None or after is None:
            self.comparison = self._of = None
            self.table.setRowCount(0)
            self.answer.setText("")
            self.closing.setText("")
            self.hide()
            return
        if self._of is None or self._of[0] is not before or self._of[1] is not after:
            self._of = before, after
            self._show(compare(before, after))
        self.show()

    def _show(self, found: Comparison) -> None:
        self.comparison = found
        self.answer.setText(f"{capital(answer(found))}.")
        rows = compared_rows(found)
        self.table.setRowCount(len(rows))
        skin = self._session.skin
        for number, row in enumerate(rows):
            for place, text in enumerate(row.cells):
                item = QTableWidgetItem(text)
                item.setToolTip(text)
                if place in (1, 2):
                    item.setTextAlignment(Qt.AlignmentFlag.AlignRight
                                          | Qt.AlignmentFlag.AlignVCenter)
                if place >= 3 and (row.gravity or row.worse):
                    item.setForeground(QColor(skin.gravity(max(row.gravity, 2))))
                elif not row.real and not row.gravity:
                    item.setForeground(QColor(skin.quiet))
                self.table.setItem(number, place, item)
        high = self.table.fontMetrics().height() + 6
        self.table.verticalHeader().setDefaultSectionSize(high)
        self.table.setFixedHeight(self.table.horizontalHeader().sizeHint().height()
                                  + high * min(SEEN, len(rows)) + 4)
        left = found.left or found.asked
        lines = "; ".join(short_line(f, width=200) for f in left)
        said = [f"{capital(closing(found))}",
                f"{still_to_be_repaired(found)}: {lines}." if left else ""]
        self.closing.setText("  ".join(t for t in said if t))
        weaker = notes(found, WINDOW)
        self.notes.setText("\n".join(weaker))
        self.notes.hide()
        self._noted = len(weaker)
        self._show_more()
        self._keep_whole()

    def _unfold_notes(self) -> None:
        self.notes.setVisible(self.notes.isHidden())
        self._show_more()
        self._keep_whole()

    def _show_more(self) -> None:
        self.more.setVisible(bool(self._noted))
        self.more.setText(f"Notes ({self._noted}) {'▸' if self.notes.isHidden() else '▾'}")

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._keep_whole()

    def _keep_whole(self) -> None:
        """Give the wrapped texts the height they need: the page around them takes what is left."""
        for made in (self.answer, self.closing, self.notes):
            wide = made.width() if made.isVisible() else self.width() - 2 * em(1)
            made.setMinimumHeight(max(made.heightForWidth(max(wide, em(10))), 0)
                                  if made.text() else 0)
        # Nothing of it gives way to the plots: the page scrolls.
        inner = self.layout()
        assert inner is not None
        self.setMinimumHeight(inner.totalMinimumHeightForWidth(max(self.width(), em(20))))

    def _fold(self) -> None:
        folded = not self.table.isHidden()
        self.table.setHidden(folded)
        self.closing.setHidden(folded)
        self.fold.setText("Unfold" if folded else "Fold")
        self.fold.setAccessibleName(f"{self.fold.text()} the table of before and after")
