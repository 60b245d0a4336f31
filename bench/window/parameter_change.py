"""A change of parameters that can be taken back and done again."""

import time
from collections.abc import Callable, Mapping

from PySide6.QtGui import QUndoCommand

from bench.window.change import Change
from bench.wording.parameters import WORDS

# Changes of one parameter that follow each other as fast as this are one: the way of a slider.
ONE_S = 0.8


class ParameterChange(Change):
    """A change that was made already: from the values `before` to those of `after`, by name."""

    def __init__(self, put: Callable[[Mapping[str, object]], object],
                 before: Mapping[str, object], after: Mapping[str, object]) -> None:
        super().__init__(WORDS[next(iter(after))].label if len(after) == 1 else "parameters",
                         lambda: put(self.after), lambda: put(before), "decide")
        self.after = after
        self.at_s = time.monotonic()
        self._made = True

    def redo(self) -> None:
        if self._made:
            self._made = False
            return
        super().redo()

    def mergeWith(self, other: QUndoCommand) -> bool:
        """Take in a change of the same parameter that followed at once."""
        assert isinstance(other, ParameterChange)
        if len(self.after) > 1 or set(other.after) != set(self.after) or (
                other.at_s - self.at_s > ONE_S):
            return False
        self.after, self.at_s = other.after, other.at_s
        return True
