"""What a recorder tells its listeners: what is recorded, rows as they came, and what happened."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array, Channel


@dataclass(frozen=True)
class Source:
    """Hold what is recorded: channels with readings of shape (0,), rate and the board's name.

    board_says: what else its hello says, e.g. supply_mv, as texts.
    """

    channels: tuple[Channel, ...]
    rate_hz: float | None
    board_name: str
    board_says: Mapping[str, str] = field(default_factory=dict)

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the names of the channels."""
        return tuple(c.column for c in self.channels)


@dataclass(frozen=True)
class Rows:
    """Hold rows as they came: time_s (n,) since the first row of the recording, never
    decreasing; readings (n, channels) int64, or float64 in volts; lost_before (n,) int64."""

    time_s: Array
    readings: NDArray[np.int64] | Array
    lost_before: NDArray[np.int64]


class Listener:
    """Hear what a recorder does; override what matters. All calls come from its one thread."""

    vital = False

    def started(self, source: Source) -> None:
        """The board said what it is; rows follow."""

    def rows(self, rows: Rows) -> None:
        """Rows came."""

    def marked(self, text: str) -> None:
        """A mark belongs to the next row."""

    def told(self, kind: str, text: str) -> None:
        """Something to tell the user: kind "lost" or "back" (the cable), or "note"."""

    def quiet(self) -> None:
        """Nothing came for a moment."""

    def ended(self, error: str | None) -> None:
        """Nothing more will come; the reason if it is not simply the end."""
