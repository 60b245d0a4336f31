"""What can lift the rest readings, as bars that follow on one another up to the dead band.

Solid bars were measured, hatched ones are assumed, dotted ones stated by user or standard.
"""

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QBrush, QColor

from analysis.pedal.dead_band import DeadBand
from analysis.pedal.findings import Findings
from bench.plots.ranges import known, show_x, show_y
from bench.plots.scale import scale_of
from bench.plots.style import Look, dress, line, say, tint
from bench.plots.titles import NOT_KNOWN, Title
from bench.wording.limb import limb_of

BASIS_PATTERN = {"measured": Qt.BrushStyle.SolidPattern, "assumed": Qt.BrushStyle.BDiagPattern,
                 "stated": Qt.BrushStyle.Dense6Pattern}
# What a small plot calls the longest of the items.
SHORT = {"what the controller's input adds": "the controller's input",
         "what the car adds": "the car"}
# Of the room of one row.
THICK = 0.8


def budget_title(findings: Findings, column: str) -> Title:
    dead = findings.dead_bands.get(column)
    total = dead.total_volts if dead is not None else float("nan")
    return Title(f"What can lift the rest of {column}",
                 scale_of(findings.recording).fine(total, 1) if known(total) else NOT_KNOWN)


def budget(plot: pg.PlotItem, findings: Findings, look: Look, *, column: str,
           before: Findings | None = None) -> None:
    """Draw what can lift one track's rest reading, and what each part rests on."""
    del before
    scale = scale_of(findings.recording)
    dress(plot, look, () if look.compact else budget_title(findings, column).forms,
          f"{'lift' if look.compact else _way(findings)} ({scale.small_unit})", "", key=False)
    dead = findings.dead_bands.get(column)
    if dead is None or not dead.items:
        say(plot, look, "There is no dead band to account for.")
        return
    # In a small plot the pattern alone tells the basis: the bars need the room.
    names = [(SHORT.get(i.name, i.name) if look.compact and known(i.volts) else
              f"{i.name} ({i.basis if known(i.volts) else NOT_KNOWN})") for i in dead.items]
    total = (f"dead band {scale.fine(dead.total_volts, 1)}" if known(dead.total_volts)
             else f"dead band {NOT_KNOWN}")
    _staircases(plot, findings, look, [column])
    plot.getAxis("left").setTicks([_rows([*names, total])])


def _way(findings: Findings) -> str:
    return limb_of(findings.recording.pedal.use).towards


def budgets(plot: pg.PlotItem, findings: Findings, look: Look, *,
            before: Findings | None = None) -> None:
    """Draw the same of every track, bar above bar, with its mV (ohms) at the right."""
    del before
    scale = scale_of(findings.recording)
    there = [c.column for c in findings.recording.with_role("track")
             if c.column in findings.dead_bands and findings.dead_bands[c.column].items]
    dress(plot, look, () if look.compact else "What can lift the rest readings",
          f"{'lift' if look.compact else _way(findings)} ({scale.small_unit})", "", key=False)
    if not there:
        say(plot, look, "There is no dead band to account for.")
        return
    names = _names(findings, there)
    _staircases(plot, findings, look, there)
    plot.getAxis("left").setTicks([_rows([*(SHORT.get(n, n) for n in names), "dead band"])])
    told = [[_volts(findings.dead_bands[c]).get(name, 0.0) for c in there] for name in names]
    told.append([findings.dead_bands[c].total_volts for c in there])
    right = plot.getAxis("right")
    right.setTicks([_rows([" · ".join(
        f"{scale.small * v:.1f}" if known(v) else "?" for v in row) for row in told])])
    right.setPen(QColor(look.quiet))
    right.setTextPen(QColor(look.foreground))
    right.setTickFont(plot.getAxis("left").style["tickFont"])
    right.setStyle(tickLength=0)
    right.setGrid(False)
    plot.showAxis("right")


def _names(findings: Findings, columns: Sequence[str]) -> list[str]:
    """Return the names of all items of these tracks, in the order of the first that has them."""
    return list(dict.fromkeys(i.name for c in columns for i in findings.dead_bands[c].items))


def _volts(dead: DeadBand) -> dict[str, float]:
    return {i.name: i.volts for i in dead.items}


def _rows(texts: Sequence[str]) -> list[tuple[float, str]]:
    return [(-float(k), text) for k, text in enumerate(texts)]


def _staircases(plot: pg.PlotItem, findings: Findings, look: Look, columns: Sequence[str]) -> None:
    """Draw the bars of these tracks, those of one item in one row."""
    names = _names(findings, columns)
    tracks = [c.column for c in findings.recording.with_role("track")]
    high, furthest = THICK / len(columns), 1e-4
    small = scale_of(findings.recording).small
    for place, column in enumerate(columns):
        dead = findings.dead_bands[column]
        items = {i.name: i for i in dead.items}
        color = look.track(tracks.index(column))
        shown = [n for n in names if n in items]
        volts = [items[n].volts if known(items[n].volts) else 0.0 for n in shown]
        total = dead.total_volts if known(dead.total_volts) else 0.0
        starts = np.concatenate(([0.0], np.cumsum(volts)))
        rows = np.array([*(names.index(n) for n in shown), len(names)], dtype=float)
        brushes = [QBrush(color, BASIS_PATTERN.get(items[n].basis, BASIS_PATTERN["stated"]))
                   for n in shown]
        plot.addItem(pg.BarGraphItem(
            x0=small * np.append(starts[:-1], 0.0), width=small * np.append(volts, total),
            y=-rows + (THICK - high) / 2.0 - place * high,
            height=high, brushes=[*brushes, tint(look.band)],
            pens=[line(color)] * len(volts) + [line(color if len(columns) > 1 else look.limit)]))
        furthest = max(furthest, total, starts[-1])
    show_y(plot, -len(names) - 0.6, 0.6)
    show_x(plot, 0.0, small * furthest, padding=0.03)
