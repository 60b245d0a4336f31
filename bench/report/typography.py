"""Type on paper: which face, how wide a text, where its lines break. Lengths are points."""

import re
from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontMetricsF, QPainter, QPdfWriter

from bench.errors import BadCall
from bench.plots.fonts import own_family

# Where our own face is not installed: book faces first, then what any system has.
# All have figures of one width.
FAMILIES = (
    "Source Serif 4", "Charter", "P052", "Palatino Linotype", "Palatino", "Cambria", "Georgia",
    "Liberation Serif", "Nimbus Roman", "DejaVu Serif", "Noto Serif", "Times New Roman",
)
# A book face sets the small alphabet in about so many times its size; a wider one is set smaller.
ALPHABET, USUAL_WIDTH = "abcdefghijklmnopqrstuvwxyz", 13.4
# style -> (size, weight, italic, leading over size)
STYLES: dict[str, tuple[float, int, bool, float]] = {
    "title": (21.0, 600, False, 1.15),
    "subtitle": (11.0, 400, True, 1.3),
    "heading": (12.5, 600, False, 1.25),
    "lead": (11.5, 600, False, 1.3),
    "body": (9.6, 400, False, 1.34),
    "small": (8.2, 400, False, 1.34),
    "caption": (8.2, 400, True, 1.3),
    "cell": (8.4, 400, False, 1.27),
    "strong": (8.4, 600, False, 1.27),
    "head": (7.8, 400, True, 1.27),
    "label": (8.4, 400, True, 1.3),
    "foot": (7.4, 400, False, 1.3),
}

_UNIT = re.compile(
    r"(?<=[0-9]) (?=(?:%|V|mV|ms|s|h|K|kohm|ohms?|degrees|times)(?![A-Za-z]))|(?<=[±×]) | (?=[±×])")
_MINUS = re.compile(r"(?<![0-9A-Za-z])-(?=[0-9])")
_TRACK = re.compile(r"\b([Tt]rack) (?=[^ ]{1,3}\b)")


def bound(text: str) -> str:
    """Return a text with true minus signs whose numbers keep their units, "track" its name."""
    text = _MINUS.sub("−", " ".join(text.split()))
    return _TRACK.sub("\\1\u00a0", _UNIT.sub("\u00a0", text))


@dataclass(frozen=True)
class Type:
    """Measure and draw text for one PDF; lengths in points of 1/72 inch.

    scale: of all sizes, so that a wide face or a long report still fits its pages.
    """

    writer: QPdfWriter
    family: str
    scale: float = 1.0

    @property
    def dots(self) -> float:
        """Return dots of the writer per point."""
        return float(self.writer.resolution()) / 72.0

    def font(self, style: str) -> QFont:
        """Return the font of a style."""
        size, weight, italic, _ = STYLES[style]
        font = QFont(self.family)
        font.setPointSizeF(size * self.scale)
        font.setWeight(QFont.Weight(weight))
        font.setItalic(italic)
        return font

    def leading(self, style: str) -> float:
        """Return the distance from line to line."""
        size, _, _, factor = STYLES[style]
        return size * self.scale * factor

    def width(self, style: str, text: str) -> float:
        """Return the width of a text on one line."""
        metrics = QFontMetricsF(self.font(style), self.writer)
        return float(metrics.horizontalAdvance(text)) / self.dots

    def wrap(self, style: str, text: str, width: float) -> list[str]:
        """Return the lines of a text; a word wider than the line is broken anywhere."""
        metrics = QFontMetricsF(self.font(style), self.writer)
        room = width * self.dots
        lines: list[str] = []
        line = ""
        for word in bound(text).split(" "):
            trial = f"{line} {word}" if line else word
            if metrics.horizontalAdvance(trial) <= room:
                line = trial
                continue
            if line:
                lines.append(line)
            while metrics.horizontalAdvance(word) > room and len(word) > 1:
                fits = len(word) - 1
                while fits > 1 and metrics.horizontalAdvance(word[:fits]) > room:
                    fits -= 1
                lines.append(word[:fits])
                word = word[fits:]
            line = word
        if line or not lines:
            lines.append(line)
        return lines

    def draw(self, painter: QPainter, style: str, x: float, top: float, text: str, color: str,
             align: float = 0.0) -> None:
        """Draw one line with its top at `top`; align 1 puts its right end at x."""
        painter.setFont(self.font(style))
        painter.setPen(QColor(color))
        size, _, _, factor = STYLES[style]
        # The baseline sits so that the line's ink is centred in its leading.
        baseline = top + size * self.scale * (factor / 2 + 0.32)
        start = x - align * self.width(style, text)
        painter.drawText(QPointF(start * self.dots, baseline * self.dots), text)


def open_type(writer: QPdfWriter) -> Type:
    """Return the type for a writer; raise BadCall when no font is installed at all."""
    own = own_family()
    there = set(QFontDatabase.families())
    if not there:
        raise BadCall("no fonts are installed, so a PDF would be empty; install one (on Debian: "
                      "fonts-dejavu-core) or write --out report.html")
    # Where a face comes from several foundries Qt adds the foundry: "P052 [urw]".
    bare = {name.partition(" [")[0]: name for name in sorted(there, reverse=True)}
    chosen = own or next((bare[name] for name in FAMILIES if name in bare), sorted(there)[0])
    plain = Type(writer, chosen)
    usual = STYLES["body"][0] * USUAL_WIDTH
    return replace(plain, scale=min(1.0, usual / plain.width("body", ALPHABET)))
