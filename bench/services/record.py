"""Record from a board into a file: what the sweep, the in-car log and the window call."""

import datetime
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from analysis.model.recording import Recording
from bench.acquisition.boards.board import Board
from bench.acquisition.boards.channels import ChannelOptions
from bench.acquisition.guided_plan import Plan, Prompt, guided_plan, plan_of, refusals
from bench.acquisition.recorder import Listener, Recorder, Rows, Source
from bench.acquisition.recorder_file import FileListener
from bench.acquisition.wire import Decoder, command
from bench.errors import BadFile, BenchError, BoardTrouble
from bench.files.recording_file import free_path, is_taken, read_recording

__all__ = ["FileListener", "Guide", "Listener", "Order", "Plan", "Prompt", "Recorded", "Recorder",
           "Rows", "Source", "check_folder", "check_sweep", "guided_plan", "plan_of", "record"]

# A pause of the board's time longer than this is no time in which the person was prompted.
_PAUSE_S = 0.5
# A guided sweep that ends pressed waits so long for the pedal to be let go, and no longer.
PATIENCE_S = 15.0
# What counts as let go: within this share of what a track moved of where it stood in so many
# seconds at first, when the prompt was to leave it alone.
BACK_SHARE, FIRST_REST_S = 0.2, 1.5
# Let go for so long, so that the last return can be told from one that passes by.
SETTLED_S = 0.8


def check_folder(folder: Path) -> None:
    """Raise BadFile when no file can be made in the folder, before anybody presses a pedal."""
    if not folder.is_dir():
        raise BadFile(f"there is no folder {folder}; make it, or choose another --out")
    try:
        with tempfile.TemporaryFile(dir=folder) as trial:
            trial.write(b"\n")
    except OSError as error:
        raise BadFile(f"cannot write in the folder {folder.resolve()} "
                      f"({error.strerror or error}); choose another --out") from None


@dataclass(frozen=True)
class Order:
    """Hold what is to be recorded and where to.

    path: None chooses a free name in the current folder, beginning with `stem`. retry_s: how
    long a pulled cable is waited for. format: of the wire, "auto", "text" or "frames".
    rate_hz: asked of the board. keep_port: write the port into the header, where the next command
    finds it; False for a port that is gone afterwards. number: when another program takes the
    name meanwhile, the next free one is taken. clock: what a line of text begins with, "us", "ms",
    "none", None to find out. fed_by: what feeds the pedal, "board" or "bench supply", None: not
    stated.
    """

    purpose: str = "sweep"
    path: Path | None = None
    title: str = ""
    channels: ChannelOptions = field(default_factory=ChannelOptions)
    format: str = "auto"
    rate_hz: int | None = None
    retry_s: float = 60.0
    stem: str = ""
    keep_port: bool = True
    number: bool = False
    clock: str | None = None
    fed_by: str | None = None

    def place(self) -> Path:
        """Return where the recording goes; raise BadFile when it cannot go there."""
        check_folder(Path() if self.path is None else self.path.parent)
        if self.path is None:
            now = datetime.datetime.now().astimezone()
            return free_path(f"{self.stem or self.purpose}-{now:%Y-%m-%d-%H%M%S}.csv")
        if is_taken(self.path):
            raise BadFile(f"{self.path} exists and is not written over; choose another --out")
        return self.path

    @property
    def numbered(self) -> bool:
        """Say whether the next free name will do as well: nobody asked for this one."""
        return self.number or self.path is None

    def decoder(self) -> Decoder:
        """Return a new decoder for what the board sends."""
        return Decoder(self.format, self.clock, self.channels.full_scale)

    def commands(self) -> tuple[bytes, ...]:
        """Return what the board is told whenever it was opened."""
        lines: list[bytes] = []
        if self.rate_hz is not None:
            lines.append(command("rate", self.rate_hz))
        if self.format != "auto":
            lines.append(command(self.format))
        return tuple(lines)


@dataclass(frozen=True)
class Recorded:
    """Hold what came of it; stopped: by the user."""

    path: Path
    rows: int
    seconds: float
    lost_samples: int
    stopped: bool


