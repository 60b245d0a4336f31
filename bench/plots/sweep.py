"""The figures of one swept pedal. Each fills an empty plot from the findings and returns nothing.

`before`, where taken, is an earlier recording of the same pedal: drawn pale, on the same axes.
"""

import numpy as np
import pyqtgraph as pg
from PySide6.QtGui import QColor

from analysis.model.recording import Channel, Recording
from analysis.pedal.dead_band import stated
from analysis.pedal.findings import Findings
from bench.plots.gaps import hatch, name_hatched, without
from bench.plots.long_curve import LongCurve
from bench.plots.marks import SEEN_POINTS, Stretches, band, cells, level, named_level, swatch
from bench.plots.ranges import Array, drawable, keep_range, known, show_x, show_y, whole_numbers
from bench.plots.readings import readings_of
from bench.plots.scale import scale_of
from bench.plots.style import (
    DASHED,
    DOTTED,
    SOLID,
    Look,
    dress,
    is_bare,
    line,
    pale,
    remark,
    say,
    tint,
)
from bench.plots.titles import (
    mismatch_title,
    noise_title,
    pair_title,
    play_title,
    rest_title,
    step_small,
    traces_title,
)
from bench.wording.limb import limb_of

KINDS = ("rest", "press", "hold", "release")
DIFFERENCE = "first minus second (% of travel)"
# From the ends of travel (%), where the pedal is held against a stop.
HELD = 2.5
# Cells of a cloud of points each way, where it is small or on paper.
THIN_CLOUD = 160
ONE_TRACK_NOISE = ("Between the ends one track alone cannot tell noise from the movement itself; "
                   "nothing is drawn there.")
ONE_TRACK = "Only one track was recorded: there is nothing to hold against it."


def names(findings: Findings) -> list[str]:
    """Return the columns of the tracks, in the order of the recording."""
    return [c.column for c in findings.recording.with_role("track")]


def traces(plot: pg.PlotItem, findings: Findings, look: Look, *,
           before: Findings | None = None, thin: bool = False) -> None:
    """Draw the tracks' volts over time, segments shaded, faults marked.

    thin: reduce the data once and for all (paper); otherwise it is reduced to what is in view.
    """
    scale = scale_of(findings.recording)
    dress(plot, look, traces_title(findings).forms, "time (s)", scale.axis,
          scale.short_axis)
    shades = {kind: tint(color) for kind, color in look.shade.items()}
    gaps = readings_of(findings.recording).gaps
    plot.addItem(Stretches([(start, end, shades[s.kind]) for s in findings.segments
                            if s.kind in shades and len(known(s.start_s, s.end_s)) == 2
                            for start, end in without((s.start_s, s.end_s), gaps)]),
                 ignoreBounds=True)
    hatch(plot, gaps, look)
    if before is not None:
        _curves(plot, before, look, thin=True, earlier=True)
    _curves(plot, findings, look, thin=thin, earlier=False)
    for kind in KINDS:
        if any(s.kind == kind for s in findings.segments):
            of = limb_of(findings.recording.pedal.use)
            plot.legend.addItem(swatch(tint(look.shade[kind])),
                                of.press if kind == "press" else kind)
    name_hatched(plot, gaps, look)
    if findings.faults:
        mark_faults(plot, findings, look)
    keep_range(plot)


