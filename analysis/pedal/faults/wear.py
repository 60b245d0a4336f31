"""Wear at one place of travel: noise, and flat spots where a track stands still."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.pedal.pair import PRESSING, RELEASING, Way
from analysis.pedal.tracks import TrackFindings
from analysis.signal.segments import Segment
from analysis.signal.smoothing import bin_means, filled, median, running_mean, runs

# Worn: this many times the noise usual elsewhere, and this much more in % of travel.
TIMES_USUAL = 3.0
ABOVE_USUAL = 0.25
# Where the pedal leaves and reaches its stops the corner of its own movement is left in the
# noise: this close to the ends (in % of travel) it takes so many times more.
STOPS, AT_STOPS = 6.0, 4.0
# With fewer readings a second than this the movement cannot be told from noise.
LEAST_RATE_HZ = 30.0
# What is usual elsewhere is known only when this share of travel was passed slowly.
MOST_BINS = 0.6
# Still: less than this share of the other track's movement, for this much travel.
STILL = 0.3
LEAST_FLAT, LEAST_AT_END = 2, 4
# Slopes less sure than this are smoothed over three bins before they are judged.
SURE_SLOPE = 0.15
# A percent of travel was seen with this share of the usual readings, and a flat stretch with so
# many of its percents seen each way.
VISITED, SEEN_SHARE = 0.3, 0.6
# Noise of two tracks at one place, so many times as much on one of them, is of that one.
PLAINLY = 1.6
FLAT_REACH = 10.0


def noise_faults(tracks: Mapping[str, TrackFindings], times: Array, pedal: Array,
                 segments: tuple[Segment, ...], flat: list[Fault]) -> list[Fault]:
    """Return one fault per stretch of travel where a track is noisier than elsewhere.

    flat: flat spots and clipping already found; the corner at their end is not told as noise.
    """
    result: list[Fault] = []
    peaks: list[float] = []
    if times.size < 2 or (times.size - 1) < LEAST_RATE_HZ * (times[-1] - times[0]):
        return result
    for name, track in tracks.items():
        noise = 100.0 * track.noise_map_volts / track.span.value
        step = 100.0 * track.step_volts / track.span.value
        # The outermost bins are where the pedal stands still: quieter than a moving wiper.
        seen = np.isfinite(noise)
        if seen.sum() < MOST_BINS * seen.size:
            continue
        usual = float(np.nanmedian(noise[1:-1]))
        limit = max(TIMES_USUAL * usual, usual + ABOVE_USUAL, step)
        at_stop = np.abs(track.noise_map_percent - 50.0) > 50.0 - STOPS
        worn = noise > np.where(at_stop, AT_STOPS * limit, limit)
        for start, stop in zip(*runs(worn), strict=True):
            worst = start + int(np.nanargmax(noise[start:stop]))
            place = float(track.noise_map_percent[worst])
            low = float(track.noise_map_percent[start]) - 1.25
            high = float(track.noise_map_percent[stop - 1]) + 1.25
            # Where one track stands still and then jumps, the jump is in the noise of both.
            if any((f.channel == name or f.kind == "flat spot")
                   and abs(f.travel_percent - place) < FLAT_REACH for f in flat):
                continue
            when = _first_pass(times, pedal, segments, place)
            peaks.append(float(noise[worst]))
            result.append(Fault(
                "noise", name, when, when, place, 2,
                Reason("noisy", {
                    "track": name, "lowest_percent": max(low, 0.0), "highest_percent": high,
                    "noise_percent": float(noise[worst]), "usual_percent": usual})))
    return _attributed(result, peaks)


def told(fault: Fault, others: list[Fault]) -> bool:
    """Return whether one of the others is of the same track, at the same place of travel."""
    return any(o.channel == fault.channel
               and abs(o.travel_percent - fault.travel_percent) < FLAT_REACH for o in others)


def _attributed(found: list[Fault], peaks: list[float]) -> list[Fault]:
    """Return the noisy stretches, those of two tracks at one place given to the one it comes from.

    Each track's noise is told from the other's; what one of them does in a jump is in both. The one
    with PLAINLY times as much has it; where they are alike nobody knows, and it is of the pair.
    """
    result: list[Fault] = []
    for fault, peak in zip(found, peaks, strict=True):
        beside = [(o, p) for o, p in zip(found, peaks, strict=True)
                  if o.channel != fault.channel
                  and abs(o.travel_percent - fault.travel_percent) < FLAT_REACH]
        most = max((p for _, p in beside), default=0.0)
        if peak >= PLAINLY * most:
            result.append(fault)
        elif most < PLAINLY * peak and not any(
                r.channel is None and abs(r.travel_percent - fault.travel_percent) < FLAT_REACH
                for r in result):
            result.append(replace(fault, channel=None, why=Reason(
                "either is noisy", {"travel_percent": fault.travel_percent,
                                    "noise_percent": max(peak, most)})))
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
        slopes, visits = [], []
        for which in (PRESSING, RELEASING):
            chosen = (way == which) & np.isfinite(travel[name]) & np.isfinite(travel[other])
            mean, spread, number = bin_means(travel[other][chosen], travel[name][chosen], edges)
            if np.isfinite(mean).sum() < 50:
                break
            slope = np.diff(filled(mean))
            errors = spread / np.sqrt(np.maximum(number, 1.0))
            known = errors[np.isfinite(errors)]
            error = median(known) * np.sqrt(2.0) if known.size else np.inf
            smooth = running_mean(slope, 3)
            inside = slope.copy() if error < SURE_SLOPE else smooth.copy()
            # Near the stops the pedal is slow to leave and to arrive: only smoothed is sure.
            inside[:5], inside[-5:] = smooth[:5], smooth[-5:]
            slopes.append(inside)
            usual = float(np.median(number[number > 0]))
            visits.append(number >= VISITED * usual)
        if len(slopes) < 2:
            continue
        flat = np.fmax(*slopes) < STILL
        flat[:1] = flat[1:2]
        for start, stop in zip(*runs(flat), strict=True):
            low, high = int(start), min(100, int(stop) + 1)
            at_end = high >= 97 or low <= 2
            if stop - start < (LEAST_AT_END if at_end else LEAST_FLAT):
                continue
            # Where the other track jumped across, nothing says what this one did on the way.
            if not at_end and min(float(np.mean(v[start: stop + 1])) for v in visits) < SEEN_SHARE:
                continue
            place = (low + high) / 2
            when = _first_pass(times, pedal, segments, place)
            said = Reason("flat at the end" if at_end else "flat spot", {
                "track": name, "other": other, "lowest_percent": float(low),
                "highest_percent": float(high), "way": None})
            result.append(Fault("clipping" if at_end else "flat spot", name, when, when, place,
                                2, said))
    return result


def _first_pass(times: Array, pedal: Array, segments: tuple[Segment, ...], place: float) -> float:
    """Return when a press first passes `place` in % of travel, or the pedal is first so far."""
    for segment in segments:
        if segment.kind == "press":
            part = pedal[segment.start: segment.stop]
            beyond = np.flatnonzero(part >= place)
            if beyond.size:
                return float(times[segment.start + int(beyond[0])])
    return float(times[int(np.argmax(pedal >= min(place, float(pedal.max()))))])
