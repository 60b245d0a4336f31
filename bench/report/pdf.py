"""A document on paper: strips laid out on pages, then painted with Qt onto a PDF.

The pages are laid out first and painted afterwards, so that every foot can say "page n of m". A
heading stays with what follows it, a short table stays whole, a long one repeats its head and
leaves no row alone. All lengths are points (1/72 inch).
"""

from dataclasses import replace

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QSizeF
from PySide6.QtGui import QPageSize, QPainter, QPdfWriter

from bench.errors import BadCall
from bench.plots.paper import ensure_application
from bench.report.document import Document
from bench.report.flowables import SOFT, Maker, Strip
from bench.report.typography import Type, open_type
from bench.version import version

PAPERS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
SIDE, TOP, BOTTOM = 57.0, 54.0, 60.0
# Fine enough that letters keep their widths.
DPI = 1200
# What is meant for a folder stays short: a longer report is set a little smaller.
MOST_PAGES, SCALES = 4, (1.0, 0.96, 0.92, 0.88, 0.84, 0.80)

Page = list[tuple[float, Strip]]


def pdf_bytes(document: Document, paper: str = "a4") -> bytes:
    """Return the document as a PDF; raise BadCall on an unknown paper or without any font."""
    ensure_application()
    if paper not in PAPERS:
        raise BadCall(f"paper {paper!r} is not known; use {' or '.join(PAPERS)}")
    width, height = PAPERS[paper]
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(DPI)
    writer.setPageSize(QPageSize(QSizeF(width, height), QPageSize.Unit.Point))
    writer.setPageMargins(QMarginsF(0, 0, 0, 0))
    writer.setTitle(f"{document.title}: {document.subtitle}")
    writer.setCreator(f"Stillpedal {version()}")
    plain = open_type(writer)
    for scale in SCALES:
        letters = replace(plain, scale=plain.scale * scale)
        maker = Maker(letters, SIDE, width - 2 * SIDE, height - TOP - BOTTOM, scale)
        pages = paginate(maker.strips(document), TOP, height - BOTTOM)
        if len(pages) <= MOST_PAGES:
            break
    painter = QPainter(writer)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for number, page in enumerate(pages, start=1):
        if number > 1:
            writer.newPage()
        for y, strip in page:
            strip.paint(painter, y)
        _foot(painter, letters, maker, document, number, len(pages), height)
    painter.end()
    buffer.close()
    return bytes(buffer.data().data())


def paginate(strips: list[Strip], top: float, bottom: float) -> list[Page]:
    """Return the strips of each page with their heights on it, from `top` to `bottom`.

    Strips glued together stand on one page; a chunk taller than a page begins one.
    """
    pages: list[Page] = [[]]
    y = top
    index = 0
    while index < len(strips):
        end = index
        while strips[end].glued and end + 1 < len(strips):
            end += 1
        chunk = strips[index: end + 1]
        need = sum(s.before + s.height for s in chunk)
        if y + need > bottom and pages[-1]:
            pages.append([])
            y = top
            head = chunk[0].head
            if head is not None:
                pages[-1].append((y, head))
                y += head.height
        for strip in chunk:
            y += strip.before if pages[-1] else 0.0
            pages[-1].append((y, strip))
            y += strip.height
        index = end + 1
    return pages


def _foot(painter: QPainter, letters: Type, maker: Maker, document: Document, number: int,
          count: int, height: float) -> None:
    y = height - BOTTOM + 22.0
    maker.rule(painter, y, SOFT, 0.35)
    letters.draw(painter, "foot", maker.left, y + 4.0, document.foot, SOFT)
    letters.draw(painter, "foot", maker.left + maker.width, y + 4.0,
                 f"page {number} of {count}", SOFT, 1.0)