def _curves(plot: pg.PlotItem, findings: Findings, look: Look, *, thin: bool,
            earlier: bool) -> None:
    recording = findings.recording
    readings, level = readings_of(recording), scale_of(recording).level
    for index, channel in enumerate(recording.with_role("track")):
        column = channel.column
        color = pale(look.track(index)) if earlier else look.track(index)
        style = {
            "pen": line(color, DOTTED if earlier else look.track_style(index)),
            # Else the many short lines of a resting track leave gaps where no reading is missing.
            "antialias": True, "name": f"{column} before" if earlier else column}
        if not thin:
            plot.addItem(LongCurve(readings, column, level, **style))
            continue
        first, last = readings.time_s[[0, -1]] if readings.time_s.size else (0.0, 0.0)
        time_s, volts = readings.seen(column, float(first), float(last), SEEN_POINTS // 2)
        volts = level * volts
        whole = np.isfinite(time_s).all() and np.isfinite(volts).all()
        plot.addItem(pg.PlotDataItem(time_s, volts, connect="all" if whole else "finite", **style))


def mark_faults(plot: pg.PlotItem, findings: Findings, look: Look) -> None:
    """Mark each fault at its time, on its own track, with a triangle that points down at it."""
    recording = findings.recording
    columns = names(findings)
    x, y = [], []
    for fault in findings.faults:
        if not known(fault.time_s):
            continue
        column = fault.channel if fault.channel in columns else (columns[0] if columns else None)
        if column is None:
            continue
        row = int(np.clip(np.searchsorted(recording.time_s, fault.time_s), 0, recording.rows - 1))
        channel = recording.channel(column)
        volts = _drawn(recording, channel, row)
        x.append(fault.time_s)
        y.append(float(volts) if known(volts) else 0.0)
    if x:
        plot.addItem(pg.ScatterPlotItem(
            x, y, symbol="t", size=11, brush=QColor(look.fault),
            pen=line(look.background), name="fault"))


def _drawn(recording: Recording, channel: Channel, row: int) -> float:
    """Return where a reading lies on the plot: as read, that of a rheostat in ohms."""
    if recording.ohms_per_volt is None:
        return float(channel.volts()[row])
    return recording.ohms_per_volt * float(recording.stated_volts(channel)[row])


def track_against_track(plot: pg.PlotItem, findings: Findings, look: Look, *,
                        before: Findings | None = None, thin: bool = False) -> None:
    """Draw the second track's volts over the first's, with the fitted straight line."""
    pair = findings.pair
    if pair is None:
        dress(plot, look, "Track against track")
        say(plot, look, ONE_TRACK)
        return
    scale = scale_of(findings.recording)
    dress(plot, look, pair_title(findings).forms, f"{pair.first} ({scale.unit})",
          f"{pair.second} ({scale.unit})", key=False)
    for each, color, name in ((before, pale(look.track(1)), "before"),
                              (findings, look.track(0), "readings")):
        if each is None or each.pair is None:
            continue
        cloud = readings_of(each.recording).cloud(each.pair.first, each.pair.second)
        dot = QColor(color)
        dot.setAlpha(150)
        plot.addItem(pg.ScatterPlotItem(
            *(scale.level * v for v in (cells(*cloud, THIN_CLOUD) if thin else cloud)), size=3,
            pen=None, brush=dot, name=name))
    span = findings.tracks[pair.first]
    ends = scale.level * drawable([span.lowest_volts, span.highest_volts])
    fitted = drawable(pair.gain.value * ends + scale.level * pair.offset_volts.value)
    if not (np.isfinite(ends).all() and np.isfinite(fitted).all()):
        return
    equation = (f"{pair.second} = {pair.gain.value:.4g} × {pair.first} "
                f"{scale.level * pair.offset_volts.value:+.{scale.digits}f} {scale.unit}")
    plot.addItem(pg.PlotDataItem(
        ends, fitted, pen=line(look.limit, DASHED),
        name=equation if look.compact else f"{pair.relation}: {equation}"))


def mismatch(plot: pg.PlotItem, findings: Findings, look: Look, *,
             before: Findings | None = None) -> None:
    """Draw the disagreement of the tracks along travel, with the limit the parameters state."""
    pair = findings.pair
    dress(plot, look, mismatch_title(findings).forms, "travel (%)", DIFFERENCE,
          "difference (%)", key=False)
    if pair is None:
        say(plot, look, ONE_TRACK)
        return
    if before is not None and before.pair is not None:
        plot.addItem(pg.PlotDataItem(
            drawable(before.pair.travel_percent), drawable(before.pair.mismatch_percent),
            connect="finite",
            pen=line(pale(look.track(1)), DOTTED, 2), name="before"))
    travel, apart = drawable(pair.travel_percent), drawable(pair.mismatch_percent)
    plot.addItem(pg.PlotDataItem(
        travel, apart, connect="finite", pen=line(look.track(0), SOLID, 2), name="mismatch"))
    limit = findings.parameters.mismatch_limit_percent
    named_level(plot, look, limit, f"limit ±{limit:g} %", style=DASHED)
    named_level(plot, look, -limit, "", style=DASHED)
    plot.enableAutoRange(x=True, y=False)
    at = np.flatnonzero(np.isfinite(apart) & np.isfinite(travel))
    reach = 1.15 * max([*known(limit), *np.abs(apart[at])], default=1.0)
    show_y(plot, -reach, reach)
    worst = pair.mismatch_at_travel_percent
    if known(worst) and at.size:
        nearest = at[np.argmin(np.abs(travel[at] - worst))]
        plot.addItem(pg.ScatterPlotItem(
            [worst], [apart[nearest]], symbol="t", size=11,
            brush=QColor(look.fault), pen=line(look.background),
            name="worst"))


def press_against_release(plot: pg.PlotItem, findings: Findings, look: Look, *,
                          before: Findings | None = None) -> None:
    """Draw the mismatch while pressing and while letting go; the gap between them is the play."""
    del before
    pair = findings.pair
    dress(plot, look, play_title(findings).forms, "travel (%)", DIFFERENCE, "difference (%)")
    if pair is None:
        say(plot, look, ONE_TRACK)
        return
    travel = drawable(pair.travel_percent)
    of = limb_of(findings.recording.pedal.use)
    up = pg.PlotDataItem(travel, drawable(pair.mismatch_press_percent), connect="finite",
                         pen=line(look.track(0), SOLID, 2),
                         name=of.press if look.compact else of.pressing)
    down = pg.PlotDataItem(travel, drawable(pair.mismatch_release_percent), connect="finite",
                           pen=line(look.track(1), DASHED, 2),
                           name="release" if look.compact else "letting go")
    plot.addItem(up)
    plot.addItem(down)
    if known(pair.play_at_travel_percent):
        plot.addItem(pg.InfiniteLine(
            pair.play_at_travel_percent, angle=90, pen=line(look.fault, DOTTED)),
            ignoreBounds=True)


def rest_readings(plot: pg.PlotItem, findings: Findings, look: Look, *, column: str,
                  before: Findings | None = None) -> None:
    """Draw every return's rest reading of one track, with its dead band."""
    track, scale = findings.tracks[column], scale_of(findings.recording)
    index = names(findings).index(column)
    dress(plot, look, rest_title(findings, column).forms, "return number", scale.axis,
          scale.short_axis)
    k = scale.level
    shown = known(k * track.rest.value)
    whole_numbers(plot.getAxis("bottom"))
    if before is not None and column in before.tracks:
        old = k * drawable(before.tracks[column].rest_levels)
        plot.addItem(pg.ScatterPlotItem(
            np.arange(1, old.size + 1), old, symbol="x", size=8,
            pen=line(pale(look.track(index))), brush=None, name="before"))
        shown += known(*old)
    levels = k * drawable(track.rest_levels)
    plot.addItem(pg.ScatterPlotItem(
        np.arange(1, levels.size + 1), levels, symbol=look.track_symbol(index), size=8,
        brush=look.track(index), pen=line(look.background), name="at rest"))
    named_level(plot, look, k * track.rest.value, f"rest {scale.told(track.rest.value)}",
                style=SOLID, color=look.track(index))
    shown += known(*levels)
    dead = findings.dead_bands.get(column)
    if dead is not None and len(known(dead.start_of_travel_volts, dead.release_volts,
                                      track.rest.value)) == 3:
        low, high = sorted((k * track.rest.value, k * dead.start_of_travel_volts))
        band(plot, low, high, look.band)
        named_level(plot, look, k * dead.release_volts, f"release {scale.told(stated(dead)[0])}",
                    style=DOTTED)
        named_level(plot, look, k * dead.start_of_travel_volts,
                    f"{'start' if look.compact else 'start of travel'} "
                    f"{scale.told(stated(dead)[1])}", style=DASHED)
        shown += [k * dead.start_of_travel_volts, k * dead.release_volts]
    if shown:
        room = 0.3 * max(max(shown) - min(shown), *known(4 * k * track.step_volts), 1e-4)
        show_y(plot, min(shown) - room, max(shown) + room)
    show_x(plot, 0.5, max(levels.size, 1) + 0.5)


def noise(plot: pg.PlotItem, findings: Findings, look: Look, *,
          before: Findings | None = None) -> None:
    """Draw each track's noise along travel, with one converter step for scale.

    What the step is stands in the title: the curves run wherever they like, and a text on the
    line would lie across them. Of a lone track only the ends of travel are drawn: in between its
    ripple is as much the foot's.
    """
    step, scale = step_small(findings), scale_of(findings.recording)
    dress(plot, look, noise_title(findings).forms, "travel (%)",
          f"rms noise ({scale.small_unit})",
          key=before is not None or not look.compact)
    level(plot, look, step, style=SOLID)
    for each, earlier in ((before, True), (findings, False)):
        if each is None:
            continue
        for index, column in enumerate(names(each)):
            track = each.tracks.get(column)
            if track is None:
                continue
            color = pale(look.track(index)) if earlier else look.track(index)
            travel, volts = _noise_known(each, column)
            if each.pair is None:
                plot.addItem(pg.ScatterPlotItem(
                    travel, scale.small * volts, symbol=look.track_symbol(index), size=8,
                    brush=color, pen=line(look.background),
                    name=f"{column} before" if earlier else column))
                continue
            plot.addItem(pg.PlotDataItem(
                travel, scale.small * volts, connect="finite",
                pen=line(color, DOTTED if earlier else look.track_style(index), 2),
                name=f"{column} before" if earlier else column))
    top = max(_top(f) for f in (findings, before) if f is not None)
    if findings.pair is None:
        show_x(plot, 0.0, 100.0, padding=0.04)
    if findings.pair is None and not is_bare(plot):
        # Room for the sentence above what is drawn.
        top *= 2.0
        remark(plot, look, ONE_TRACK_NOISE, 50.0, 0.7 * top)
    show_y(plot, 0.0, top, padding=0.06)


def _noise_known(findings: Findings, column: str) -> tuple[Array, Array]:
    """Return travel (%) and noise (V) of a track, of a lone one only where it is held still."""
    track = findings.tracks[column]
    travel, volts = drawable(track.noise_map_percent), drawable(track.noise_map_volts)
    if findings.pair is not None:
        return travel, volts
    held = ((travel < HELD) | (travel > 100.0 - HELD)) & np.isfinite(volts)
    return travel[held], volts[held]


def _top(findings: Findings) -> float:
    small = scale_of(findings.recording).small
    tops = [small * v for name, t in findings.tracks.items()
            for v in known(*_noise_known(findings, name)[1], 1.2 * t.step_volts)]
    return max([*tops, 0.1])
