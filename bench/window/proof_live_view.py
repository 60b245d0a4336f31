"""While a proof is recorded: the seconds left, what comes next, the inputs, the buttons."""

import math
import time

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from bench.services.proof import ProofGuide, ProofPrompt
from bench.window.live import volts_of
from bench.window.live_plots import LiveNumbers
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.widgets import Card, button, label
from bench.wording.face import WINDOW
from bench.wording.limb import FOOT, Limb
from bench.wording.pages.proof import (
    BY_HAND,
    changed_words,
    noted_words,
    so_far_words,
    step_of,
    then_words,
)
from bench.wording.proof import prompt_words

# Who stops so soon may have pressed by mistake.
SOON_S = 2.0


def words_of(prompt: ProofPrompt, of: Limb) -> str:
    """Return what a prompt asks, as the window says it; of: what works the pedal."""
    return prompt_words(prompt.code, prompt.leads, prompt.place, prompt.ohms, WINDOW, of)


class ProofLiveView(QWidget):
    """What stands below the prompt while a proof runs."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session, self.link = session, session.bench.link
        self._prompts: tuple[ProofPrompt, ...] = ()
        self._began = 0.0
        self.limb: Limb = FOOT
        self._channels: object = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(em(0.8))
        card = Card()
        self.at = label("", "quiet")
        self.at.setAccessibleName("Which prompt of how many")
        self.changed = label("", "mid", wrap=True)
        self.changed.setAccessibleName("What is changed in the wiring now")
        self.left_s = label("", "huge")
        self.left_s.setAccessibleName("Seconds left of this prompt")
        self.following = label("", "mid", wrap=True)
        self.following.setAccessibleName("What comes next")
        card.body.addWidget(self.at)
        card.body.addWidget(self.changed)
        card.body.addWidget(self.left_s)
        card.body.addWidget(self.following)
        card.body.addStretch(1)
        self.by_hand = label(BY_HAND, "mend", wrap=True)
        card.body.addWidget(self.by_hand)
        row = QHBoxLayout()
        row.setSpacing(em(0.8))
        self.stays = button("Power stays &on", lambda: self._say("on", self.stays),
                            name="Say that power stays on with this wire changed")
        self.stopped = button("&Power stopped", lambda: self._say("off", self.stopped),
                              name="Say that power stopped with this wire changed")
        self.runs = button("It &runs", lambda: self._say("on", self.runs),
                           name="Say that you see or hear this consumer run")
        for made in (self.stays, self.stopped, self.runs):
            made.setObjectName("choice")
            made.setMinimumHeight(em(3.6))
            row.addWidget(made, 1)
        card.body.addLayout(row)
        self.noted = label("", "know")
        self.noted.setAccessibleName("What was noted in the log")
        card.body.addWidget(self.noted)
        column.addWidget(card, 1)
        last = QHBoxLayout()
        last.setSpacing(em(0.8))
        self.numbers = LiveNumbers()
        # Far from the button that started it: a second press there must not stop it.
        self.stop = button("Stop and &keep", self.ask_stop)
        last.addWidget(self.numbers, 1)
        last.addWidget(self.stop)
        column.addLayout(last)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        self.numbers.apply_theme(skin)

    def begin(self, prompts: tuple[ProofPrompt, ...], by_hand: bool) -> None:
        """Begin a new proof; by_hand: no input shows power, the person says what it did."""
        self._prompts, self._began, self._channels = prompts, time.monotonic(), None
        self.noted.setText("")
        for made in (self.by_hand, self.stays, self.stopped, self.noted):
            made.setVisible(by_hand)
        self.show_prompt(None, None)

    def show_prompt(self, prompt: ProofPrompt | None, guide: ProofGuide | None) -> None:
        """Show which prompt it is and what comes after it."""
        loaded = prompt is not None and prompt.code == "load on"
        self.runs.setVisible(loaded)
        self.noted.setVisible(loaded or self.by_hand.isVisibleTo(self))
        if prompt is None or guide is None:
            self.at.setText("")
            self.following.setText("")
            self.changed.setText("")
            return
        self.at.setText(step_of(guide.place + 1, len(self._prompts)))
        before = self._prompts[guide.place - 1] if guide.place else None
        self.changed.setText(changed_words(
            "" if before is None or prompt.code != "try it" else before.code, prompt.leads))
        after = self._prompts[guide.place + 1: guide.place + 2]
        self.following.setText(then_words(words_of(after[0], self.limb) if after else ""))
        self.noted.setText("")

    def paint_now(self) -> None:
        """Show the seconds left and the newest readings; the page's timer calls this."""
        guide = self.link.lead
        left = None if guide is None else guide.left_s
        text = (f"{math.ceil(left)} s" if left is not None else
                "" if guide is None else so_far_words(guide.since_s))
        if self.left_s.text() != text:
            self.left_s.setText(text)
        source = self.link.source
        channels = () if source is None else source.channels
        if channels is not self._channels:
            self._channels = channels
            self.numbers.begin(channels)
        volts = None
        for piece in self.link.take():
            if piece.readings.shape[1] == len(channels) > 0:
                volts = volts_of(channels, piece.readings[-1:])[-1]
        self.numbers.show_level(volts, self.session.board_state.fresh)

    def ask_stop(self) -> None:
        """End the recording; asks when it has only just begun."""
        if time.monotonic() - self._began < SOON_S:
            self.session.asked.emit("Stop already? It has only just begun, and goes on while you "
                                    "think.", (("Stop it", self.link.stop),
                                               ("Go on", lambda: None)))
            return
        self.link.stop()

    def _say(self, word: str, made: QPushButton) -> None:
        if self.link.lead is not None:
            self.link.lead.enter(word)
            self.noted.setText(noted_words(made.text().replace("&", "").lower()))
