"""Point every figure at one fault: its time, its travel, its readings, the rest before it."""

import numpy as np
import pyqtgraph as pg
from PySide6.QtGui import QColor

from analysis.pedal.faults import Fault
from analysis.pedal.findings import Findings
from bench.plots.catalogue import FIGURES
from bench.plots.marks import cells
from bench.plots.ranges import drawable, known, show_x
from bench.plots.style import DOTTED, Look, line

# Seconds shown around a fault, so that the stroke it lies in can be recognised.
AROUND_S = 1.0


def window_of(fault: Fault) -> tuple[float, float]:
    """Return the stretch of time in seconds to look at for a fault; NaN when it has no time."""
    room = max(AROUND_S, 0.5 * (fault.end_s - fault.time_s))
    return fault.time_s - room, fault.end_s + room


def point_at(name: str, plot: pg.PlotItem, findings: Findings, fault: Fault, look: Look, *,
             column: str | None = None) -> list[pg.GraphicsObject]:
    """Mark a fault in the figure of that name and return the marks, for taking them out again.

    The traces move to the fault's time; on the other figures the place is marked.
    """
    axis = FIGURES[name].x_axis
    marks: list[pg.GraphicsObject] = []
    if axis == "time_s":
        low, high = window_of(fault)
        show_x(plot, low, high)
        marks = _upright(fault.time_s, look)
    elif axis == "travel_percent":
        marks = _upright(fault.travel_percent, look)
    elif name == "pair":
        marks = _readings(findings, fault, look)
    elif name == "rest" and column is not None:
        marks = _rest_before(findings, fault, look, column)
    for mark in marks:
        plot.addItem(mark, ignoreBounds=True)
    return marks


def _upright(at: float, look: Look) -> list[pg.GraphicsObject]:
    if not known(at):
        return []
    return [pg.InfiniteLine(at, angle=90, pen=line(look.fault, DOTTED, 2))]


def _readings(findings: Findings, fault: Fault, look: Look) -> list[pg.GraphicsObject]:
    pair, recording = findings.pair, findings.recording
    if pair is None or not known(fault.time_s):
        return []
    first, last = np.searchsorted(recording.time_s, (fault.time_s, fault.end_s))
    rows = slice(max(int(first) - 1, 0), int(last) + 1)
    x = recording.stated_volts(recording.channel(pair.first))[rows]
    y = recording.stated_volts(recording.channel(pair.second))[rows]
    x, y = cells(drawable(x), drawable(y), 200)
    return [pg.ScatterPlotItem(x, y, symbol="o", size=9, brush=None, pen=line(look.fault))]


def _rest_before(findings: Findings, fault: Fault, look: Look,
                 column: str) -> list[pg.GraphicsObject]:
    track = findings.tracks[column]
    earlier = np.flatnonzero(track.rest_times_s <= fault.time_s)
    if not earlier.size:
        return []
    at = int(earlier[-1])
    if not known(track.rest_levels[at]):
        return []
    return [pg.ScatterPlotItem([at + 1], [track.rest_levels[at]], symbol="o", size=16,
                               brush=None, pen=line(QColor(look.fault), width=2))]
