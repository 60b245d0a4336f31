"""The plots, drawn alike in the window and on paper.

`FIGURES` names them; `draw` fills a plot, `svg` returns one as an SVG document, `svg_of` what
any function draws. The figures of kind `per_track` need a column. Loading this module loads Qt:
load it only inside a function.
"""

from bench.plots.catalogue import FIGURES, Figure, columns, draw
from bench.plots.paper import png, svg, svg_of
from bench.plots.pointing import point_at
from bench.plots.style import NIGHT, PAPER, Look

__all__ = [
    "FIGURES", "NIGHT", "PAPER", "Figure", "Look", "columns", "draw", "png", "point_at", "svg",
    "svg_of",
]
