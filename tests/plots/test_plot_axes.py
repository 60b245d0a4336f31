"""Axes read well: whole numbers where things are counted, no mark written over another."""

import itertools
import math

import numpy as np
import pyqtgraph as pg
import pytest
from findings_by_hand import SAMPLES
from plot_findings_by_hand import findings
from PySide6.QtGui import QFont, QFontMetricsF
from PySide6.QtWidgets import QApplication

from analysis.key_on import analyse_key_on
from analysis.pedal.findings import analyse
from bench.files.recording_file import read_recording
from bench.plots import PAPER, draw
from bench.plots.key_on import draw_key_on
from bench.plots.ranges import plain_number, readable_decades, whole_numbers


@pytest.fixture
def plot(plot_page):
    plot_page.resize(300, 240)
    return plot_page.addPlot(enableMenu=False)


def painted(plot):
    view = plot.scene().views()[0]
    for _ in range(2):
        view.grab()
        QApplication.processEvents()


@pytest.mark.parametrize("high", [1.5, 2.5, 3.5, 10.5, 34.5, 500.5])
@pytest.mark.parametrize("size", [60.0, 140.0, 400.0, 1200.0])
def test_what_is_counted_has_whole_marks_with_room_between(qtbot, high, size):
    """Marks are whole numbers, at least one, and each has room for its digits at 8 points.

    Room of a text as Qt measures it.
    """
    axis = pg.AxisItem("bottom")
    whole_numbers(axis)
    marks = [v for _, values in axis.tickValues(0.5, high, size) for v in values]
    assert marks
    assert all(v == int(v) for v in marks)
    font = QFont()
    font.setPointSizeF(8)
    widest = max(QFontMetricsF(font).horizontalAdvance(f"{v:.0f}") for v in marks)
    for left, right in itertools.pairwise(sorted(marks)):
        assert (right - left) / (high - 0.5) * size >= widest


@pytest.mark.parametrize(("low", "high"), [(0.4, 250.0), (0.001, 1e5), (20.0, 90.0),
                                           (37.0, 41.0), (1.0, 1e12)])
@pytest.mark.parametrize("size", [90.0, 200.0, 600.0])
def test_marks_of_a_logarithmic_axis_never_touch(qtbot, low, high, size):
    """Whatever range and size: neighbours are as far apart as their texts are wide."""
    axis = pg.AxisItem("bottom")
    axis.setLogMode(True)
    readable_decades(axis, 44.0)
    values = [v for _, found in axis.tickValues(math.log10(low), math.log10(high), size)
              for v in found]
    texts = axis.tickStrings(values, 1.0, None)
    font = QFont()
    font.setPointSizeF(8)
    measure = QFontMetricsF(font)
    places = [(v - math.log10(low)) / math.log10(high / low) * size for v in values]
    for (at, text), (after, other) in itertools.pairwise(zip(places, texts, strict=True)):
        wide = measure.horizontalAdvance(text) + measure.horizontalAdvance(other)
        assert after - at >= wide / 2
    if size > 90.0:
        assert len(values) > 1


def test_numbers_are_written_as_a_person_writes_them():
    """1000 and not 1e+03 (the marks of a frequency axis are read by people with screwdrivers)."""
    assert [plain_number(v) for v in (0.5, 1.0, 20.0, 1000.0, 20000.0, 1e9)] == [
        "0.5", "1", "20", "1000", "20 000", "1e+09"]


def test_return_numbers_are_whole(plot):
    """Two returns are numbered 1 and 2, never 1.5."""
    draw("rest", plot, findings(), PAPER.small(), column="a")
    painted(plot)
    axis = plot.getAxis("bottom")
    marks = [v for _, values in axis.tickValues(0.5, 2.5, axis.width()) for v in values]
    assert marks == [1.0, 2.0]


def test_starts_of_travel_are_not_written_over_each_other(plot):
    """Both levels of the log are named, in view, and their names do not meet."""
    swept = analyse(read_recording(SAMPLES / "synthetic_healthy_pair.csv"))
    log = analyse_key_on(read_recording(SAMPLES / "synthetic_key_on_one_track_lifts.csv"),
                         swept.parameters, (), swept)
    judged = {c: t.start_of_travel_volts for c, t in log.verdict.tracks.items()}
    draw_key_on("log", plot, log, PAPER.small())
    painted(plot)
    labels = [text for _, text in plot.legend.items if text.text.startswith("start of travel")]
    assert len(labels) == len([v for v in judged.values() if np.isfinite(v)]) == 2
    boxes = [label.mapRectToScene(label.boundingRect()) for label in labels]
    for first, second in itertools.combinations(boxes, 2):
        assert not first.adjusted(1, 1, -1, -1).intersects(second)
    # Beside its level a name would lie over readings.
    seen = plot.getViewBox().sceneBoundingRect()
    assert not any(seen.adjusted(1, 1, -1, -1).intersects(box) for box in boxes)
    low, high = plot.viewRange()[1]
    assert all(low < v < high for v in judged.values() if np.isfinite(v))
