"""Pieces of a page of plain text."""

import math
import textwrap

WIDTH = 78


def number(value: float, digits: int, unit: str = "") -> str:
    """Return the value with so many digits and its unit, or a dash where it is not known.

    What rounds to nothing has no sign.
    """
    if not math.isfinite(value):
        return "-"
    return f"{value:z.{digits}f}" + (f" {unit}" if unit else "")


def many(count: int, name: str) -> str:
    """Return the count with the name of what is counted, in the plural but for one."""
    return f"{count} {name}" + ("" if count == 1 else "s")


def wrapped(text: str, bullet: str) -> list[str]:
    """Return the text in lines of WIDTH, after a bullet, the others below its text."""
    return textwrap.wrap(text, WIDTH, initial_indent=bullet,
                         subsequent_indent=" " * len(bullet) if bullet else "    ")
