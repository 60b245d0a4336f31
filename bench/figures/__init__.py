"""The plots, drawn alike in the window and on paper.

`FIGURES` names them; `draw` fills a plot, `svg` returns one as an SVG document. The figures of
kind `per_track` need a column. Loading this module loads Qt: load it only inside a function.
"""

from bench.figures.catalogue import FIGURES, Figure, columns, draw
from bench.figures.look import NIGHT, PAPER, Look
from bench.figures.paper import png, svg
from bench.figures.pointing import point_at

__all__ = [
    "FIGURES", "NIGHT", "PAPER", "Figure", "Look", "columns", "draw", "png", "point_at", "svg",
]
