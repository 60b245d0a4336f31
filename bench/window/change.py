"""A change that can be taken back: every one of the window goes onto one stack."""

from collections.abc import Callable

from PySide6.QtGui import QUndoCommand

# The page on which a change is seen, by the number Qt keeps with it.
PAGES = {1: "decide", 2: "wire_up", 3: "keep"}


class Change(QUndoCommand):
    """A change that is made by `do` and taken back by `undo`; text: what it changes.

    page: on which it is seen: a key of `PAGES`' values.
    """

    def __init__(self, text: str, do: Callable[[], object], undo: Callable[[], object],
                 page: str) -> None:
        super().__init__(text)
        self._do, self._undo = do, undo
        self._page = next(number for number, key in PAGES.items() if key == page)

    def id(self) -> int:
        return self._page

    def mergeWith(self, _other: QUndoCommand) -> bool:
        return False

    def redo(self) -> None:
        self._do()

    def undo(self) -> None:
        self._undo()
