"""Step one of the page Decide: the three ways as cards, the one to try first marked."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from analysis.pedal.findings import Findings
from analysis.pedal.recommended import recommended
from bench.window.sizes import em
from bench.window.widgets import button, label
from bench.wording.face import capital
from bench.wording.pages.decide import NO_WAYS
from bench.wording.remedy_cards import (
    EFFORTS,
    KINDS,
    NOT_OFFERED,
    RECOMMENDED,
    TITLES,
    Way,
    ways_of,
)

# Ways of a track that is fed and turned; a Hall sensor has none.
OF_A_TRACK = frozenset({"turn", "trim resistor"})
# Ems of a card below which its title has the line for itself.
NARROW_EMS = 24.0


class RemedyCard(QFrame):
    """One way: title, effort, and for each track what to do, what it costs, what remains."""

    def __init__(self, kind: str) -> None:
        super().__init__()
        self.kind = kind
        self.setObjectName("remedy")
        self.setAccessibleName(TITLES[kind])
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(10, 6, 10, 6)
        self.body.setSpacing(3)
        above = QHBoxLayout()
        self.badge = label(f"✓ {RECOMMENDED}", "badge")
        above.addWidget(self.badge)
        above.addStretch(1)
        self.body.addLayout(above)
        self._head = QHBoxLayout()
        title = label(TITLES[kind], "head", wrap=True)
        title.setMinimumWidth(1)
        self._head.addWidget(title, 1)
        self.body.addLayout(self._head)
        self.lines = label("", wrap=True)
        self.lines.setMinimumWidth(1)
        self.body.addWidget(self.lines)
        self.more = button("Details ▸", self._unfold, name=f"Details of: {TITLES[kind]}")
        self.more.setObjectName("corner")
        self.whole = label("", "quiet", wrap=True)
        self.whole.hide()
        self._narrow: bool | None = None
        self.foot = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self.foot.addStretch(1)
        self.body.addLayout(self.foot)
        self.body.addWidget(self.whole)
        self._arrange()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """Place the button beside the title, or below the text where the title needs the room."""
        narrow = self.width() < em(NARROW_EMS)
        if narrow != self._narrow:
            self._narrow = narrow
            (self._head if narrow else self.foot).removeWidget(self.more)
            self.foot.setDirection(QBoxLayout.Direction.TopToBottom if narrow
                                   else QBoxLayout.Direction.LeftToRight)
            if narrow:
                self.foot.insertWidget(self.foot.count() - 1, self.more)
            else:
                self._head.addWidget(self.more, 0, Qt.AlignmentFlag.AlignTop)

    def show_ways(self, ways: Sequence[Way], marked: bool) -> None:
        """Show the way for each track; marked: this is the one to try first."""
        offered = [way for way in ways if way.offered]
        lines = [f"Effort: {EFFORTS[self.kind]}"] if offered else []
        told = {way.why for way in ways}
        for way in ways:
            who = "" if len(ways) == 1 else f"Track {way.track}: "
            if len(lines) > 1:
                lines.append("")
            if way.offered:
                lines += [f"{who}{way.do if who else capital(way.do)}", f"Costs: {way.cost}",
                          f"Remains: {way.remains}"]
            elif offered:
                lines.append(f"{who}{NOT_OFFERED}")
        if not offered:
            lines = [next(iter(told)) if len(told) == 1 else capital(NOT_OFFERED)]
        self.lines.setText("\n".join(lines))
        self.whole.setText("\n\n".join(dict.fromkeys(
            way.why if len(told) == 1 else f"Track {way.track}: {way.why}" for way in ways)))
        self.more.setVisible(bool(offered) or len(told) > 1)
        self.whole.setVisible(self.whole.isVisibleTo(self) and not self.more.isHidden())
        self.badge.setVisible(marked)
        self.setProperty("marked", marked)
        self.lines.setObjectName("" if offered else "quiet")
        self.setAccessibleDescription(f"{RECOMMENDED}. " * marked + self.lines.text())
        for made in (self, self.lines):
            made.style().unpolish(made)
            made.style().polish(made)

    def _unfold(self) -> None:
        self.whole.setVisible(self.whole.isHidden())
        self.more.setText(f"Details {'▸' if self.whole.isHidden() else '▾'}")


class RemedyCards(QWidget):
    """The three cards one below the other."""

    def __init__(self, turn: Callable[[], object]) -> None:
        super().__init__()
        self.setObjectName("scrolled")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        self.cards = {kind: RemedyCard(kind) for kind in KINDS}
        for card in self.cards.values():
            column.addWidget(card)
        self.turn_button = button("Turn it, live…", turn,
                                  name="Turn the potentiometer with a live reading")
        self.turn_button.setObjectName("corner")
        self.cards["turn"].foot.insertWidget(0, self.turn_button)
        self.nothing: QLabel = label("", "quiet", wrap=True)
        column.addWidget(self.nothing)
        column.addStretch(1)
        self.clear()

    def clear(self) -> None:
        """Show no way at all."""
        for card in self.cards.values():
            card.show_ways((), False)
            card.hide()
        self.nothing.setText(NO_WAYS)
        self.nothing.show()

    def show_findings(self, findings: Findings, tracks: Sequence[str]) -> None:
        """Show the ways for these tracks."""
        best = recommended(findings)
        for kind, card in self.cards.items():
            ways = [ways_of(c, findings.remedies.get(c, ()), kind) for c in tracks]
            card.show_ways(ways, best is not None and best.kind == kind)
            # What no such sensor has is no way to choose: it is told in a line below.
            not_its = findings.recording.pedal.magnetic and kind in OF_A_TRACK
            card.setVisible(not not_its)
            if not_its and ways:
                self.nothing.setText(ways[0].why)
        self.nothing.setVisible(findings.recording.pedal.magnetic)
