"""The log in the car while it runs: what to do with the key, the verdict so far, every track."""

import math
import time
from dataclasses import replace

from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QHBoxLayout,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from bench.services.car_live import CarNow
from bench.services.key_on import OFF_S, ON_S, Capture, disk_left
from bench.window.loud_line import LoudLine
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.track_scale import TrackScale
from bench.window.widgets import Card, Folding, button, label
from bench.wording.car_live import (
    BELOW,
    LEAVE_OFF,
    LEAVE_ON,
    TURN_OFF,
    TURN_ON,
    WAITING,
    verdict_words,
)
from bench.wording.limb import FOOT, HAND, Limb
from bench.wording.pages import in_car as page
from bench.wording.pages import shared
from bench.wording.state_bar import HARD

KINDS = {"waiting": "quiet", "open": "mend", "passed": "grave"}
BEEP_S, DISK_S = 1.0, 2.0


class CarLiveView(QWidget):
    """Show a running log, to be read from the driver's seat."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session, self.link = session, session.bench.link
        self.beeped = self._disk_at = 0.0
        self._disk = ""
        self.cycles = 0
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(em(0.8))
        card = Card()
        # What is read from the driver's seat has all the room there is.
        card.body.setContentsMargins(em(0.8), em(0.4), em(0.8), em(0.4))
        card.body.setSpacing(em(0.3))
        self.doing = LoudLine(page.LOUD_LINE,
                              (TURN_ON, LEAVE_ON, TURN_OFF, LEAVE_OFF,
                               FOOT.rests_off, HAND.rests_off))
        self.verdict = LoudLine("The verdict so far", (WAITING, BELOW))
        card.body.addWidget(self.doing)
        card.body.addWidget(self.verdict)
        self._scales_room = QVBoxLayout()
        card.body.addLayout(self._scales_room, 1)
        self.scales: list[TrackScale] = []
        column.addWidget(card, 1)
        self.cycle = label("", "mid")
        self.cycle.setAccessibleName("Key cycle")
        self.state = label("", "quiet")
        self.state.setAccessibleName("How the log stands")
        self.state.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.sound = QCheckBox("&Sound when passed")
        self.sound.setToolTip(page.SOUND_TIP)
        self.sound.setChecked(session.preferences.value("car/sound", "true") == "true")
        self.sound.toggled.connect(lambda on: session.preferences.setValue(
            "car/sound", "true" if on else "false"))
        self.mark = button("&Mark the key", self._enter,
                           tip=page.MARK_TIP)
        self.now = button("Start it &now", self._enter,
                          tip=page.NOW_TIP)
        # Far from the button that started it: a second press there must not stop it.
        self.stop = button("Stop and &read", self.link.stop)
        self.foot = Folding(_in_a_row(self.cycle, self.state, stretched=self.state),
                            _in_a_row(self.sound, self.mark, self.now, self.stop))
        column.addWidget(self.foot)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        for widget in (self.doing, self.verdict):
            widget.apply_theme(skin)
        for scale in self.scales:
            scale.skin = skin
            scale.update()

    def begin(self, cycles: int) -> None:
        """Begin with a new log that ends after so many key-ons; nothing of the last one stays."""
        self.cycles = cycles
        self._fit(0)
        self.doing.say("")
        self.verdict.say(WAITING, kind="quiet")
        self.cycle.setText(page.key_cycle(0, cycles))

    def show_now(self, now: CarNow, words: str) -> None:
        """Show how the log stands; words: the last that the logger said."""
        fresh = self.session.board_state.fresh
        if now.state == "below" and not fresh:
            # What the key does meanwhile nobody sees: what was below so far is no verdict on it.
            now = replace(now, state="open", why=(("no readings now", {}),))
        if len(self.scales) != len(now.tracks):
            self._fit(len(now.tracks))
        for scale, track in zip(self.scales, now.tracks, strict=True):
            scale.show_now(track, fresh)
        log = self.link.log
        waits = log is None or not log.logging
        if self.link.lost:
            self.doing.say(shared.LOST, f"{self.session.board_state.silent_s:.0f} s", "grave")
        else:
            self.doing.say(*_doing(now, self.session.limb))
        passed = tuple(t.line.column for t in now.tracks if t.passed)
        figure = (f"key-on {now.first_passed}" if passed else "")
        self.verdict.say(verdict_words(now.state, now.why, passed), figure,
                         KINDS.get(now.state, ""))
        self._sound(now)
        self.tell(log, waits, now, words)

    def tell(self, log: Capture | None, waits: bool, now: CarNow, words: str) -> None:
        self.now.setVisible(waits)
        self.mark.setVisible(not waits and now.key_on is None)
        self.foot.fold()
        turned = log.key_ons if log is not None else 0
        cycle = page.key_cycle(turned, self.cycles)
        if self.cycle.text() != cycle:
            self.cycle.setText(cycle)
        text = words
        if log is not None and not waits and log.writer is not None:
            seconds = time.monotonic()
            if seconds - self._disk_at > DISK_S:
                self._disk_at = seconds
                self._disk = f"{disk_left(log.path) / 1e9:.0f}{HARD}GB free"
            text = f"{log.writer.bytes_written / 1e6:.1f}{HARD}MB, {self._disk}"
        elif log is not None and waits:
            text = page.waits_for(log.waits_for)
        if self.state.text() != text:
            self.state.setText(text)

    def _sound(self, now: CarNow) -> None:
        seconds = time.monotonic()
        if now.state == "passed" and self.sound.isChecked() and seconds - self.beeped > BEEP_S:
            self.beeped = seconds
            QApplication.beep()

    def _fit(self, count: int) -> None:
        while len(self.scales) > count:
            old = self.scales.pop()
            self._scales_room.removeWidget(old)
            old.hide()
            old.deleteLater()
        while len(self.scales) < count:
            made = TrackScale(self.session.skin)
            self.scales.append(made)
            self._scales_room.addWidget(made)

    def _enter(self) -> None:
        if self.link.log is not None:
            self.link.log.enter()


def _in_a_row(*made: QWidget, stretched: QWidget | None = None) -> QWidget:
    whole = QWidget()
    row = QHBoxLayout(whole)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(em(0.8))
    for each in made:
        row.addWidget(each, int(each is stretched))
    return whole


def _doing(now: CarNow, of: Limb) -> tuple[str, str]:
    """Return what to do with the key, and the seconds left of it."""
    if now.key_on is None:
        return of.rests_off, ""
    if math.isnan(now.since_s):
        return (TURN_OFF, "") if now.key_on else (TURN_ON, "")
    left = (ON_S if now.key_on else OFF_S) - now.since_s
    if left <= 0.0:
        return (TURN_OFF, "") if now.key_on else (TURN_ON, "")
    return LEAVE_ON if now.key_on else LEAVE_OFF, f"{math.ceil(left)} s"
