"""What the person at the car is asked to do for each proof, and the marks that go beside it.

Pure: no clock, no port. A prompt that takes the time it takes waits for Enter; one whose length is
known goes on by itself. What a mark means to the analysis: analysis/proof/steps.py.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from analysis.proof.steps import (
    GROUND,
    LOAD_RESTS,
    LOAD_RUNS,
    POWER_ON,
    POWER_STOPPED,
    SUPPLY,
    mark_of,
)
from bench.acquisition.listener import Listener, Rows, Source
from bench.acquisition.recorder import Recorder

TASKS = ("wires", "shake", "warm", "loads", "drive")
PLACES = ("the pedal box", "the plug", "the controller")
LOADS = ("contactor", "fans", "lights", "brake light", "wipers")
CHANGE_S, SHAKE_S, SWITCH_S, STILL_S = 3.0, 6.0, 10.0, 5.0
DONE = "done"
# Two leads, and the ohms through which they are joined.
Short = tuple[tuple[str, str], float]


@dataclass(frozen=True)
class ProofPrompt:
    """Hold one prompt. code: which words; leads, place: what they speak of.

    mark: put beside the next row as it is shown. seconds: how long, None: until Enter. ohms: of
    the resistor that joins two leads.
    """

    code: str
    mark: str
    leads: tuple[str, ...] = ()
    place: str = ""
    seconds: float | None = None
    ohms: float = float("nan")


def prompts_of(task: str, tracks: tuple[str, ...],
               loads: tuple[str, ...] = LOADS,
               shorts: tuple[Short, ...] = ()) -> tuple[ProofPrompt, ...]:
    """Return the prompts of a proof in order; tracks: the columns; raise KeyError on no such task.

    shorts: leads to be joined as well, each pair with the ohms of its resistor.
    """
    return {"wires": lambda: _wires(tracks, shorts), "shake": lambda: _shake(tracks),
            "warm": _warm, "loads": lambda: _loads(loads), "drive": _drive}[task]()


def _wires(tracks: tuple[str, ...], shorts: tuple[Short, ...]) -> tuple[ProofPrompt, ...]:
    result = [ProofPrompt("as wired", mark_of("as wired"))]
    changes: list[tuple[str, tuple[str, ...], float]] = [
        ("open", (lead,), math.nan) for lead in (*tracks, SUPPLY, GROUND)]
    changes += [("short", pair, ohms) for pair, ohms in shorts]
    for kind, leads, ohms in changes:
        result += [ProofPrompt(f"make {kind}", DONE, leads, ohms=ohms),
                   ProofPrompt("try it", mark_of(kind, leads), leads)]
    return (*result, ProofPrompt("put back", DONE))


def _shake(tracks: tuple[str, ...]) -> tuple[ProofPrompt, ...]:
    result = []
    for lead in (*tracks, SUPPLY, GROUND):
        for place in PLACES:
            result += [ProofPrompt("take hold", DONE, (lead,), place, CHANGE_S),
                       ProofPrompt("shake", mark_of("shake", (lead,), place), (lead,), place,
                                   SHAKE_S)]
    return (*result, ProofPrompt("sideways", mark_of("sideways"), seconds=SHAKE_S),
            ProofPrompt("over", DONE, seconds=1.0))


def _warm() -> tuple[ProofPrompt, ...]:
    return (ProofPrompt("warm", mark_of("warm")), ProofPrompt("cool", mark_of("cool")),
            ProofPrompt("over", DONE, seconds=1.0))


def _loads(loads: tuple[str, ...]) -> tuple[ProofPrompt, ...]:
    result = []
    for load in loads:
        result += [ProofPrompt("load off", mark_of("load", (load,)), (load,), seconds=STILL_S),
                   ProofPrompt("load on", mark_of("load", (load,), on=True), (load,),
                               seconds=SWITCH_S),
                   ProofPrompt("load off", mark_of("load", (load,)), (load,), seconds=SWITCH_S)]
    return (*result, ProofPrompt("over", DONE, seconds=1.0))


def _drive() -> tuple[ProofPrompt, ...]:
    cold, warm = (ProofPrompt("key-ons", mark_of("key-ons", (when,)), (when,))
                  for when in ("cold", "warm"))
    return (cold, ProofPrompt("stand", DONE, seconds=STILL_S),
            ProofPrompt("drive", mark_of("drive")), warm, ProofPrompt("over", DONE, seconds=1.0))


class ProofGuide(Listener):
    """Lead through the prompts: show each, mark it, and stop behind the last one.

    script: (seconds, mark) of a simulated car, which hears no prompt: its own times are followed.
    """

    vital = True

    def __init__(self, prompts: tuple[ProofPrompt, ...], show: Callable[[ProofPrompt], None],
                 script: tuple[tuple[float, str], ...] | None = None) -> None:
        self.recorder: Recorder | None = None
        self.place = 0
        self._prompts = prompts
        self._show = show
        self._script = script
        self._since = 0.0
        self._now = 0.0
        self._typed: list[str] = []

    @property
    def prompt(self) -> ProofPrompt | None:
        """Return what is asked now; None before the first and behind the last."""
        return self._prompts[self.place] if self.place < len(self._prompts) else None

    @property
    def left_s(self) -> float | None:
        """Return the seconds left of a prompt of known length."""
        prompt = self.prompt
        if prompt is None or prompt.seconds is None:
            return None
        return max(0.0, prompt.seconds - (self._now - self._since))

    @property
    def since_s(self) -> float:
        """Return for how long the prompt has stood, seconds."""
        return self._now - self._since

    def enter(self, text: str = "") -> None:
        """Take what was typed; thread-safe.

        Nothing goes on; "on" or "off" says what power did, or whether the consumer runs.
        """
        self._typed.append(text.strip().lower())

    def started(self, source: Source) -> None:
        """Show the first prompt."""
        self._ask()

    def rows(self, rows: Rows) -> None:
        """Go on by the time of these rows, or by what was typed."""
        self._now = float(rows.time_s[-1])
        if self._script is not None:
            self._follow()
            return
        while self._typed:
            self._take(self._typed.pop(0))
        prompt = self.prompt
        if prompt is not None and prompt.seconds is not None and not self.left_s:
            self._on()

    def _take(self, text: str) -> None:
        assert self.recorder is not None
        if text in ("on", "off"):
            of_load = self.prompt is not None and self.prompt.code.startswith("load")
            yes, no = (LOAD_RUNS, LOAD_RESTS) if of_load else (POWER_ON, POWER_STOPPED)
            self.recorder.mark(yes if text == "on" else no)
        elif text:
            self.recorder.mark(f"note: {text}")
        elif self.prompt is not None and self.prompt.seconds is None:
            self._on()

    def _follow(self) -> None:
        """Mark what the simulated car did by now."""
        assert self._script is not None
        assert self.recorder is not None
        while self._script and self._script[0][0] <= self._now:
            (_, mark), self._script = self._script[0], self._script[1:]
            self.recorder.mark(mark)
            at = next((k for k, p in enumerate(self._prompts[self.place:], self.place)
                       if p.mark == mark), None)
            if at is not None:
                self.place, self._since = at, self._now
                self._show(self._prompts[at])

    def _on(self) -> None:
        self.place += 1
        if self.place >= len(self._prompts):
            if self.recorder is not None:
                self.recorder.stop()
            return
        self._ask()

    def _ask(self) -> None:
        self._since = self._now
        if self._script is not None:
            self._follow()
            return
        assert self.recorder is not None
        prompt = self._prompts[self.place]
        self.recorder.mark(prompt.mark)
        self._show(prompt)
