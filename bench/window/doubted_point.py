"""The question about a point that does not belong: left out, or looked at again and right."""

from collections.abc import Callable, Sequence

from PySide6.QtWidgets import QHBoxLayout, QWidget

from bench.window.widgets import button
from bench.wording.pages.senders import is_right, leave_out


class DoubtedPoint(QWidget):
    """Two answers in a row, shown only while there is something to ask.

    answer: called with True where the point is right, False where it is to be left out.
    """

    def __init__(self, answer: Callable[[bool], object]) -> None:
        super().__init__()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        self.leave_button = button(leave_out(()), lambda: answer(False))
        self.right_button = button(is_right(()), lambda: answer(True))
        row.addWidget(self.leave_button)
        row.addWidget(self.right_button)
        row.addStretch(1)
        self.hide()

    def ask(self, numbers: Sequence[int]) -> None:
        """Ask about these points (numbers from 1); about none hides the question."""
        self.leave_button.setText(leave_out(numbers))
        self.right_button.setText(is_right(numbers))
        for made in (self.leave_button, self.right_button):
            made.setAccessibleName(made.text())
        self.setVisible(bool(numbers))
