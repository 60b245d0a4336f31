"""Which folder the job lies in: typed, chosen or made; and what lies in it without counting."""

from functools import partial
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from bench.services.proof import Proofs
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import button, label
from bench.wording.face import WINDOW
from bench.wording.pages import proof as words
from bench.wording.proof import damaged_words, unlisted_words


class JobBar(QWidget):
    """The folder of the job; `opened(folder)`, `make(folder)` and `wanted(file name)` ask."""

    opened = Signal(object)
    make = Signal(object)
    wanted = Signal(str)

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self._unlisted: tuple[str, ...] = ()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        row = QHBoxLayout()
        row.setSpacing(em(0.6))
        named = label("Jo&b's folder")
        self.field = QLineEdit()
        self.field.setAccessibleName("Folder of the job")
        self.field.returnPressed.connect(self._typed)
        named.setBuddy(self.field)
        self.choose_button = button("&Choose…", self.choose, name="Choose the folder of the job")
        for made in (named, self.field, self.choose_button):
            row.addWidget(made, int(made is self.field))
        column.addLayout(row)
        row = QHBoxLayout()
        self.note = label("", "mend", wrap=True)
        self.note.setAccessibleName("What is the matter with the folder")
        self.take_in = button("&Take it in", lambda: self.wanted.emit(self._unlisted[0]))
        row.addWidget(self.note, 1)
        row.addWidget(self.take_in)
        column.addLayout(row)
        self.show_notes(None)

    def choose(self) -> None:
        """Ask for the folder; the dialog can make a new one."""
        chosen = QFileDialog.getExistingDirectory(
            self, "Folder of the job", self.field.text() or str(Path.home()))
        if chosen:
            self.opened.emit(Path(chosen))

    def show_notes(self, proofs: Proofs | None) -> None:
        """Say what lies in the folder and does not count."""
        self._unlisted = () if proofs is None else proofs.unlisted
        said = [f"▲ {unlisted_words(self._unlisted, WINDOW)}."] if self._unlisted else []
        if proofs is not None and proofs.damaged:
            said.append(f"{damaged_words(proofs.damaged)}.")
        self.note.setText(" ".join(said))
        self.note.setVisible(bool(said))
        self.take_in.setVisible(bool(self._unlisted))

    def _typed(self) -> None:
        text = self.field.text().strip()
        folder = Path(text).expanduser()
        if not text:
            self.choose()
        elif folder.is_dir():
            self.opened.emit(folder)
        else:
            self.session.asked.emit(words.make_it(str(folder)), (
                ("Make it", partial(self.make.emit, folder)), ("Cancel", lambda: None)))
