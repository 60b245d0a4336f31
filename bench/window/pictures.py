"""Pictures of what is seen in a plot: onto the clipboard, into a file of their own name."""

from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QColor, QImage, QImageWriter, QPainter
from PySide6.QtWidgets import QApplication, QFileDialog, QWidget

from bench.errors import BenchError
from bench.services.saving import free_path, write_output
from bench.window.figure_view import FigureView
from bench.window.session import Session

# Pixels of the picture for one of the screen, so that it can be printed.
SCALE = 2.0


def picture_of(view: FigureView) -> QImage:
    """Return what the view shows, twice as fine as on the screen."""
    size = view.size()
    image = QImage(size * SCALE, QImage.Format.Format_ARGB32)
    image.setDevicePixelRatio(SCALE)
    image.fill(QColor(view.look.background))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    view.render(painter)
    painter.end()
    return image


def copy_picture(session: Session, view: FigureView) -> None:
    """Put what the view shows onto the clipboard."""
    QApplication.clipboard().setImage(picture_of(view))
    session.notify("Copied the picture.", "good")


def save_picture(session: Session, view: FigureView, parent: QWidget) -> Path | None:
    """Ask for a name and save what the view shows there; nothing is ever written over."""
    part = view.name + (f"-{view.column}" if view.column else "")
    source = session.path
    usual = (source.with_name(f"{source.stem}-{part}.png") if source is not None
             else Path.home() / f"{part}.png")
    chosen, _ = QFileDialog.getSaveFileName(parent, "Save the picture", str(free_path(usual)),
                                            "Pictures (*.png)")
    if not chosen:
        return None
    target = Path(chosen)
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, QByteArray(b"PNG")).write(picture_of(view))
    try:
        made = write_output(target if target.suffix else target.with_suffix(".png"),
                            bytes(buffer.data().data()), number=True)
    except BenchError as error:
        session.trouble(str(error))
        return None
    session.notify(f"Saved {made}", "good")
    return made
