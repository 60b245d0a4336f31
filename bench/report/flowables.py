"""Blocks -> strips: pieces of a page of known height that can paint themselves.

All lengths are points (1/72 inch).
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from PySide6.QtCore import QByteArray, QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtSvg import QSvgRenderer

from bench.plots.palette import LIGHT
from bench.report.document import (
    Block,
    Box,
    Document,
    Facts,
    Figures,
    Heading,
    Points,
    Sign,
    Table,
    Text,
)
from bench.report.typography import Type

INK, SOFT, RULE, FAINT = LIGHT.ink, LIGHT.quiet, LIGHT.grid, LIGHT.edge
TONES = {"stop": LIGHT.grave, "mend": LIGHT.mend, "clear": LIGHT.good, "caution": LIGHT.quiet}
CELL_GAP, ROW_PAD = 9.0, 2.6
INDENT = 11.0
# A table up to this share of a page is kept whole.
WHOLE = 0.3


def for_paper(svg: str) -> str:
    """Return a figure whose lines keep their width in pixels of the figure, not of the printer.

    A stroke that does not scale is one dot of the printer wide, and its dashes run together.
    Clip paths go: Qt's SVG Tiny does not clip by them but draws their outline.
    """
    without = re.sub(r"<clipPath.*?</clipPath>", "", svg, flags=re.DOTALL)
    return without.replace('vector-effect="non-scaling-stroke"', "")


@dataclass(frozen=True)
class Strip:
    """Hold a piece of a page. before: space above it, left out at the top of a page.

    glued: the next strip must stand on the same page. head: to be repeated above this strip
    when it begins a page.
    """

    height: float
    paint: Callable[[QPainter, float], None]
    before: float = 0.0
    glued: bool = False
    head: "Strip | None" = None


@dataclass(frozen=True)
class Maker:
    """Make strips for a body that is `width` wide and begins at `left`.

    page: height of the body. shrink: of figures and gaps, for a long report.
    """

    type: Type
    left: float
    width: float
    page: float
    shrink: float = 1.0

    def strips(self, document: Document) -> list[Strip]:
        """Return the strips of the whole document."""
        result = self._lines("title", document.title, INK)
        if document.subtitle:
            result += self._lines("subtitle", document.subtitle, SOFT)
        result.append(Strip(1.0, lambda p, y: self.rule(p, y, INK, 0.9), before=7.0))
        for block, following in zip(document.blocks, (*document.blocks[1:], None), strict=True):
            strips = self._block(block)
            if isinstance(block, Text) and block.style == "body" and isinstance(following, Table):
                strips = [replace(strip, glued=True) for strip in strips]
            result += strips
        return [replace(strip, before=strip.before * self.shrink) for strip in result]

    def rule(self, painter: QPainter, y: float, color: str, width: float = 0.5,
             left: float | None = None, right: float | None = None) -> None:
        """Draw a level rule."""
        dots = self.type.dots
        pen = QPen(QColor(color))
        pen.setWidthF(width * dots)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        start = self.left if left is None else left
        end = self.left + self.width if right is None else right
        painter.drawLine(QLineF(start * dots, y * dots, end * dots, y * dots))

    def _block(self, block: Block) -> list[Strip]:
        if isinstance(block, Heading):
            made = self._lines("heading", block.text, INK, before=17.0)
            return [replace(strip, glued=True) for strip in made]
        if isinstance(block, Text):
            return self._paragraph(block.text, block.style, before=4.0)
        if isinstance(block, Points):
            return [strip for item in block.items
                    for strip in self._paragraph(item, block.style, before=3.0, bullet=True)]
        if isinstance(block, Box):
            return self._box(block)
        if isinstance(block, Facts):
            return self._facts(block)
        if isinstance(block, Table):
            return self._table(block)
        if isinstance(block, Figures):
            return [self._figures(block)]
        return [self._sign(block)]

    def _lines(self, style: str, text: str, color: str, before: float = 0.0) -> list[Strip]:
        return [self._set(style, [line], color, before if i == 0 else 0.0)
                for i, line in enumerate(self.type.wrap(style, text, self.width))]

    def _set(self, style: str, lines: list[str], color: str, before: float,
             indent: float = 0.0, bullet: bool = False) -> Strip:
        leading = self.type.leading(style)

        def paint(painter: QPainter, y: float) -> None:
            if bullet:
                self.type.draw(painter, style, self.left + indent - INDENT, y, "•", SOFT)
            for i, line in enumerate(lines):
                self.type.draw(painter, style, self.left + indent, y + i * leading, line, color)

        return Strip(leading * len(lines), paint, before)

    def _paragraph(self, text: str, style: str, before: float,
                   bullet: bool = False) -> list[Strip]:
        indent = INDENT if bullet else 0.0
        lines = self.type.wrap(style, text, self.width - indent)
        # Paragraphs here are short: better a gap at the foot than a line alone overleaf.
        return [self._set(style, lines, SOFT if style == "small" else INK, before, indent, bullet)]

    def _box(self, box: Box) -> list[Strip]:
        """A rule at the side, a title, and the sentences; a long box may go on overleaf."""
        tone = TONES[box.tone]
        small = box.tone == "caution"
        style, head = ("small", "strong") if small else ("body", "lead")
        inset, room = 12.0, self.width - 12.0

        def part(part_style: str, text: str, color: str, gap: float, bullet: bool) -> Strip:
            lines = self.type.wrap(part_style, text, room - (INDENT if bullet else 0.0))
            leading = self.type.leading(part_style)
            height = gap + leading * len(lines)

            def paint(painter: QPainter, top: float) -> None:
                dots = self.type.dots
                painter.fillRect(QRectF(self.left * dots, top * dots, 2.4 * dots, height * dots),
                                 QColor(tone))
                x = self.left + inset
                if bullet:
                    self.type.draw(painter, part_style, x, top + gap, "•", SOFT)
                    x += INDENT
                for k, line in enumerate(lines):
                    self.type.draw(painter, part_style, x, top + gap + k * leading, line, color)

            return Strip(height, paint)

        title = part(head, box.title, tone, 0.0, False)
        again = part(head, f"{box.title.rstrip('.')}, continued", tone, 0.0, False)
        items = [part(style, item, INK, 2.5, True) for item in box.items]
        # A caution is read at a glance or not at all: it is never parted.
        whole = small or title.height + sum(i.height for i in items) < WHOLE * self.page
        last = len(items) - 1
        return [replace(title, before=12.0, glued=bool(items)), *(
            replace(item, head=again, glued=i < last and (whole or i == 0 or i == last - 1))
            for i, item in enumerate(items))]

    def _facts(self, facts: Facts) -> list[Strip]:
        """Label and text, two to a line; a text too long for half the line gets all of it."""
        label_room = 78.0
        half = (self.width - 16.0) / 2
        rows: list[list[tuple[float, str, list[str]]]] = []
        place = 0
        for label, text in facts.rows:
            long = self.type.width("cell", text) > half - label_room
            if long:
                place = 0
            if place == 0:
                rows.append([])
            x = self.left + place * (half + 16.0)
            room = (self.width if long else half) - label_room
            rows[-1].append((x, label, self.type.wrap("cell", text, room)))
            place = 0 if long or place == 1 else 1
        leading = self.type.leading("cell")
        result = []
        for i, row in enumerate(rows):
            height = leading * max(len(lines) for _, _, lines in row)

            def paint(painter: QPainter, y: float,
                      row: list[tuple[float, str, list[str]]] = row) -> None:
                for x, label, lines in row:
                    self.type.draw(painter, "label", x, y, label, SOFT)
                    if lines == [""]:
                        self.rule(painter, y + leading - 1.5, RULE, 0.4, x + label_room,
                                  x + half)
                    for k, line in enumerate(lines):
                        self.type.draw(painter, "cell", x + label_room, y + k * leading, line,
                                       INK)

            result.append(Strip(height, paint, 9.0 if i == 0 else 2.2, glued=i < len(rows) - 1))
        return result

    def _table(self, table: Table) -> list[Strip]:
        pad = ROW_PAD * self.shrink
        places, x = [], self.left
        room = self.width - CELL_GAP * (len(table.columns) - 1)
        for column in table.columns:
            width = column.share * room
            places.append((x, width, column.right))
            x += width + CELL_GAP

        def row(cells: tuple[str, ...], style: str, color: str, above: str | None,
                below: str | None = None) -> Strip:
            wrapped = [self.type.wrap(style, cell, width)
                       for cell, (_, width, _) in zip(cells, places, strict=True)]
            leading = self.type.leading(style)
            height = leading * max(map(len, wrapped)) + 2 * pad

            def paint(painter: QPainter, y: float) -> None:
                if above:
                    self.rule(painter, y, above, 0.9 if above == INK else 0.45)
                for lines, (left, width, right) in zip(wrapped, places, strict=True):
                    for k, line in enumerate(lines):
                        self.type.draw(painter, style, left + (width if right else 0.0),
                                       y + pad + k * leading, line, color,
                                       1.0 if right else 0.0)
                if below:
                    self.rule(painter, y + height, below, 0.45)

            return Strip(height, paint)

        head = replace(row(tuple(c.title for c in table.columns), "head", SOFT, None, RULE),
                       before=6.0, glued=True)
        rows = [row(cells, "strong" if i in table.strong else "cell", INK,
                    RULE if i in table.groups else FAINT if i else None,
                    RULE if i == len(table.rows) - 1 else None)
                for i, cells in enumerate(table.rows)]
        whole = sum(r.height for r in rows) < WHOLE * self.page
        last = len(rows) - 1
        return [head, *(replace(
            strip, head=head, glued=i < last and (whole or i == 0 or i == last - 1))
            for i, strip in enumerate(rows))]

    def _figures(self, block: Figures) -> Strip:
        gap = 16.0
        count = len(block.figures)
        room = (self.width - gap * (count - 1)) / count
        width = room * self.shrink
        tall = width * block.ratio
        leading = self.type.leading("caption")
        captions = [self.type.wrap("caption", f.caption, width) for f in block.figures]
        height = tall + 3.0 + leading * max(map(len, captions))
        renderers = [QSvgRenderer(QByteArray(for_paper(f.svg).encode("utf-8")))
                     for f in block.figures]

        def paint(painter: QPainter, y: float) -> None:
            dots = self.type.dots
            for i, (renderer, caption) in enumerate(zip(renderers, captions, strict=True)):
                x = self.left + i * (room + gap) + (room - width) / 2
                painter.save()
                frame = QRectF(x * dots, y * dots, width * dots, tall * dots)
                painter.setClipRect(frame)
                renderer.render(painter, frame)
                painter.restore()
                for k, line in enumerate(caption):
                    self.type.draw(painter, "caption", x, y + tall + 3.0 + k * leading, line,
                                   SOFT)

        return Strip(height, paint, before=9.0)

    def _sign(self, block: Sign) -> Strip:
        gap = 18.0
        width = (self.width - gap * (len(block.labels) - 1)) / len(block.labels)
        height = 26.0 + self.type.leading("caption")

        def paint(painter: QPainter, y: float) -> None:
            for i, label in enumerate(block.labels):
                x = self.left + i * (width + gap)
                self.rule(painter, y + 24.0, INK, 0.5, x, x + width)
                self.type.draw(painter, "caption", x, y + 26.0, label, SOFT)

        return Strip(height, paint, before=20.0)
