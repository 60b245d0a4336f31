"""One line of fixed height on how things stand: board, file, its values, what is recorded."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel

from bench.window.session import Session
from bench.window.sizes import em
from bench.wording.state_bar import board_words, file_words, recording_words, saving_words

# What each state of the board and of the values looks like; the words say the same.
BOARD_LOOKS = {"live": "good", "silent": "mend", "out": "grave"}
VALUES_LOOKS = {"saved": "good", "changed": "mend"}


class CutLabel(QLabel):
    """A line that is cut with an ellipsis where it finds no room; the whole is its tip.

    least: ems that it keeps, however little room there is. end: it is cut there, where a cut in the
    middle would turn its meaning round ("values … saved").
    """

    def __init__(self, least: float, *, end: bool = False) -> None:
        super().__init__()
        self._least = least
        self._cut = Qt.TextElideMode.ElideRight if end else Qt.TextElideMode.ElideMiddle

    @property
    def shown(self) -> str:
        """Return what of the text finds room."""
        return QFontMetrics(self.font()).elidedText(self.text(), self._cut, self.width())

    def setText(self, text: str) -> None:
        if text != self.text():
            super().setText(text)
            self.setToolTip(text)

    def minimumSizeHint(self) -> QSize:
        least = min(em(self._least), self.sizeHint().width())
        return QSize(least, super().minimumSizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignVCenter), self.shown)


class StateBar(QFrame):
    """Show how things stand; its height never changes."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.setObjectName("state")
        self.setAccessibleName("How things stand")
        self._session = session
        row = QHBoxLayout(self)
        row.setContentsMargins(em(1.6), 0, em(1.6), 0)
        row.setSpacing(em(1.5))
        self.board, self.file = CutLabel(8), CutLabel(3)
        self.values, self.recording = CutLabel(7, end=True), CutLabel(9.6, end=True)
        self._dressed: dict[QLabel, str] = {}
        for made, name in ((self.board, "Board"), (self.file, "File on show"),
                           (self.values, "Values of the file on show"),
                           (self.recording, "What is being recorded")):
            made.setAccessibleName(name)
            made.setTextFormat(Qt.TextFormat.PlainText)
            row.addWidget(made)
        row.insertStretch(3, 1)
        self.setFixedHeight(em(2.2))
        session.board_state.changed.connect(self._show_board)
        session.saved.changed.connect(self.show_values)
        self._show_board()
        self.show_subject("")

    def show_subject(self, subject: str) -> None:
        """Show which file the page in front is about; "" for none."""
        self.file.setText(file_words(subject))
        self._look(self.file, "" if subject else "quiet")
        self.show_values()

    def show_values(self) -> None:
        """Show whether the values on show are kept."""
        saved = self._session.saved
        self._say(self.values, saving_words(saved.state), VALUES_LOOKS.get(saved.state, "quiet"))
        self.values.setToolTip(str(saved.path) if saved.path is not None else "")

    def _show_board(self) -> None:
        state = self._session.board_state
        self._say(self.board, board_words(state.kind, state.name, state.silent_s),
                  BOARD_LOOKS.get(state.kind, "quiet"))
        recording = state.recording
        self._say(self.recording, "" if recording is None else f"● {recording_words(*recording)}",
                  "grave")

    def _say(self, where: QLabel, text: str, look: str) -> None:
        if where.text() != text:
            where.setText(text)
            where.setVisible(bool(text))
        self._look(where, look)

    def _look(self, where: QLabel, look: str) -> None:
        # Dressing a widget anew costs more than its text; most of the time nothing changed.
        if self._dressed.get(where) != look:
            self._dressed[where] = look
            where.setObjectName(look)
            where.style().unpolish(where)
            where.style().polish(where)
