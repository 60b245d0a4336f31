"""What a page is: a widget that also says what is to be done now and where it stands."""

from dataclasses import dataclass

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from bench.window.session import Session
from bench.window.skin import Skin


@dataclass(frozen=True)
class Now:
    """Hold the sentence of the moment and the button that does it ("" for none).

    loud: to be read from the pedal, two steps away from the screen.
    """

    text: str
    more: str = ""
    action: str = ""
    enabled: bool = True
    loud: bool = False


class Page(QWidget):
    """Base of all pages; `now_changed` asks the window to show `now()` and `standing()` again."""

    title = ""
    now_changed = Signal()
    go_to = Signal(str)

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.setObjectName("page")
        self.session = session
        self.setAccessibleName(self.title)
        self._stale = True

    def now(self) -> Now:
        """Return what is to be done now on this page."""
        return Now("")

    def act(self) -> None:
        """Do what the button of `now` says."""

    def standing(self) -> tuple[str, bool]:
        """Return one line on where the page stands, and whether it is done."""
        return "", False

    def wear(self, skin: Skin) -> None:
        """Take on a skin; what is painted by hand is painted again."""

    def shown(self) -> None:
        """Called when the page comes to the front: what changed meanwhile is shown."""
        self._refresh()

    def _changed(self) -> None:
        """Note that what the page shows is out of date; show it anew only when it is in front."""
        self._stale = True
        if self.isVisible():
            self._refresh()
        self.now_changed.emit()

    def _refresh(self) -> None:
        """Show what changed; pages that show findings do."""

    def left(self) -> None:
        """Called when another page comes to the front."""
