"""Two sweeps of one pedal on one axis: volts along travel, now and before.

Nobody presses twice alike, so over time two sweeps cannot be laid on each other; along the
pedal's own travel they can.
"""

import numpy as np
import pyqtgraph as pg

from analysis.pedal.findings import Findings
from bench.plots.ranges import Array, drawable, show_x
from bench.plots.scale import scale_of
from bench.plots.style import DOTTED, Look, dress, line, pale
from bench.plots.titles import Title, level_word

BINS = 101
# Rows where the tracks stand further apart (% of travel) are a loss of contact, not a place.
APART = 10.0


def own_travel(findings: Findings) -> dict[str, Array]:
    """Return each track's own travel in %, 0 at its rest, 100 at its full travel, shape (rows,)."""
    recording = findings.recording
    result = {}
    for name, track in findings.tracks.items():
        span = track.full.value - track.rest.value
        if np.isfinite(span) and span != 0.0:
            volts = drawable(recording.stated_volts(recording.channel(name)))
            result[name] = 100.0 * (volts - track.rest.value) / span
    return result


def pedal_travel(findings: Findings) -> Array:
    """Return the pedal's travel in %, the mean of its tracks; NaN where they stand far apart."""
    travels = list(own_travel(findings).values())
    if not travels:
        return np.full(findings.recording.rows, np.nan)
    both = np.stack(travels)
    known = np.isfinite(both)
    count = known.sum(axis=0)
    mean = np.where(count > 0, np.where(known, both, 0.0).sum(axis=0) / np.maximum(count, 1),
                    np.nan)
    high = np.where(known, both, -np.inf).max(axis=0)
    low = np.where(known, both, np.inf).min(axis=0)
    return np.where((count > 0) & (high - low <= APART), mean, np.nan)


def along_title(findings: Findings, _column: str = "") -> Title:
    return Title(f"{level_word(findings).capitalize()} along travel", "",
                 "0 % at rest, 100 % at full travel", "Along travel", "now, before")


def along_travel(plot: pg.PlotItem, findings: Findings, look: Look, *,
                 before: Findings | None = None) -> None:
    """Draw each track's mean volts along the pedal's travel, those of an earlier sweep pale."""
    scale = scale_of(findings.recording)
    dress(plot, look, along_title(findings).forms, "travel (%)",
          scale.axis, scale.short_axis)
    for each, earlier in ((before, True), (findings, False)):
        if each is None:
            continue
        travel = pedal_travel(each)
        for index, channel in enumerate(each.recording.with_role("track")):
            if channel.column not in each.tracks:
                continue
            x, y = _means(travel, scale.level * drawable(each.recording.stated_volts(channel)))
            color = pale(look.track(index)) if earlier else look.track(index)
            plot.addItem(pg.PlotDataItem(
                x, y, connect="finite",
                pen=line(color, DOTTED if earlier else look.track_style(index), 2),
                name=f"{channel.column} before" if earlier else channel.column))
    show_x(plot, 0.0, 100.0, padding=0.02)


def _means(travel: Array, volts: Array) -> tuple[Array, Array]:
    """Return the middles of 1 % of travel each, and the mean volts there; NaN: not visited."""
    good = np.isfinite(travel) & np.isfinite(volts) & (travel > -0.5) & (travel < BINS - 0.5)
    place = np.rint(travel[good]).astype(np.int64)
    count = np.bincount(place, minlength=BINS)[:BINS]
    total = np.bincount(place, volts[good], minlength=BINS)[:BINS]
    means = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return np.arange(BINS, dtype=np.float64), means
