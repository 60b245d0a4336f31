"""The colours, line styles and symbols of every figure; loads without the plotting library."""

from dataclasses import dataclass, replace

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor

from bench.plots import palette
from bench.plots.palette import Palette

DASHED = Qt.PenStyle.DashLine
DOTTED = Qt.PenStyle.DotLine
SOLID = Qt.PenStyle.SolidLine


@dataclass(frozen=True)
class Look:
    """Hold one set of colours. tracks: in column order; shade: by kind of segment.

    compact: for plots no larger than a palm, with short axis texts and small print. scale: of its
    print; a window whose font is larger than usual has more than 1.
    """

    name: str
    background: str
    foreground: str
    quiet: str
    tracks: tuple[str, ...]
    fault: str
    limit: str
    band: str
    shade: dict[str, str]
    compact: bool = False
    scale: float = 1.0

    @property
    def points(self) -> float:
        """Return the size of its print in points."""
        return (8 if self.compact else 9) * self.scale

    def small(self) -> "Look":
        """Return the same look for small plots."""
        return replace(self, compact=True)

    def track(self, index: int) -> QColor:
        """Return the colour of the track at that place."""
        return QColor(self.tracks[index % len(self.tracks)])

    def track_style(self, index: int) -> Qt.PenStyle:
        """Return the line style of the track at that place."""
        return (SOLID, DASHED, DOTTED)[index % 3]

    def track_symbol(self, index: int) -> str:
        """Return the symbol of the track at that place."""
        return ("o", "s", "d")[index % 3]


def _look(colours: Palette) -> Look:
    return Look(colours.name, colours.page, colours.ink, colours.grid, colours.tracks,
                colours.fault, colours.ink, colours.band, colours.shade)


PAPER, NIGHT = _look(palette.LIGHT), _look(palette.DARK)
