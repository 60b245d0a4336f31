"""Sizes in ems of the window's text: whoever sets a larger font gets larger fields and gaps."""

from PySide6.QtGui import QFontInfo
from PySide6.QtWidgets import QApplication


def em(count: float) -> int:
    """Return so many ems of the window's text in pixels; 1 em is 12 pixels at the usual size."""
    return round(count * QFontInfo(QApplication.font()).pixelSize())
