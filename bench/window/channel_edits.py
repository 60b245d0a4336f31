"""Names, roles and scales of the channels as the user edits them, each edit undoable.

The board's own word is the start; what the user says goes before it and is remembered by board.
"""

from dataclasses import fields, replace
from typing import Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoStack

from analysis.model.errors import AnalysisError
from analysis.model.recording import Channel
from bench.errors import BenchError
from bench.services.boards import ChannelOptions, check_channels, options_from_plain
from bench.window.change import Change
from bench.wording.face import WINDOW
from bench.wording.refusals import refused

# One converter reads every input.
SHARED = ("full_scale", "reference_volts")
WORDS = {"column": "name", "offset_volts": "offset", "nominal_volts": "nominal supply",
         "full_scale": "full scale", "reference_volts": "reference"}


class ChannelEdits(QObject):
    """Hold the channels of the connected board, readings of shape (0,).

    undo_stack: the window's. edited: the user changed something of this set of inputs.
    """

    changed = Signal()

    def __init__(self, undo_stack: QUndoStack, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.channels: tuple[Channel, ...] = ()
        self.undo_stack, self.edited = undo_stack, False

    def begin(self, channels: tuple[Channel, ...]) -> None:
        """Take over what a board said; edits made before are forgotten if it is another set."""
        if len(channels) != len(self.channels):
            if self.edited:
                # An edit of another board's inputs must not be put onto these.
                self.undo_stack.clear()
            self.edited = False
        self.channels = channels
        self.changed.emit()

    def edit(self, place: int, field: str, value: Any) -> str | None:
        """Change one field of one channel; return why not when it cannot be so."""
        before = self.channels
        if getattr(before[place], field) == value:
            return None
        try:
            after = tuple(
                replace(c, **{field: value}) if k == place or field in SHARED else c
                for k, c in enumerate(before))
            check_channels(after)
        except (AnalysisError, BenchError) as error:
            return refused(error, WINDOW)
        name = before[place].column
        text = f"{WORDS.get(field, field)} of {name}: {value}"
        self.edited = True
        self.undo_stack.push(Change(text, lambda: self._put(after), lambda: self._put(before),
                                    "wire_up"))
        return None

    def options(self) -> ChannelOptions:
        """Return what the user says of the channels, for the next recording."""
        return options_of(self.channels)

    def _put(self, channels: tuple[Channel, ...]) -> None:
        self.channels = channels
        self.changed.emit()


def options_of(channels: tuple[Channel, ...]) -> ChannelOptions:
    """Return options that give a board these channels."""
    if not channels:
        return ChannelOptions()
    first = channels[0]
    supply = next((c.nominal_volts for c in channels if c.role == "supply"), None)
    return ChannelOptions(
        columns=tuple(c.column for c in channels),
        roles={c.column: c.role for c in channels},
        full_scale=first.full_scale, reference_volts=first.reference_volts,
        scale={c.column: c.scale for c in channels},
        offset_volts={c.column: c.offset_volts for c in channels},
        supply_volts=supply)


def to_plain(options: ChannelOptions) -> dict[str, Any]:
    """Return options as plain values, for remembering."""
    plain = {f.name: getattr(options, f.name) for f in fields(options)}
    plain["columns"] = list(options.columns or ())
    return {k: dict(v) if hasattr(v, "items") else v for k, v in plain.items()}


def from_plain(plain: dict[str, Any]) -> ChannelOptions:
    """Return options from remembered values; nothing of them when they make no sense."""
    try:
        return options_from_plain(plain)
    except (AnalysisError, BenchError, LookupError, TypeError, ValueError, AttributeError,
            ArithmeticError):
        return ChannelOptions()
