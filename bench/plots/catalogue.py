"""The figures by name: the one table that window and report read."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import pyqtgraph as pg

from analysis.pedal.findings import Findings
from bench.errors import BadCall
from bench.plots import sweep
from bench.plots.along_travel import along_title, along_travel
from bench.plots.budget import budget, budget_title, budgets
from bench.plots.fitting import fit
from bench.plots.ranges import plain_axes
from bench.plots.response import response, response_title
from bench.plots.style import Look
from bench.plots.titles import (
    Title,
    mismatch_title,
    noise_title,
    pair_title,
    play_title,
    rest_title,
    traces_title,
)


@dataclass(frozen=True)
class Figure:
    """Hold one figure, and where it stands.

    title: its name where no recording is open. told: its title of findings and, drawn per track,
    a column; None takes the name.
    per_track: drawn once per track; needs_pair: says so without two tracks.
    thins: long data can be reduced once and for all.
    x_axis: "time_s" or "travel_percent" where places on it can be pointed at, else "".
    in_window: on the page Read "always", or "before" all others where an earlier recording is
    there; "" is not there. on_paper: the words below it in a report's "What was measured", and
    before_after: in that of two recordings; "" where it has no place, or one of its own.
    wide: takes a row of the paper for itself.
    """

    title: str
    fill: Callable[..., None]
    told: Callable[..., Title] | None = None
    per_track: bool = False
    needs_pair: bool = False
    x_axis: str = ""
    thins: bool = False
    in_window: Literal["", "always", "before"] = "always"
    on_paper: str = ""
    before_after: str = ""
    wide: bool = False


# In the order of window and paper.
FIGURES: dict[str, Figure] = {
    "traces": Figure(
        "Traces, segments shaded", sweep.traces, traces_title, x_axis="time_s", thins=True,
        on_paper="The sweep over time.", wide=True,
        before_after="The sweep after; the sweep before is drawn pale."),
    "pair": Figure(
        "Track against track", sweep.track_against_track, pair_title, needs_pair=True, thins=True,
        on_paper="Track against track with the fitted line."),
    "mismatch": Figure(
        "Mismatch along travel", sweep.mismatch, mismatch_title, needs_pair=True,
        x_axis="travel_percent", on_paper="Difference of the tracks along travel.",
        before_after="Difference of the tracks along travel."),
    "play": Figure(
        "Play along travel", sweep.press_against_release, play_title, needs_pair=True,
        x_axis="travel_percent",
        on_paper="The difference on the way in against that on the way back."),
    "noise": Figure(
        "Noise along travel", sweep.noise, noise_title, x_axis="travel_percent",
        on_paper="Noise along travel: a worn place stands out.",
        before_after="Noise along travel."),
    "rest": Figure("Rest readings and dead band", sweep.rest_readings, rest_title, per_track=True),
    "budget": Figure("What can lift the rest reading", budget, budget_title, per_track=True,
                     in_window=""),
    "budgets": Figure("What can lift the rest readings of all tracks", budgets, in_window=""),
    "response": Figure("Demand along travel", response, response_title, x_axis="travel_percent"),
    "along": Figure("Volts along travel", along_travel, along_title, x_axis="travel_percent",
                    in_window="before"),
}


def title_for(name: str, findings: Findings, column: str | None = None) -> Title:
    """Return the title of the figure of that name; column: of a figure drawn per track."""
    figure = FIGURES[name]
    if figure.told is None:
        return Title(figure.title)
    return figure.told(findings, column or "")


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
