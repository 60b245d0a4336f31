"""The figures of a key-on log: the log, what each key-on did, and the noise's spectrum."""

from collections.abc import Callable

import numpy as np
import pyqtgraph as pg
from PySide6.QtGui import QColor

from analysis.key_on import KeyOnFindings
from bench.errors import BadCall
from bench.plots.fitting import fit
from bench.plots.gaps import hatch, name_hatched, without
from bench.plots.marks import SEEN_POINTS, Stretches, level, named_level
from bench.plots.ranges import (
    HIGH_LABEL,
    WIDE_LABEL,
    drawable,
    known,
    plain_axes,
    readable_decades,
    show_x,
    show_y,
    whole_numbers,
)
from bench.plots.readings import readings_of
from bench.plots.style import DOTTED, SOLID, Look, dress, line, say, tint


def log(plot: pg.PlotItem, findings: KeyOnFindings, look: Look) -> None:
    """Draw the tracks over the whole log, key-on shaded, with each track's start of travel."""
    dress(plot, look, "The log, key-on shaded", "time (s)", "volts at nominal supply (V)",
          "volts (V)")
    readings = readings_of(findings.recording)
    gaps = readings.gaps
    plot.addItem(Stretches([(start, end, tint(look.shade["hold"])) for c in findings.cycles
                            for start, end in without((c.on_s, c.off_s), gaps)]),
                 ignoreBounds=True)
    hatch(plot, gaps, look)
    first, last = readings.time_s[[0, -1]] if readings.time_s.size else (0.0, 0.0)
    seen: list[float] = []
    starts: list[tuple[float, int, str]] = []
    for index, column in enumerate(findings.tracks):
        x, y = readings.seen(column, float(first), float(last), SEEN_POINTS // 2)
        plot.addItem(pg.PlotDataItem(
            x, y, pen=line(look.track(index), look.track_style(index)), name=column,
            connect="all" if np.isfinite(x).all() and np.isfinite(y).all() else "finite"))
        if np.isfinite(y).any():
            seen += [float(np.nanmin(y)), float(np.nanmax(y))]
            judged = findings.verdict.tracks.get(column)
            starts += [(volts, index, column) for volts in known(
                judged.start_of_travel_volts if judged is not None else np.nan)]
    for volts, index, column in starts:
        # Named below the plot: beside its level the name would lie over readings.
        named_level(plot, look, volts, f"start of travel {column}", style=DOTTED,
                    color=look.track(index))
    name_hatched(plot, gaps, look)
    # The levels belong to the picture: how far the readings stay from them is the question.
    seen += [volts for volts, *_ in starts]
    if seen:
        room = 0.1 * (max(seen) - min(seen)) or 0.01
        show_y(plot, min(seen) - room, max(seen) + room)


def shifts(plot: pg.PlotItem, findings: KeyOnFindings, look: Look) -> None:
    """Draw what each key-on did to the settled rest of each track, with its interval."""
    dress(plot, look, ("Shift of the rest at key-on", "Shift at key-on"), "key-on number",
          "after minus before (mV)", "shift (mV)")
    for index, column in enumerate(findings.tracks):
        there = [c for c in findings.cycles if column in c.tracks]
        x = np.array([c.number for c in there]) + 0.08 * (index - 0.5)
        found = [c.tracks[column].shift for c in there]
        y = 1000.0 * drawable([s.value for s in found])
        low, high = (1000.0 * drawable([getattr(s, end) for s in found])
                     for end in ("low", "high"))
        good = np.isfinite(y) & np.isfinite(low) & np.isfinite(high)
        if good.any():
            plot.addItem(pg.ErrorBarItem(
                x=x[good], y=y[good], top=(high - y)[good], bottom=(y - low)[good], beam=0.05,
                pen=line(look.track(index))))
        seen = np.isfinite(y)
        plot.addItem(pg.ScatterPlotItem(
            x[seen], y[seen], symbol=look.track_symbol(index), size=8,
            brush=QColor(look.track(index)), pen=line(look.background), name=column))
    level(plot, look, 0.0, style=DOTTED)
    whole_numbers(plot.getAxis("bottom"))
    show_x(plot, 0.5, max(len(findings.cycles), 1) + 0.5)


def spectrum(plot: pg.PlotItem, findings: KeyOnFindings, look: Look) -> None:
    """Draw the noise's amplitude density with the key on and off, its tones named."""
    dress(plot, look, ("Noise, key on against key off", "Noise, key on and off"), "frequency (Hz)",
          "amplitude density (µV/√Hz)", "noise (µV/√Hz)")
    drawn = False
    for index, (column, track) in enumerate(findings.tracks.items()):
        for name, values, style in ((f"{column} on", track.spectrum.after, SOLID),
                                    (f"{column} off", track.spectrum.before, DOTTED)):
            hertz, density = drawable(track.spectrum.hertz), 1e6 * drawable(values)
            good = (hertz > 0) & np.isfinite(density) & (density > 0)
            if good.any():
                drawn = True
                plot.addItem(pg.PlotDataItem(
                    hertz[good], density[good], pen=line(look.track(index), style), name=name))
    if not drawn:
        say(plot, look, "Too little was logged for a spectrum.")
        return
    plot.setLogMode(x=True, y=True)
    readable_decades(plot.getAxis("bottom"), WIDE_LABEL)
    readable_decades(plot.getAxis("left"), HIGH_LABEL)
    tones = {round(t.hertz, 1): t for track in findings.tracks.values() for t in track.tones
             if known(t.hertz) and t.hertz > 0}
    for place, tone in enumerate(list(tones.values())[:4]):
        plot.addItem(pg.InfiniteLine(
            np.log10(tone.hertz), angle=90, pen=line(look.fault, DOTTED),
            label=f"{tone.hertz:.0f} Hz", labelOpts={
                # One below the other: tones may lie closer than their names are long.
                "position": 0.94 - 0.12 * place, "color": QColor(look.fault),
                "anchors": [(0, 0), (1, 0)]}),
            ignoreBounds=True)


KEY_ON_FIGURES: dict[str, tuple[str, Callable[[pg.PlotItem, KeyOnFindings, Look], None]]] = {
    "log": ("The log, key-on shaded", log),
    "shifts": ("Shift of the rest at key-on", shifts),
    "spectrum": ("Noise, key on against key off", spectrum),
}


def draw_key_on(name: str, plot: pg.PlotItem, findings: KeyOnFindings, look: Look) -> None:
    """Fill a plot with the key-on figure of that name; raise BadCall on an unknown name.

    Whatever the plot held before is taken out.
    """
    if name not in KEY_ON_FIGURES:
        raise BadCall(f"no key-on figure {name!r}; there are {', '.join(KEY_ON_FIGURES)}")
    plot.clear()
    plot.setLogMode(x=False, y=False)
    plain_axes(plot)
    plot.enableAutoRange()
    if plot.legend is not None:
        plot.legend.clear()
    KEY_ON_FIGURES[name][1](plot, findings, look)
    fit(plot)
