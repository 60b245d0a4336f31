"""What is seen while recording: a bar and live numbers, on stderr; plain lines without a screen."""

import shutil
import sys
import threading
import time
from collections.abc import Mapping
from typing import TextIO

import numpy as np

from bench.services.live_levels import live_levels
from bench.services.record import Guide, Listener, Plan, Prompt, Rows, Source
from bench.wording.face import TERMINAL
from bench.wording.live import live_line

_EVERY_S = 0.1
# Cells of the bar on a screen of 80 columns; both tracks' volts fit beside it.
_BAR = 10


class Progress(Listener):
    """Show the prompt, a bar, the time, and volts of every channel.

    plan: None for a recording without an end. guide: who follows the plan. said: of the pedal, by
    key of the header: a rheostat is shown in ohms. plain_every_s: between lines where there is no
    screen and no prompt.
    """

    plain_every_s = 10.0

    def __init__(self, plan: Plan | None = None, stream: TextIO | None = None,
                 said: Mapping[str, object] | None = None) -> None:
        self._said = said or {}
        self._stream = stream or sys.stderr
        self._screen = self._stream.isatty()
        self._plan = plan
        self.guide: Guide | None = None
        self._prompt: Prompt | None = None
        self._source: Source | None = None
        self._volts: list[float] = []
        self._time_s = 0.0
        self._drawn = self._lined = 0.0
        self._width = 0
        self._lock = threading.Lock()

    def show(self, prompt: Prompt) -> None:
        """Show a new prompt; the guide calls this."""
        self._prompt = prompt
        if not self._screen:
            self.say(f"{self._time_s:6.1f} s  {prompt.words}{self._numbers()}")

    def say(self, text: str) -> None:
        """Print a whole line and go on below it."""
        with self._lock:
            blank = "\r" + " " * self._width + "\r" if self._width else ""
            self._width = 0
            print(f"{blank}{text}", file=self._stream, flush=True)

    def started(self, source: Source) -> None:
        """Say what is recorded."""
        self._source = source
        named = ", ".join(f"{c.column} ({c.role})" for c in source.channels)
        rate = f", {source.rate_hz:g} rows/s" if source.rate_hz else ""
        self.say(f"recording {source.board_name}: {named}{rate}")

    def rows(self, rows: Rows) -> None:
        """Take the latest readings; draw ten times a second."""
        self._time_s = float(rows.time_s[-1])
        self._take(rows.readings[-1])
        now = time.monotonic()
        if now - self._drawn >= _EVERY_S:
            self._drawn = now
            self._draw(now)

    def told(self, kind: str, text: str) -> None:
        """Print what the user must know."""
        self.say({"lost": "CABLE: ", "back": "cable: "}.get(kind, "note: ") + text)

    def ended(self, error: str | None) -> None:
        """Leave the line."""
        if self._width:
            self.say("")

    def _take(self, readings: np.ndarray) -> None:
        assert self._source is not None
        self._volts = [
            float(value) * c.pin_volts_per_reading * c.scale + c.offset_volts
            for c, value in zip(self._source.channels, readings.tolist(), strict=True)]

    def _numbers(self) -> str:
        if not self._volts or self._source is None:
            return ""
        channels = self._source.channels
        levels = live_levels(channels, self._volts, self._said)
        return "   " + live_line([(c.column, value, unit) for c, (value, unit) in zip(
            channels, levels, strict=True)], TERMINAL)

    def _line(self) -> str:
        words = self._prompt.words.upper() if self._prompt else "recording"
        guide = self.guide
        plan = self._plan if guide is None else guide.plan
        if plan is None:
            return f"{self._time_s:7.1f} s  {words}{self._numbers()}"
        elapsed = self._time_s if guide is None else guide.elapsed_s
        bar = "#" * round(min(1.0, elapsed / plan.end_s) * _BAR)
        following = plan.next_after(elapsed)
        left = (plan.end_s if following is None else following.start_s) - elapsed
        # What counted says more than the seconds that went by.
        seen = (f"{elapsed:4.0f} s" if guide is None else
                f"{guide.accepted:>3}/{guide.wanted:<3}")
        return (f"[{bar:<{_BAR}}] {seen} {words:<31}{max(0.0, left):4.1f}"
                + self._numbers().replace("   ", "  "))

    def _draw(self, now: float) -> None:
        if self._screen:
            with self._lock:
                # A line that wraps would not be overwritten by the next.
                line = self._line()[: shutil.get_terminal_size().columns - 1]
                self._stream.write("\r" + line.ljust(self._width))
                self._stream.flush()
                self._width = len(line)
        elif self._plan is None and now - self._lined > self.plain_every_s:
            self._lined = now
            self.say(self._line())
