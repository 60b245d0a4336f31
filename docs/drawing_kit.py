"""The parts that the drawings of docs/wiring/ are made of, and a drawing as a picture.

A drawing is plain SVG: the same call gives the same bytes. Which drawings there are, and every
value in them, stands in docs/make_drawings.py.
"""

from collections.abc import Sequence
from pathlib import Path

STYLE = (
    ".w{fill:none;stroke:#222;stroke-width:2;stroke-linecap:round;stroke-linejoin:round}"
    ".x{stroke-dasharray:7 5}.c{fill:#fff;stroke:#222;stroke-width:2}"
    ".b{fill:#eef3f7;stroke:#45627a;stroke-width:2}.z{fill:#fdf1e3;stroke:#b3651b;stroke-width:2}"
    ".p{fill:#fff;stroke:#45627a;stroke-width:2}.t,.h,.n,.r{font-family:sans-serif;font-size:14px;fill:#222}"
    ".h,.r{font-weight:bold}.n{font-style:italic;font-size:13px;fill:#444}.r{fill:#a02020}")


class Drawing:
    """Collect the parts of one drawing; x to the right and y downwards, in pixels."""

    def __init__(self, width: int, height: int, title: str) -> None:
        self.parts = [
            f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width} {height}' "
            f"width='{width}' height='{height}' role='img' aria-label='{title}'>",
            f"<title>{title}</title>", f"<style>{STYLE}</style>",
            f"<rect width='{width}' height='{height}' fill='#fff'/>"]
        self.terminals: list[str] = []

    def text(self, x: float, y: float, words: str, kind: str = "t", anchor: str = "start") -> None:
        """Write words; kind: t plain, h heading, n note, r danger."""
        words = words.replace("&", "&amp;").replace("<", "&lt;")
        self.parts.append(f"<text class='{kind}' x='{x:g}' y='{y:g}' text-anchor='{anchor}'>"
                          f"{words}</text>")

    def wire(self, *points: tuple[float, float], dashed: bool = False) -> None:
        """Draw a wire along points."""
        along = " ".join(f"{x:g},{y:g}" for x, y in points)
        self.parts.append(f"<polyline class='w{' x' if dashed else ''}' points='{along}'/>")

    def dot(self, x: float, y: float) -> None:
        """Draw a joint."""
        self.parts.append(f"<circle cx='{x:g}' cy='{y:g}' r='3.5'/>")

    def box(self, x: float, y: float, width: float, height: float, title: str,
            kind: str = "b") -> None:
        """Draw a box with its title at the top."""
        self.parts.append(f"<rect class='{kind}' x='{x:g}' y='{y:g}' width='{width:g}' "
                          f"height='{height:g}' rx='6'/>")
        self.text(x + width / 2, y + 20, title, "h", "middle")

    def pin(self, x: float, y: float, name: str, inside: str = "right") -> None:
        """Draw a terminal on the edge of a box, its name inside it."""
        self.terminals.append(f"<circle class='p' cx='{x:g}' cy='{y:g}' r='5'/>")
        right = inside == "right"
        self.text(x + (12 if right else -12), y + 5, name, anchor="start" if right else "end")

    def part(self, x: float, y: float, ends: float, name: str, fuse: bool = False) -> None:
        """Draw a resistor, or a fuse, lying from x to ends, its value above it."""
        self.wire((x, y), (x + 7, y))
        self.wire((ends - 7, y), (ends, y))
        self.parts.append(f"<rect class='c' x='{x + 7:g}' y='{y - 8:g}' "
                          f"width='{ends - x - 14:g}' height='16'/>")
        if fuse:
            self.wire((x + 7, y), (ends - 7, y))
        self.text((x + ends) / 2, y - 14, name, anchor="middle")

    def down(self, x: float, y: float, name: str, stops: float) -> None:
        """Draw a resistor standing from y down to stops, its value to the right."""
        self.wire((x, y), (x, y + 7))
        self.wire((x, stops - 7), (x, stops))
        self.parts.append(f"<rect class='c' x='{x - 8:g}' y='{y + 7:g}' width='16' "
                          f"height='{stops - y - 14:g}'/>")
        self.text(x + 13, (y + stops) / 2 + 5, name)

    def capacitor(self, x: float, y: float, name: str, stops: float) -> None:
        """Draw a capacitor standing from y down to stops, its value to the right."""
        middle = (y + stops) / 2
        self.wire((x, y), (x, middle - 4))
        self.wire((x, middle + 4), (x, stops))
        self.wire((x - 12, middle - 4), (x + 12, middle - 4))
        self.wire((x - 12, middle + 4), (x + 12, middle + 4))
        self.text(x + 17, middle + 5, name)

    def ground(self, x: float, y: float) -> None:
        """Draw the sign of the board's 0 V, hanging from y."""
        for k, half in enumerate((11, 7, 3)):
            self.wire((x - half, y + 5 * k), (x + half, y + 5 * k))

    def track(self, x: float, top: float, bottom: float, name: str) -> float:
        """Draw a potentiometer, its wiper to the right, and return the wiper's y."""
        self.wire((x, top), (x, top + 8))
        self.wire((x, bottom - 8), (x, bottom))
        self.parts.append(f"<rect class='c' x='{x - 8:g}' y='{top + 8:g}' width='16' "
                          f"height='{bottom - top - 16:g}'/>")
        middle = (top + bottom) / 2
        self.text(x - 14, middle + 5, name, anchor="end")
        self.parts.append(f"<path d='M{x + 9:g},{middle:g} l10,-5 v10 z'/>")
        return middle

    def notes(self, y: float, lines: Sequence[str], step: float = 22) -> None:
        """Write notes one below another, the first at y."""
        for k, line in enumerate(lines):
            self.text(20, y + step * k, line, "n")

    def done(self) -> str:
        """Return the drawing as SVG."""
        return "\n".join([*self.parts, *self.terminals, "</svg>"]) + "\n"


def as_png(svg: str, path: Path) -> None:
    """Write a drawing as a picture, to look at it."""
    from PySide6.QtCore import QByteArray
    from PySide6.QtGui import QGuiApplication, QImage, QPainter
    from PySide6.QtSvg import QSvgRenderer

    keep = QGuiApplication.instance() or QGuiApplication(["", "-platform", "offscreen"])
    renderer = QSvgRenderer(QByteArray(svg.encode()))
    image = QImage(renderer.defaultSize(), QImage.Format.Format_RGB32)
    painter = QPainter(image)
    renderer.render(painter)
    painter.end()
    image.save(str(path))
    del keep
