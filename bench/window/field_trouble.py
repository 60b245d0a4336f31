"""What is wrong with one field, said beside it, until its value is another."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractSpinBox, QComboBox, QLabel, QLineEdit, QWidget

from bench.window.sizes import em
from bench.wording.in_window import in_window


class FieldTrouble(QLabel):
    """A line below or beside a field; put it into the layout next to that field.

    It keeps its room when it says nothing, so that nothing moves when it speaks. As soon as the
    field's value changes it is silent again: old trouble never stays. lines: how many lines of
    room it keeps, 0 where it may take room when it comes.
    """

    def __init__(self, field: QWidget, lines: int = 1) -> None:
        super().__init__()
        self.field = field
        self.setObjectName("grave")
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setAccessibleName(f"What is wrong with: {field.accessibleName()}")
        self.setMinimumHeight(em(1.3 * lines))
        # Never shown here: without a parent yet it would be a window, and take the keys with it.
        if not lines:
            self.hide()
        self._keeps_room = bool(lines)
        if isinstance(field, QComboBox):
            field.currentTextChanged.connect(self.clear)
        elif isinstance(field, QLineEdit):
            field.textChanged.connect(self.clear)
        elif isinstance(field, QAbstractSpinBox):
            inner = field.lineEdit()
            if inner is not None:
                inner.textChanged.connect(self.clear)

    def say(self, text: str, focus: bool = True) -> None:
        """Say what is wrong with the field; focus: and put the cursor there."""
        text = in_window(text)
        self.setText(text)
        self.setVisible(True)
        self._mark(text)
        if focus:
            self.field.setFocus()

    def clear(self, *_value: object) -> None:
        """Say nothing any more: the trouble is solved, or the value is another."""
        if self.text():
            self.setText("")
            self.setVisible(self._keeps_room)
            self._mark("")

    @property
    def wrong(self) -> bool:
        """Say whether something is wrong with the field."""
        return bool(self.text())

    def _mark(self, text: str) -> None:
        self.field.setProperty("wrong", bool(text))
        self.field.setAccessibleDescription(text)
        self.field.style().unpolish(self.field)
        self.field.style().polish(self.field)