class Guide(Listener):
    """Lead through a plan: mark each prompt as it is shown, and stop at the end.

    Being late does no harm: while a track stands away from where it rested first, the end is kept
    open, PATIENCE_S at most. vital: where no prompt can be shown any more nobody presses, and
    nothing else would stop.
    """

    vital = True

    def __init__(self, plan: Plan, show: Callable[[Prompt], None]) -> None:
        self.plan = plan
        self.recorder: Recorder | None = None
        self.elapsed_s = 0.0
        self._show = show
        self._last: float | None = None
        self._tracks: list[int] = []
        self._first: list[np.ndarray] = []
        self._lowest = self._highest = np.empty(0)
        self._asked_back = False
        self._away_s = -SETTLED_S

    def started(self, source: Source) -> None:
        """Show what is asked for at once."""
        self._tracks = [k for k, c in enumerate(source.channels) if c.role == "track"]
        self._ask(-1.0, 0.0)

    def rows(self, rows: Rows) -> None:
        """Go on by the time that these rows took; a pulled cable holds the plan up."""
        times = rows.time_s if self._last is None else np.append(self._last, rows.time_s)
        steps = np.diff(times)
        before = self.elapsed_s
        self.elapsed_s += float(steps[steps <= _PAUSE_S].sum())
        self._last = float(times[-1])
        self._ask(before, self.elapsed_s)
        if self._away(rows):
            self._away_s = self.elapsed_s
        if self.elapsed_s < self.plan.end_s - 1e-6 or self.recorder is None:
            return
        settled = self.elapsed_s - self._away_s >= SETTLED_S
        if not settled and self.elapsed_s < self.plan.end_s + PATIENCE_S:
            if not self._asked_back:
                self._asked_back = True
                self.recorder.mark("rest")
                self._show(Prompt(self.plan.end_s, "rest"))
            return
        self.recorder.stop()

    def _away(self, rows: Rows) -> bool:
        """Return whether a track stands away from its first rest, by a share of what it moved."""
        # Only a plan that ends with a rest knows where the pedal is to be at its end.
        if not self._tracks or self.plan.prompts[-1].kind != "rest":
            return False
        seen = rows.readings[:, self._tracks].astype(float)
        low, high = seen.min(axis=0), seen.max(axis=0)
        if not self._lowest.size:
            self._lowest, self._highest = low, high
        self._lowest = np.minimum(self._lowest, low)
        self._highest = np.maximum(self._highest, high)
        pressed = next((p.start_s for p in self.plan.prompts if p.kind == "press"), 0.0)
        if self.elapsed_s <= min(FIRST_REST_S, 0.6 * pressed):
            self._first.append(seen)
            return False
        if len(self._first) > 1:
            self._first = [np.concatenate(self._first)]
        if not self._first:
            return False
        rest = np.median(self._first[0], axis=0)
        moved = self._highest - self._lowest
        now = np.median(seen[-20:], axis=0)
        return bool(np.any(np.abs(now - rest) > BACK_SHARE * moved) and np.any(moved > 0))

    def _ask(self, after_s: float, until_s: float) -> None:
        for prompt in self.plan.due(after_s, until_s):
            if self.recorder is not None:
                self.recorder.mark(prompt.kind)
            self._show(prompt)


def record(board: Board, order: Order, listeners: Sequence[Listener] = (),
           guide: Guide | None = None, until: Callable[[Recorder], None] | None = None,
           file: FileListener | None = None) -> Recorded:
    """Record until the guide, the board or the user (Ctrl-C) ends it; return what came of it.

    listeners: displays. until: called with the running recorder in place of simply waiting.
    Raise BenchError with what ended it early; the file is closed properly all the same.
    """
    # The port is kept so that the next command can name it.
    where: dict[str, object] = (
        {"board": {"port": board.name}} if board.needs_care and order.keep_port else {})
    if order.fed_by is not None:
        where["fed_by"] = order.fed_by
    file = file or FileListener(order.place(), order.purpose, order.title, where, order.numbered)
    recorder = Recorder(board, (file, *([guide] if guide else []), *listeners), order.channels,
                        order.decoder(), order.commands(), order.retry_s)
    for listener in (file, guide):
        if listener is not None:
            listener.recorder = recorder
    stopped = False
    recorder.start()
    try:
        if until is not None:
            until(recorder)
        while not recorder.wait(0.2):
            pass
    except KeyboardInterrupt:
        stopped = True
        recorder.stop()
    try:
        recorder.join()
    except BenchError as error:
        if file.writer is None or str(file.path) in str(error):
            raise
        raise type(error)(f"{error} ({file.path}, {file.writer.rows} rows)") from None
    if file.writer is None:
        if stopped:
            raise KeyboardInterrupt
        raise BoardTrouble(file.nothing)
    return Recorded(file.path, file.writer.rows, file.last_s, file.lost_samples, stopped)


def check_sweep(recorded: Recorded) -> tuple[Recording, tuple[str, ...]]:
    """Return the recording read back from its file, and why it cannot be used, if so."""
    recording = read_recording(recorded.path)
    return recording, refusals(recording)
