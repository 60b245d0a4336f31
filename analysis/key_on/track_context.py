"""What is known of the tracks before the log is read: direction, travel, settings."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from analysis.key_on.blocks import Blocks
from analysis.key_on.presses import TrackFacts
from analysis.key_on.verdict import Limits
from analysis.model.recording import Recording
from analysis.pedal.settings import Setting

if TYPE_CHECKING:
    from analysis.pedal.findings import Findings


def track_facts(recording: Recording, blocks: Blocks, settings: Iterable[Setting],
                sweep: "Findings | None") -> tuple[TrackFacts, ...]:
    """Return direction and travel of each track, from the best source there is.

    A sweep of the pedal knows; else the settings; else a rest above half the supply is taken
    for a falling track (common practice, no source).
    """
    given = _by_name(settings)
    result = []
    for channel in recording.with_role("track"):
        column = channel.column
        if sweep is not None and column in sweep.read_there:
            track = sweep.read_there[column]
            result.append(TrackFacts(column, 1.0 if track.direction == "rising" else -1.0,
                                     "sweep", abs(track.span.value), track.rest.value))
            continue
        seen = blocks.stated[column].mean
        seen = seen[np.isfinite(seen)]
        here = float(np.median(seen)) if seen.size else float("nan")
        rest = given.get((column, "rest"), float("nan"))
        start = given.get((column, "start_of_travel"), float("nan"))
        release = given.get((column, "release"), float("nan"))
        full = given.get((column, "full_travel"), float("nan"))
        level = rest if np.isfinite(rest) else here
        # A track that is never there has no level of its own.
        origin = level if np.isfinite(level) else start
        guessed = False
        if np.isfinite(full - origin) and full != origin:
            sign, why = np.sign(full - origin), "full travel"
        elif np.isfinite(release) and np.isfinite(start) and release != start:
            sign, why = np.sign(start - release), "release"
        elif np.isfinite(start - origin) and start != origin:
            # With power applied all along the log's own level lies beyond start; an entered
            # rest does not, and decides when there is one.
            sign, why = np.sign(start - origin), "start of travel"
            if not np.isfinite(rest) and abs(start - here) < 0.1 * recording.nominal_volts:
                guessed = True
        else:
            guessed = True
        if guessed:
            sign, why = _by_level(here, recording.nominal_volts)
        span = abs(full - level) if np.isfinite(full) else float("nan")
        result.append(TrackFacts(column, float(sign), why, span, rest, guessed))
    return tuple(result)


def limits_of(settings: Iterable[Setting], columns: Iterable[str]) -> Mapping[str, Limits]:
    """Return start of travel and release by track; without a release, start serves for both."""
    given = _by_name(settings)
    result = {}
    for column in columns:
        start = given.get((column, "start_of_travel"), float("nan"))
        release = given.get((column, "release"), float("nan"))
        if np.isfinite(start):
            result[column] = Limits(start, release if np.isfinite(release) else start)
    return result


def pair_gain(sweep: "Findings | None", facts: tuple[TrackFacts, ...]) -> float:
    """Return volts of the second track per volt of the first, NaN when nothing tells it."""
    names = [f.column for f in facts][:2]
    if len(names) < 2:
        return float("nan")
    if sweep is not None and sweep.pair is not None:
        pair = sweep.pair
        if (pair.first, pair.second) == tuple(names):
            return pair.gain.value
        if (pair.second, pair.first) == tuple(names) and pair.gain.value:
            return 1.0 / pair.gain.value
    first, second = facts[0], facts[1]
    if np.isfinite(first.span_volts) and np.isfinite(second.span_volts) and first.span_volts:
        return second.sign * second.span_volts / (first.sign * first.span_volts)
    return float("nan")


def _by_level(level: float, nominal: float) -> tuple[float, str]:
    if level > 0.5 * nominal:
        return -1.0, "above half the supply"
    return 1.0, "below half the supply"


def _by_name(settings: Iterable[Setting]) -> dict[tuple[str, str], float]:
    return {(s.channel, s.name): s.value for s in settings
            if s.channel is not None and np.isfinite(s.value)}
