"""A figure as a document of its own: SVG for the report, PNG for saving what is seen."""

import html
import itertools
import os
import re
import sys
from collections.abc import Callable

import pyqtgraph as pg
import pyqtgraph.exporters
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF
from PySide6.QtGui import QColor, QFont, QGuiApplication, QImage, QImageWriter, QPainter
from PySide6.QtWidgets import QApplication

from analysis.pedal.findings import Findings
from bench.plots.catalogue import FIGURES, draw
from bench.plots.fonts import own_family
from bench.plots.style import PAPER, Look
from bench.wording.shell_quote import without_controls

# Kept for the life of the process: Qt may not see its application collected and made again.
_application: list[QApplication] = []
_counter = itertools.count(1)


def ensure_application() -> None:
    """Start Qt for painting only, without a screen, unless a window did so already."""
    if QGuiApplication.instance() is None:
        if sys.platform.startswith("linux"):
            os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        app = QApplication(["stillpedal"])
        _application.append(app)
        # Nobody looks at a window of this process: what it draws is read on other machines.
        app.setFont(QFont(own_family() or app.font().family()))


def _page(fill: Callable[[pg.PlotItem], None], size: tuple[int, int],
          look: Look) -> pg.GraphicsLayoutWidget:
    ensure_application()
    page = pg.GraphicsLayoutWidget()
    page.setBackground(QColor(look.background))
    page.resize(*size)
    fill(page.addPlot(enableMenu=False))
    # Layout, ranges and label places settle in the event loop; two turns are enough.
    page.grab()
    QApplication.processEvents()
    page.grab()
    return page


def svg(name: str, findings: Findings, size: tuple[int, int] = (900, 420), look: Look = PAPER, *,
        column: str | None = None, before: Findings | None = None) -> str:
    """Return the figure as an SVG document of `size` (width, height) in pixels of 1/96 inch.

    Raise BadCall on an unknown figure or track. See `bench.plots.draw` for the rest.
    """
    def fill(plot: pg.PlotItem) -> None:
        draw(name, plot, findings, look, column=column, before=before, thin=True)

    title = FIGURES[name].title if name in FIGURES else name
    return svg_of(fill, title + (f": {column}" if column else ""), size, look)


def svg_of(fill: Callable[[pg.PlotItem], None], title: str, size: tuple[int, int] = (900, 420),
           look: Look = PAPER) -> str:
    """Return what `fill` draws into a plot as an SVG document, an image of that title."""
    page = _page(fill, size, look)
    try:
        exporter = pg.exporters.SVGExporter(page.scene())
        return _own(bytes(exporter.export(toBytes=True)).decode("utf-8"), title)
    finally:
        page.close()


def _own(text: str, title: str) -> str:
    """Return the document as one named image, with ids unique when several stand in a page."""
    prefix = f"figure{next(_counter)}_"
    text = re.sub(r"<title>.*?</title>", "", text, count=1)
    text = re.sub(r"<desc>.*?</desc>\n?", "", text, count=1)
    text = re.sub(r'\bid="', f'id="{prefix}', text)
    text = text.replace("url(#", f"url(#{prefix}")
    name = f"{prefix}title"
    text = re.sub(r"<svg\b([^>]*)>", lambda found: (
        f'<svg{found[1]} role="img" aria-labelledby="{name}">'
        f'<title id="{name}">{html.escape(title)}</title>'), text, count=1)
    return without_controls(text)


def png(name: str, findings: Findings, size: tuple[int, int] = (900, 420), look: Look = PAPER, *,
        column: str | None = None, before: Findings | None = None, scale: float = 2.0) -> bytes:
    """Return the figure as PNG bytes, `scale` pixels per pixel of `size`."""
    page = _page(lambda plot: draw(name, plot, findings, look, column=column, before=before,
                                   thin=True), size, look)
    image = QImage(round(size[0] * scale), round(size[1] * scale),
                   QImage.Format.Format_ARGB32)
    image.fill(QColor(look.background))
    image.setDevicePixelRatio(scale)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    page.render(painter, QRectF(0, 0, *size))
    painter.end()
    page.close()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, QByteArray(b"PNG")).write(image)
    return bytes(buffer.data().data())
