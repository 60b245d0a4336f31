"""Rolling traces with large numbers above them, as two pages show them."""

import numpy as np
from PySide6.QtGui import QColor, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel

from analysis.model.recording import Array, Channel
from bench.plots.rolling import RollingTraces
from bench.services.record import Rows
from bench.window.channel_rows import full_volts
from bench.window.live import volts_of
from bench.window.live_plots import still_view
from bench.window.theme import Skin
from bench.window.widgets import Card, label

# Moving axes cost more than curves: not at every painting.
ZOOM_EVERY_S = 0.5
CLOSEST_VOLTS = 0.05
# Print of a track's number, and the pixels it takes with the space behind it.
SIZES = (("big", 214), ("mid", 152), ("head", 110))
OTHER_WIDTH = 124


class TracesCard(Card):
    """The last 20 s of every input, and each input's volts in large print."""

    def __init__(self) -> None:
        super().__init__()
        self._numbers = QHBoxLayout()
        self._numbers.setSpacing(14)
        self.body.addLayout(self._numbers)
        self.view = still_view("Rolling traces of every input")
        self.body.addWidget(self.view, 1)
        self._labels: list[QLabel] = []
        self._traces: RollingTraces | None = None
        self.channels: tuple[Channel, ...] = ()

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin; the traces begin anew."""
        self.view.setBackground(QColor(skin.look.background))
        self.channels = ()

    def begin(self, channels: tuple[Channel, ...], skin: Skin, close_up: bool = False) -> float:
        """Begin anew with these channels; return the volts at the upper end of the plots.

        close_up: only the tracks, zoomed to where they are.
        """
        look = skin.look.small()
        tracks = [c for c in channels if c.role == "track"] or list(channels)
        full = max([full_volts(c) for c in tracks]
                   + [c.nominal_volts for c in channels if c.nominal_volts is not None])
        self.channels = channels
        self._close_up, self._zoomed = close_up, 0.0
        self._drawn = [k for k, c in enumerate(channels)
                       if not close_up or c.role == "track"] or list(range(len(channels)))
        self._traces = RollingTraces(self.view.plot, look,
                                     [channels[k].column for k in self._drawn], full)
        while (item := self._numbers.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.deleteLater()
        self._labels = []
        for k, channel in enumerate(channels):
            made = label()
            made.setAccessibleName(f"Volts of {channel.column}")
            made.setStyleSheet(f"color: {look.tracks[k % len(look.tracks)]};")
            self._labels.append(made)
            self._numbers.addWidget(made)
        self._numbers.addStretch(1)
        self._size_numbers()
        return full

    def resizeEvent(self, _event: QResizeEvent) -> None:
        self._size_numbers()

    def _size_numbers(self) -> None:
        """Set the numbers as large as the card is wide enough for; none may be cut."""
        tracks = sum(c.role == "track" for c in self.channels)
        others = len(self._labels) - tracks
        room = self.width() - 40
        large, wide = next((s for s in SIZES if tracks * s[1] + others * OTHER_WIDTH <= room),
                           SIZES[-1])
        for made, channel in zip(self._labels, self.channels, strict=False):
            track = channel.role == "track"
            made.setObjectName(large if track else "head")
            made.setMinimumWidth((wide if track else OTHER_WIDTH) - self._numbers.spacing())
            made.style().unpolish(made)
            made.style().polish(made)

    def show_rows(self, pieces: list[Rows]) -> Array:
        """Paint the rows that came and return their volts, shape (n, channels)."""
        volts = volts_of(self.channels, np.concatenate([p.readings for p in pieces]))
        assert self._traces is not None
        time_s = np.concatenate([p.time_s for p in pieces])
        self._traces.add(time_s, volts[:, self._drawn])
        if self._close_up and abs(time_s[-1] - self._zoomed) > ZOOM_EVERY_S:
            self._zoomed = time_s[-1]
            self._traces.close_up(CLOSEST_VOLTS)
        self._traces.paint()
        for made, channel, value in zip(self._labels, self.channels, volts[-1], strict=True):
            made.setText(f"{channel.column} {value:.3f} V")
        return volts
