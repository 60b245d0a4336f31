"""Pieces of a page of plain text."""

import math
import textwrap

WIDTH = 78


def number(value: float, digits: int, unit: str = "") -> str:
    """Return the value with so many digits and its unit, or a dash where it is not known."""
    if not math.isfinite(value):
        return "-"
    return f"{value:.{digits}f}" + (f" {unit}" if unit else "")


def wrapped(text: str, bullet: str) -> list[str]:
    """Return the text in lines of WIDTH, after a bullet, the others below its text."""
    return textwrap.wrap(text, WIDTH, initial_indent=bullet,
                         subsequent_indent=" " * len(bullet) if bullet else "    ")
