"""Wear at one place of travel: noise, and flat spots where a track stands still."""

from collections.abc import Mapping

import numpy as np

from analysis.faults.fault import Fault
from analysis.pair import PRESSING, RELEASING, Way
from analysis.recording import Array
from analysis.segments import Segment
from analysis.smoothing import bin_means, filled, running_mean, runs
from analysis.tracks import TrackFindings

# Worn: this many times the noise usual elsewhere, and this much more in % of travel.
TIMES_USUAL = 3.0
ABOVE_USUAL = 0.35
# Still: less than this share of the other track's movement, for this much travel.
STILL = 0.3
LEAST_FLAT = 3
FLAT_REACH = 10.0


def noise_faults(tracks: Mapping[str, TrackFindings], times: Array, pedal: Array,
                 segments: tuple[Segment, ...], flat: list[Fault]) -> list[Fault]:
    """Return one fault per stretch of travel where a track is noisier than elsewhere.

    flat: flat spots and clipping already found; the corner at their end is not told as noise.
    """
    result = []
    for name, track in tracks.items():
        noise = 100.0 * track.noise_map_volts / track.span.value
        step = 100.0 * track.step_volts / track.span.value
        # The outermost bins are where the pedal stands still: quieter than a moving wiper.
        usual = float(np.nanmedian(noise[1:-1])) if np.isfinite(noise[1:-1]).any() else np.nan
        if not np.isfinite(usual):
            continue
        worn = noise > max(TIMES_USUAL * usual, usual + ABOVE_USUAL, step)
        for start, stop in zip(*runs(worn), strict=True):
            worst = start + int(np.nanargmax(noise[start:stop]))
            place = float(track.noise_map_percent[worst])
            low = float(track.noise_map_percent[start]) - 1.25
            high = float(track.noise_map_percent[stop - 1]) + 1.25
            if any(f.channel == name and abs(f.travel_percent - place) < FLAT_REACH
                   for f in flat):
                continue
            when = _first_pass(times, pedal, segments, place)
            result.append(Fault(
                "noise", name, when, when, place, 2,
                f"track {name} is noisy between {max(low, 0):.0f} and {high:.0f} % of travel: "
                f"{noise[worst]:.1f} % of travel there, {usual:.2f} % elsewhere: worn track"))
    return result


def flat_faults(tracks: Mapping[str, TrackFindings], travel: Mapping[str, Array], way: Way,
                times: Array, pedal: Array, segments: tuple[Segment, ...]) -> list[Fault]:
    """Return where one track stands still while the other moves, pressing and releasing alike.

    travel: by track, thinned, shape (m,), %, NaN where not trusted. A flat stretch that reaches
    the end of travel is clipping: the input cannot follow the track there.
    """
    names = list(tracks)
    if len(names) < 2:
        return []
    edges = np.arange(0.0, 101.0)
    result = []
    for name, other in ((names[0], names[1]), (names[1], names[0])):
        slopes = []
        for which in (PRESSING, RELEASING):
            chosen = (way == which) & np.isfinite(travel[name]) & np.isfinite(travel[other])
            mean = bin_means(travel[other][chosen], travel[name][chosen], edges)[0]
            if np.isfinite(mean).sum() < 50:
                break
            slopes.append(running_mean(np.diff(filled(mean)), 3))
        if len(slopes) < 2:
            continue
        flat = np.fmax(*slopes) < STILL
        flat[:1] = flat[1:2]
        for start, stop in zip(*runs(flat), strict=True):
            # The smoothing over three bins takes one bin off either side.
            low, high = max(0, int(start) - 0), min(100, int(stop) + 1)
            at_end = high >= 97 or low <= 2
            if stop - start < (LEAST_FLAT + 1 if at_end else LEAST_FLAT):
                continue
            place = (low + high) / 2
            when = _first_pass(times, pedal, segments, place)
            if at_end:
                text = (f"track {name} stands still from {low} to {high} % of travel, at the end "
                        "of its range: the input is clipped, or the track ends before the pedal")
            else:
                text = (f"track {name} stands still from {low} to {high} % of travel while "
                        f"track {other} moves: flat spot")
            result.append(Fault("clipping" if at_end else "flat spot", name, when, when, place,
                                2, text))
    return result


def _first_pass(times: Array, pedal: Array, segments: tuple[Segment, ...], place: float) -> float:
    """Return when a slow press first passes `place` in % of travel."""
    for segment in segments:
        if segment.kind == "press":
            part = pedal[segment.start: segment.stop]
            beyond = np.flatnonzero(part >= place)
            if beyond.size:
                return float(times[segment.start + int(beyond[0])])
    return float(times[0])
