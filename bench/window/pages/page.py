"""What a page is: a widget that also says what is to be done now and where it stands.

Rule: a page never shows a value of another recording. When it cannot show the opened one it is
empty, says so, and offers nothing to press.
"""

import sys
from dataclasses import dataclass
from typing import NamedTuple

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from bench.window.finding_view import car_judged_others, car_trouble, must_mend
from bench.window.session import Session
from bench.window.theme import Skin
from bench.wording.actions import LABELS, Action
from bench.wording.face import first_sentence
from bench.wording.pages import shared
from bench.wording.window_told import CANNOT_SHOW


@dataclass(frozen=True)
class NextStep:
    """Hold the sentence of the moment and what its button does ("" for no button).

    loud: to be read from the pedal, two steps away from the screen.
    """

    text: str
    more: str = ""
    action: Action = ""
    enabled: bool = True
    loud: bool = False

    @property
    def label(self) -> str:
        """Return what stands on the button."""
        return LABELS[self.action]


class PageStatus(NamedTuple):
    """Hold one line on where a page stands, and whether it is done: its tick in the sidebar."""

    text: str
    done: bool



class Page(QWidget):
    """Base of all pages; `step_changed` asks the window for `next_step()` and `status()` again."""

    # key: what code and the preferences call the page, whatever its title says.
    key = title = ""
    step_changed = Signal()
    go_to = Signal(str)
    # What had the focus is done with: the window gives it to the next step.
    focus_next = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.setObjectName("page")
        self.session = session
        self.setAccessibleName(self.title)
        self._stale = True
        self._of: object = None
        self.wrong = self._reported = ""

    def next_step(self) -> NextStep:
        """Return what is to be done next on this page."""
        return NextStep("")

    def act(self) -> None:
        """Do what the button of `next_step` says."""

    def status(self) -> PageStatus:
        """Return one line on where the page stands, and whether it is done."""
        return PageStatus("", False)

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin; what is painted by hand is painted again."""

    def shown(self) -> None:
        """Called when the page comes to the front: what changed meanwhile is shown."""
        self._refresh()

    def _changed(self) -> None:
        """Note that what the page shows is out of date; show it anew only when it is in front."""
        self._stale = True
        if self.isVisible():
            self._refresh()
        self.step_changed.emit()

    def safe_next_step(self) -> NextStep:
        """Return `next_step()`, or what keeps the page from showing the opened recording."""
        if self.wrong:
            return NextStep(CANNOT_SHOW, self.wrong)
        try:
            return self.next_step()
        except Exception as error:
            self._report(error)
            return NextStep(shared.CANNOT_SHOW_STEP, _one_line(error))

    def safe_status(self) -> PageStatus:
        """Return `status()`; never a tick on a page that cannot show the recording."""
        if not self.wrong:
            try:
                return self.status()
            except Exception as error:
                self._report(error)
        return PageStatus("cannot be shown", False)

    def subject(self) -> str:
        """Return the name of the recording that the page shows, "" for none."""
        return ""

    def _refresh(self) -> None:
        """Show what changed; whatever goes wrong, nothing of any recording stays on the page."""
        if not self._stale:
            return
        self._stale, self.wrong = False, ""
        findings = self.session.findings
        recording = findings.recording if findings is not None else None
        try:
            if recording is not self._of:
                self._empty()
            self._of = recording
            self._fill()
        except Exception as error:
            self._of = None
            self.wrong = shared.cannot_show(_one_line(error))
            self._empty()
            self.session.trouble(shared.page_fails(self.title, self.wrong))
            self._report(error)

    def _report(self, error: Exception) -> None:
        """Tell whoever can fix it where it happened, on the terminal, once; tests fail on it."""
        if repr(error) != self._reported:
            self._reported = repr(error)
            sys.excepthook(type(error), error, error.__traceback__)

    def _fill(self) -> None:
        """Show the findings on show; pages that show findings do."""

    def _empty(self) -> None:
        """Take every value of a recording off the page; must not fail."""

    def left(self) -> None:
        """Called when another page comes to the front."""

    def first_focus(self) -> QWidget | None:
        """Return the field in which the next step is done, None where the large button does it."""
        return None

    def catch_up(self) -> None:
        """Called once, after the page was made: show what the session told before it was there.

        A page is made when it is first wanted, maybe long after a board was connected.
        """

    def prepare(self) -> None:
        """Called when nothing else is to do: make beforehand what the first recording needs."""

    def shut(self) -> None:
        """Called when the window closes: let go of what is held beside the session."""


def car_step(session: Session) -> NextStep | None:
    """Return what a log of this pedal in its car forbids, before any value is entered; or None."""
    findings, log = session.findings, session.key_on
    said = car_trouble(findings, log)
    if not said or findings is None or log is None:
        return None
    first, rest = first_sentence(said[0].text)
    mend = must_mend(findings)
    if mend:
        return NextStep(f"{first}.", mend, "sweep again")
    more = [said[1].text if len(said) > 1 else rest]
    others = car_judged_others(findings, log)
    if others:
        more.append(shared.NOT_JUDGED_YET)
    return NextStep(f"{first}.", " ".join(m for m in more if m),
                    "judge log again" if others else "to the log")


def act_on_car(page: Page, action: Action) -> bool:
    """Do what the button of `car_step` says; False when it is another page's button."""
    if action == "judge log again" and page.session.key_on is not None:
        page.session.judge_key_on(page.session.key_on.contactor)
    elif action == "to the log":
        page.go_to.emit("in_car")
    return action in ("judge log again", "to the log")


def car_status(session: Session) -> str:
    """Return the word on the rail for what the log in the car forbids, "" for nothing."""
    said = car_trouble(session.findings, session.key_on)
    return said[0].word if said else ""


def _one_line(error: Exception) -> str:
    return " ".join(f"{type(error).__name__}: {error}".split())


def on_show(session: Session) -> str:
    """Return the names of the opened recording and of the one under it, "" for none."""
    if session.findings is None:
        return ""
    name = session.path.name if session.path else session.findings.recording.title or "not saved"
    return f"{name}, before it: {session.before_path.name}" if session.before_path else name
