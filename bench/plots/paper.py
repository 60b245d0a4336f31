"""A figure as a document of its own: SVG for the report, PNG for saving what is seen."""

import html
import itertools
import os
import re
import sys

import pyqtgraph as pg
import pyqtgraph.exporters
from PySide6.QtCore import QBuffer, QIODevice, QRectF
from PySide6.QtGui import QColor, QFont, QGuiApplication, QImage, QPainter
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


def _page(name: str, findings: Findings, size: tuple[int, int], look: Look,
          column: str | None, before: Findings | None) -> pg.GraphicsLayoutWidget:
    ensure_application()
    page = pg.GraphicsLayoutWidget()
    page.setBackground(QColor(look.background))
    page.resize(*size)
    plot = page.addPlot()
    draw(name, plot, findings, look, column=column, before=before, thin=True)
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
    page = _page(name, findings, size, look, column, before)
    try:
        exporter = pg.exporters.SVGExporter(page.scene())
        return _own(bytes(exporter.export(toBytes=True)).decode("utf-8"), name, column)
    finally:
        page.close()


def _own(text: str, name: str, column: str | None) -> str:
    """Return the document with its title, and ids that stay unique when several are inlined."""
    prefix = f"{name}{next(_counter)}_"
    title = FIGURES[name].title + (f": {column}" if column else "")
    text = re.sub(r"<title>.*?</title>", f"<title>{html.escape(title)}</title>", text, count=1)
    text = re.sub(r"<desc>.*?</desc>\n?", "", text, count=1)
    text = re.sub(r'\bid="', f'id="{prefix}', text)
    return without_controls(text.replace("url(#", f"url(#{prefix}"))


def png(name: str, findings: Findings, size: tuple[int, int] = (900, 420), look: Look = PAPER, *,
        column: str | None = None, before: Findings | None = None, scale: float = 2.0) -> bytes:
    """Return the figure as PNG bytes, `scale` pixels per pixel of `size`."""
    page = _page(name, findings, size, look, column, before)
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
    image.save(buffer, "PNG")
    return bytes(buffer.data().data())
