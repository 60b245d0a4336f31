"""The figures by name: the one table that window and report read."""

from collections.abc import Callable
from dataclasses import dataclass

import pyqtgraph as pg

from analysis.pedal.findings import Findings
from bench.errors import BadCall
from bench.plots import sweep
from bench.plots.along_travel import along_travel
from bench.plots.budget import budget, budgets
from bench.plots.fitting import fit
from bench.plots.ranges import plain_axes
from bench.plots.response import response
from bench.plots.style import Look


@dataclass(frozen=True)
class Figure:
    """Hold one figure. per_track: drawn once per track; needs_pair: says so without two tracks.

    thins: long data can be reduced once and for all.
    x_axis: "time_s" or "travel_percent" where places on it can be pointed at, else "".
    """

    title: str
    fill: Callable[..., None]
    per_track: bool = False
    needs_pair: bool = False
    x_axis: str = ""
    thins: bool = False


FIGURES: dict[str, Figure] = {
    "traces": Figure("Traces, segments shaded", sweep.traces, x_axis="time_s", thins=True),
    "pair": Figure("Track against track", sweep.track_against_track, needs_pair=True,
                   thins=True),
    "mismatch": Figure("Mismatch along travel", sweep.mismatch, needs_pair=True,
                       x_axis="travel_percent"),
    "rest": Figure("Rest readings and dead band", sweep.rest_readings, per_track=True),
    "noise": Figure("Noise along travel", sweep.noise, x_axis="travel_percent"),
    "play": Figure("Press against release", sweep.press_against_release, needs_pair=True,
                   x_axis="travel_percent"),
    "budget": Figure("What can lift the rest reading", budget, per_track=True),
    "budgets": Figure("What can lift the rest readings of all tracks", budgets),
    "response": Figure("Demand along travel", response, x_axis="travel_percent"),
    "along": Figure("Volts along travel", along_travel, x_axis="travel_percent"),
}


def columns(findings: Findings) -> list[str]:
    """Return the tracks a per-track figure can be drawn for, in the recording's order."""
    return [name for name in sweep.names(findings) if name in findings.tracks]


def draw(name: str, plot: pg.PlotItem, findings: Findings, look: Look, *,
         column: str | None = None, before: Findings | None = None, thin: bool = False) -> None:
    """Fill a plot with the figure of that name; raise BadCall on an unknown name.

    Whatever the plot held before is taken out.

    column: the track, for figures of kind per_track (default: the first).
    before: an earlier recording of the same pedal, drawn pale on the same axes.
    thin: reduce long data once and for all; for paper.
    """
    figure = FIGURES.get(name)
    if figure is None:
        raise BadCall(f"no figure {name!r}; there are {', '.join(FIGURES)}")
    more: dict[str, object] = {"before": before}
    if figure.per_track:
        there = columns(findings)
        if column is None and there:
            column = there[0]
        if column not in there:
            raise BadCall(f"no track {column!r} in these findings; there are {', '.join(there)}")
        more["column"] = column
    if figure.thins:
        more["thin"] = thin
    plot.clear()
    plain_axes(plot)
    plot.enableAutoRange()
    if plot.legend is not None:
        plot.legend.clear()
    figure.fill(plot, findings, look, **more)
    fit(plot)
