"""The plots, drawn alike in the window and on paper.

`FIGURES` names them; `draw` fills a plot, `svg` returns one as an SVG document, `svg_of` what
any function draws. The figures of kind `per_track` need a column. What is asked of this module
loads Qt and the plotting library, then and not before: ask only inside a function, or in a module
that is loaded only where there are plots.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from bench.plots.catalogue import FIGURES, Figure, columns, draw, title_for
    from bench.plots.look import NIGHT, PAPER, Look
    from bench.plots.paper import png, svg, svg_of
    from bench.plots.pointing import point_at

__all__ = [
    "FIGURES", "NIGHT", "PAPER", "Figure", "Look", "columns", "draw", "png", "point_at", "svg",
    "svg_of", "title_for",
]
_HOMES = {"FIGURES": "catalogue", "Figure": "catalogue", "columns": "catalogue",
          "draw": "catalogue", "title_for": "catalogue",
          "NIGHT": "look", "PAPER": "look", "Look": "look", "png": "paper",
          "svg": "paper", "svg_of": "paper", "point_at": "pointing"}


def __getattr__(name: str) -> Any:
    """Load the module that has what is asked for (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
