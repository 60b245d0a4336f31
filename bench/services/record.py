"""Record from a board into a file: what the sweep, the in-car log and the window call."""

import datetime
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from analysis.model.pedal_kind import KIND_KEY, USE_KEY
from analysis.model.recording import Recording
from bench.acquisition.boards.board import Board
from bench.acquisition.boards.channels import ChannelOptions
from bench.acquisition.guided_plan import (
    HAND_WORDS,
    QUICK_HAND_WORDS,
    QUICK_WORDS,
    SHALLOW_HAND_WORDS,
    SHALLOW_WORDS,
    WORDS,
    Plan,
    Prompt,
    by_hand,
    guided_plan,
    plan_of,
    refusals,
)
from bench.acquisition.listener import Listener, Rows, Source
from bench.acquisition.proof_prompts import ProofGuide
from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.acquisition.sweep_judge import SweepJudge, Tally
from bench.acquisition.wire import Decoder, command
from bench.errors import BadFile, BenchError, BoardTrouble
from bench.files.recording_file import free_path, is_taken, read_recording
from bench.services.guide import Guide

__all__ = ["FileListener", "Guide", "Listener", "Order", "Plan", "Prompt", "ProofGuide", "Recorded",
           "Recorder", "Rows", "Source", "SweepJudge", "Tally", "by_hand", "check_folder",
           "check_sweep", "guided_plan", "plan_of", "prompts_of", "record"]


def prompts_of() -> tuple[str, ...]:
    """Return every prompt that a guided sweep may show."""
    return tuple(dict.fromkeys(word for table in (
        WORDS, SHALLOW_WORDS, QUICK_WORDS, HAND_WORDS, SHALLOW_HAND_WORDS, QUICK_HAND_WORDS)
        for word in table.values()))


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
    stated. kind, use: of the pedal (analysis.model.pedal_kind), None: not stated. rheostat: how
    one is read, ohms by the header's key.
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
    kind: str | None = None
    use: str | None = None
    rheostat: Mapping[str, float] = field(default_factory=dict)

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

    @property
    def said(self) -> dict[str, object]:
        """Return what the header of the recording is to say of it."""
        stated = {"fed_by": self.fed_by, KIND_KEY: self.kind, USE_KEY: self.use}
        return {**{key: word for key, word in stated.items() if word is not None},
                **self.rheostat}

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


def record(board: Board, order: Order, listeners: Sequence[Listener] = (),
           guide: Guide | ProofGuide | None = None, until: Callable[[Recorder], None] | None = None,
           file: FileListener | None = None) -> Recorded:
    """Record until the guide, the board or the user (Ctrl-C) ends it; return what came of it.

    listeners: displays. until: called with the running recorder in place of simply waiting.
    Raise BenchError with what ended it early; the file is closed properly all the same.
    """
    # The port is kept so that the next command can name it.
    where: dict[str, object] = (
        {"board": {"port": board.name}} if board.needs_care and order.keep_port else {})
    where |= order.said
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
        # A file's own trouble names it already.
        if file.writer is None or isinstance(error, BadFile):
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
