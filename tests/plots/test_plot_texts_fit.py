"""Texts of figures stay whole inside their plots, and nothing is drawn that is not known."""

import numpy as np
import pyqtgraph as pg
import pytest
from findings_by_hand import SAMPLES
from PySide6.QtWidgets import QApplication

from analysis.pedal.findings import analyse
from bench.files.recording_file import read_recording
from bench.plots import draw
from bench.plots.calibration import draw_points, draw_residuals
from bench.plots.style import PAPER
from bench.window.app import application


@pytest.fixture(scope="module")
def lone():
    return analyse(read_recording(SAMPLES / "synthetic_one_track.csv"))


def shown_plot(qtbot, width, height=230):
    """Return a view of that size on the screen, to be held on to, and its plot."""
    application()
    view = pg.GraphicsLayoutWidget()
    qtbot.addWidget(view)
    view.resize(width, height)
    view.ci.layout.setContentsMargins(4, 4, 8, 2)
    view.show()
    plot = view.addPlot(enableMenu=False)
    QApplication.processEvents()
    return view, plot


def inside(plot, item):
    """Say whether a text lies whole between the left and the right edge of the plot's frame."""
    frame = plot.getViewBox().sceneBoundingRect()
    text = item.mapRectToScene(item.boundingRect())
    return text.left() >= frame.left() - 1 and text.right() <= frame.right() + 1


@pytest.mark.parametrize("width", [200, 230, 300, 600])
def test_levels_are_named_below_the_plot_where_they_cover_no_reading(qtbot, lone, width):
    """Start of travel, release and rest are read whole at every width, and no text is in the plot.
    """
    _view, plot = shown_plot(qtbot, width)
    draw("rest", plot, lone, PAPER.small(), column="a")
    QApplication.processEvents()
    names = [label for _, label in plot.legend.items]
    assert {n.text.split()[0] for n in names} == {"start", "release", "rest", "at"}
    frame = plot.mapRectToScene(plot.boundingRect())
    for name in names:
        box = name.item.mapRectToScene(name.item.boundingRect())
        assert box.left() >= frame.left()
        assert box.right() <= frame.right() + 1
        assert not box.intersects(plot.getViewBox().sceneBoundingRect())
    assert not [i for i in plot.getViewBox().allChildren()
                if isinstance(i, pg.TextItem | pg.InfLineLabel) and i.isVisible()]


@pytest.mark.parametrize("drawing", [draw_points, draw_residuals])
@pytest.mark.parametrize("width", [200, 223, 500])
def test_what_is_missing_is_said_inside_the_plot(qtbot, drawing, width):
    """The sentence in an empty plot is broken into lines rather than cut, and follows its size."""
    view, plot = shown_plot(qtbot, 700)
    drawing(plot, None, PAPER.small())
    view.resize(width, 250)
    qtbot.waitUntil(lambda: plot.getViewBox().width() < width)
    QApplication.processEvents()
    texts = [i for i in plot.items if isinstance(i, pg.TextItem)]
    assert len(texts) == 1
    assert inside(plot, texts[0])


def test_noise_of_a_lone_track_is_drawn_only_where_it_is_held(qtbot, lone):
    """The simulated noise is the same everywhere; between the ends the ripple is the foot's."""
    _view, plot = shown_plot(qtbot, 400)
    draw("noise", plot, lone, PAPER)
    curves = [i for i in plot.items if isinstance(i, pg.PlotDataItem)]
    assert not curves
    dots = next(i for i in plot.items if isinstance(i, pg.ScatterPlotItem))
    travel, volts = dots.getData()
    assert travel.size
    assert np.all((travel < 2.5) | (travel > 97.5))
    # Noise at rest as the level readings there have it: not ten times that.
    assert np.all(volts < 3000 * lone.tracks["a"].noise_volts)
    said = [i.textItem.toPlainText() for i in plot.items if isinstance(i, pg.TextItem)]
    assert any("cannot tell noise" in text for text in said)
