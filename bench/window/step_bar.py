"""The sentence of the moment and the one button that does it, in a room whose height is fixed."""

from collections.abc import Sequence

from PySide6.QtCore import QRect, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QVBoxLayout

from bench.window.sizes import em
from bench.window.theme import TEXT_EMS
from bench.window.widgets import announce, button, label
from bench.wording.hard_spaces import hard_spaces

# The room for the words: two lines of the sentence and two of what goes with it.
ROOM_EMS = 7.4
# The sizes tried, largest first, until the words fit the room.
PLAIN, LOUD = ("nowText", "nowLong", "head"), ("nowLoud", "nowMid", "nowText", "nowLong", "head")
GAP_EMS = 0.35
NARROW_EMS = 55


class StepBar(QFrame):
    """The sentence that says what to do now, and the one button that does it.

    Its height is the same for every sentence: a longer one is set smaller. Only words that fit
    at no size make it higher, for nothing of them may be cut off.
    """

    pressed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("now")
        row = QHBoxLayout(self)
        row.setContentsMargins(em(1.6), em(0.8), em(1.6), em(0.8))
        row.setSpacing(em(1))
        words = QVBoxLayout()
        words.setSpacing(em(GAP_EMS))
        self.text = label("", "nowText", wrap=True)
        self.text.setAccessibleName("What to do now")
        self.more = label("", "nowMore", wrap=True)
        self.more.setAccessibleName("More on what to do now")
        # Both wrap to whatever room there is; how high that makes them is worked out below.
        for made in (self.text, self.more):
            made.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        words.addStretch(1)
        words.addWidget(self.text)
        words.addWidget(self.more)
        words.addStretch(1)
        row.addLayout(words, 1)
        self.action = button("", self.pressed.emit, main=True)
        row.addWidget(self.action)
        self._loud = False
        self._more = ""
        self._fitted: tuple[str, str, int, bool, int] | None = None
        self._fit()

    def show_step(self, text: str, more: str, action: str, enabled: bool, loud: bool) -> None:
        """Show a sentence and its button; an empty action hides the button."""
        if self.text.text() != text:
            self.text.setText(text)
            self.text.setAccessibleDescription(text)
            announce(self.text, text)
        self._more = more
        self.more.setAccessibleDescription(more)
        self.more.setVisible(bool(more))
        self._loud = loud
        if self.action.text() != action:
            self.action.setText(action)
            self.action.setAccessibleName(action.replace("&", ""))
        self.action.setVisible(bool(action))
        self.action.setEnabled(enabled)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Set the sentence in the largest size with which all words fit the room."""
        inner = self.layout()
        assert inner is not None
        sides = inner.contentsMargins()
        self._narrow(self.width() < em(NARROW_EMS))
        wide = self.width() - sides.left() - sides.right()
        if self.action.isVisibleTo(self):
            wide -= self.action.sizeHint().width() + inner.spacing()
        now = (self.text.text(), self._more, wide, self._loud, em(10))
        if now == self._fitted or wide <= 0:
            return
        self._fitted = now
        room = em(ROOM_EMS)
        below = 0
        if self._more:
            below = _lines_high(self._more, self.more.font(), wide) + em(GAP_EMS)
        high, kind = 0, ""
        for kind in LOUD if self._loud else PLAIN:
            font = QFont(self.more.font())
            font.setPixelSize(em(TEXT_EMS[kind]))
            font.setBold(True)
            high = _lines_high(self.text.text(), font, wide)
            if high + below <= room:
                break
        if self.text.objectName() != kind:
            self.text.setObjectName(kind)
            self.text.style().unpolish(self.text)
            self.text.style().polish(self.text)
        self.text.setFixedHeight(high)
        # The page below never moves: what has no room is told by the tip, and on the page itself.
        shown = _shortened(self._more, self.more.font(), wide, room - high - em(GAP_EMS))
        self.more.setText(shown)
        self.more.setToolTip(self._more if shown != self._more else "")
        if below:
            below = _lines_high(shown, self.more.font(), wide) + em(GAP_EMS)
            self.more.setFixedHeight(below - em(GAP_EMS))
        self.setFixedHeight(max(room, high + below) + sides.top() + sides.bottom())


    def _narrow(self, narrow: bool) -> None:
        """Make the button smaller where the words would find too little room beside it."""
        if bool(self.action.property("narrow")) != narrow:
            self.action.setProperty("narrow", narrow)
            self.action.style().unpolish(self.action)
            self.action.style().polish(self.action)


def _lines_high(text: str, font: QFont, wide: int) -> int:
    return QFontMetrics(font).boundingRect(
        QRect(0, 0, wide, 100_000), int(Qt.TextFlag.TextWordWrap), hard_spaces(text)).height() + 2


def _shortened(text: str, font: QFont, wide: int, high: int) -> str:
    """Return the text, with an ellipsis after as many words as fit; one line there is always."""
    if _lines_high(text, font, wide) <= max(high, _lines_high("…", font, wide)):
        return text
    words = text.split(" ")
    low, top = 0, len(words) - 1
    while low < top:
        middle = (low + top + 1) // 2
        fits = _lines_high(_cut(words, middle), font, wide) <= max(
            high, _lines_high("…", font, wide))
        low, top = (middle, top) if fits else (low, middle - 1)
    return _cut(words, low)


def _cut(words: Sequence[str], count: int) -> str:
    return f"{' '.join(words[:count]).rstrip('.,;:')} …"
