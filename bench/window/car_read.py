"""What a log in the car showed: the verdict first, then everything else, and its plots."""

import pyqtgraph as pg
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QAbstractItemView,
    QGridLayout,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from bench.plots.key_on import KEY_ON_FIGURES, draw_key_on
from bench.services.key_on import KeyOnFindings
from bench.window.contactor_choice import ContactorChoice
from bench.window.finding_view import Said
from bench.window.sentences import SentenceDelegate
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.widgets import button, label
from bench.wording.face import WINDOW
from bench.wording.key_on import forbidding_beside
from bench.wording.key_on_found import CONTACTOR_WORDS, log_sentence
from bench.wording.key_on_sentences import do_not_enter, do_not_keep
from bench.wording.key_on_verdict import verdict_text
from bench.wording.pages.in_car import USE_TIP
from bench.wording.reasons import in_words
from bench.wording.sweep import sentences


class CarRead(QWidget):
    """Show a judged log. used, copied: its buttons; stated: the contactor was told later."""

    used = Signal()
    copied = Signal()

    def __init__(self) -> None:
        super().__init__()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(em(0.8))
        left = QVBoxLayout()
        self.of_log = label("", "head")
        self.of_log.setAccessibleName("What this log says of the contactor")
        left.addWidget(self.of_log)
        self.stated = ContactorChoice()
        left.addWidget(self.stated)
        self.sentences = QListWidget()
        self.sentences.setAccessibleName("What the log shows, the verdict first")
        self.sentences.setWordWrap(True)
        self.sentences.setItemDelegate(SentenceDelegate(self.sentences))
        self.sentences.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.sentences.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        left.addWidget(self.sentences, 1)
        buttons = QHBoxLayout()
        self.use = button("&Use the allowance of this log", self.used.emit,
                          tip=USE_TIP)
        buttons.addWidget(self.use)
        buttons.addWidget(button("Copy", self.copied.emit, tip="Copy all of it as text"))
        buttons.addStretch(1)
        left.addLayout(buttons)
        row.addLayout(left, 2)
        grid = QGridLayout()
        grid.setSpacing(em(0.65))
        self.views = {}
        for place, (name, (title, _)) in enumerate(KEY_ON_FIGURES.items()):
            view = pg.GraphicsLayoutWidget()
            view.setAccessibleName(title)
            view.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            view.plot = view.addPlot(enableMenu=False)
            self.views[name] = view
            grid.addWidget(view, min(place, 1), max(place - 1, 0), 1, 2 if not place else 1)
        row.addLayout(grid, 3)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin; the plots must be drawn again."""
        for view in self.views.values():
            view.setBackground(QColor(skin.look.background))

    def show_log(self, found: KeyOnFindings, holds: bool, skin: Skin) -> None:
        """Show a log; holds: whether it has its tick, for green stands nowhere else."""
        self.of_log.setText(f"Contactor at these key-ons: {CONTACTOR_WORDS[found.contactor]}")
        # A word in the header stands; a log without one may be told later.
        self.stated.setVisible("contactor" not in found.recording.extra)
        self.stated.show_choice(found.contactor)
        self.sentences.clear()
        levels = {verdict_text(found, WINDOW): 3 if found.verdict.applied else 0 if holds else 1,
                  **{text: f.gravity for f in found.forbidding
                     for text in sentences((f,), WINDOW)},
                  **{log_sentence(f, WINDOW): f.gravity for f in found.found if f.gravity > 1}}
        if found.verdict.applied:
            levels[do_not_enter(found)] = 3
        elif found.noisy:
            levels[do_not_keep(found)] = 2
        for text in (*told(found), *(in_words(note, WINDOW) for note in found.notes)):
            item = QListWidgetItem(text)
            item.setData(Qt.ItemDataRole.UserRole, Said(levels.get(text, 1), text, ""))
            self.sentences.addItem(item)
        look = skin.look.small()
        for name, view in self.views.items():
            draw_key_on(name, view.plot, found, look)


def told(found: KeyOnFindings) -> tuple[str, ...]:
    """Return what forbids driving, then what the log shows."""
    return forbidding_beside(sentences(found.forbidding, WINDOW), found, WINDOW)
