"""All faults of a sweep, gathered from their detectors; what is told once stays told once."""

from collections.abc import Callable, Mapping
from functools import cache, partial
from importlib import import_module
from itertools import chain
from pkgutil import iter_modules

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal import faults
from analysis.pedal.faults import Fault, wear, wiring
from analysis.pedal.faults import dropouts as dropping
from analysis.pedal.faults import missing as missed
from analysis.pedal.faults import shaft_slip as slipping
from analysis.pedal.faults.bursts import burst_faults, without_told
from analysis.pedal.faults.dead import attributable, dead_track_faults
from analysis.pedal.faults.patches import patch_faults
from analysis.pedal.faults.settling import settling_faults
from analysis.pedal.faults.swept import Measured, Swept
from analysis.pedal.pair import PairFindings
from analysis.pedal.sweep_course import Seen
from analysis.signal.side_by_side import side_by_side
from analysis.signal.smoothing import Mask
from analysis.signal.supply import far_off

Detector = Callable[[Swept], list[Fault]]


@cache
def detectors() -> tuple[Detector, ...]:
    """Return the `detect` of every module of faults that has one, by the module's name."""
    rooms = [import_module(f"{faults.__name__}.{found.name}")
             for found in iter_modules(faults.__path__)]
    return tuple(room.detect for room in rooms if hasattr(room, "detect"))


def sweep_faults(seen: Seen, measured: Measured, parameters: Parameters) -> tuple[Fault, ...]:
    """Return all faults, gravest first, then in order of time."""
    reading, look, segments = seen.reading, seen.look, seen.course.segments
    recording, times = reading.recording, reading.recording.time_s
    swept = Swept(seen, measured, parameters)
    patches, contact, settling, loud, *apart = side_by_side(
        recording.rows, lambda: _patches(seen, measured), lambda: _contact(seen, measured),
        lambda: settling_faults(segments, look.pedal, times),
        lambda: burst_faults(look, times, segments, recording.step_s),
        *(partial(detect, swept) for detect in detectors()))
    found: list[Fault] = [*contact, *settling]
    found += dead_track_faults(reading.dead, times, look.pedal, seen.course.points.size)
    clipped = [f for f in found if f.kind == "clipping"]
    flat = _flat(seen, measured, clipped, patches)
    found += flat
    found += wear.noise_faults(measured.tracks, times, look.pedal, segments, clipped + flat)
    found += [*without_told(loud, found), *chain.from_iterable(apart)]
    found += _mismatch(measured.pair, times, parameters)
    told = tuple(sorted(attributable(found), key=lambda f: (-f.gravity, f.time_s)))
    if far_off(recording):
        # Rails, limits and levels were all judged against a supply that is none.
        feeds = [c.column for c in recording.with_role("supply")]
        told = tuple(f for f in told if f.kind == "gap" or f.channel in feeds)
    return told


def _contact(seen: Seen, measured: Measured) -> list[Fault]:
    """Return what each reading shows by itself: lost contact, missing cells, rails, slips."""
    reading, look, recording = seen.reading, seen.look, seen.reading.recording
    found, alone = _lost_contact(seen)
    found += missed.missing_faults(reading.lost, recording.time_s, look.pedal,
                                   seen.course.segments)
    found += missed.uneven_faults(recording)
    found += missed.supply_missing(recording, reading.lost, look.pedal)
    found += _wiring(seen, measured, alone)
    return found + slipping.slip_faults(reading.slips, recording.time_s, look.pedal)


def _lost_contact(seen: Seen) -> tuple[list[Fault], Mapping[str, Mask]]:
    """Return the dropouts, and the stays at a rail that belong to none, by track (n,)."""
    reading, look, size = seen.reading, seen.look, seen.course.points.size
    step_s = reading.recording.step_s
    # A stay at a rail is part of the dropout around it, and told once; a long one is no dropout.
    apart = [(d.start * size, d.stop * size) for d in reading.dead if not d.column]
    short, alone = dropping.without_rails(
        dropping.without_parted(look.dropouts, apart, reading.rails), reading.rails, step_s)
    return dropping.dropout_faults(short, reading.rails, reading.recording.time_s, look.pedal,
                                   step_s), alone


def _wiring(seen: Seen, measured: Measured, alone: Mapping[str, Mask]) -> list[Fault]:
    reading, look = seen.reading, seen.look
    recording, times = reading.recording, reading.recording.time_s
    lone = len(reading.volts) == 1
    found: list[Fault] = []
    for name, values in reading.volts.items():
        if name in measured.tracks:
            found += wiring.rail_faults(name, alone[name], values, recording.nominal_volts, times,
                                        look.pedal, lone)
            found += wiring.clipping_faults(recording.channel(name), look.trusted[name], times,
                                            look.pedal, lone)
        elif not any(d.column == name for d in reading.dead):
            found.append(wiring.dead_faults(name, values, recording.nominal_volts, times))
    return found


def _patches(seen: Seen, measured: Measured) -> list[Fault]:
    """Return where one of the pair stands still and then jumps."""
    reading, look, pair = seen.reading, seen.look, measured.pair
    if pair is None:
        return []
    names = (pair.first, pair.second)
    read = {n: np.isfinite(reading.volts[n]) & ~reading.rails[n] for n in names}
    return patch_faults({n: look.by_track[n] for n in names}, read, reading.recording.time_s,
                        seen.course.segments)


def _flat(seen: Seen, measured: Measured, clipped: list[Fault],
          patches: list[Fault]) -> list[Fault]:
    """Return where a track stands still or jumps within a patch, where clipping tells it not."""
    pair, known = measured.pair, {f.channel for f in clipped}
    names = [] if pair is None else [pair.first, pair.second]
    flat = [f for f in wear.flat_faults({n: measured.tracks[n] for n in names}, measured.travel,
                                        measured.way, seen.reading.recording.time_s,
                                        seen.look.pedal, seen.course.segments)
            if not (f.kind == "clipping" and f.channel in known)]
    return flat + [p for p in patches if not wear.told(p, clipped + flat)]


def _mismatch(pair: PairFindings | None, times: Array, parameters: Parameters) -> list[Fault]:
    if pair is None or not pair.mismatch_max_percent.value > parameters.mismatch_limit_percent:
        return []
    return [Fault(
        "mismatch", None, float(times[0]), float(times[-1]), pair.mismatch_at_travel_percent, 2,
        Reason("mismatch", {"percent": pair.mismatch_max_percent.value,
                            "travel_percent": pair.mismatch_at_travel_percent,
                            "limit_percent": parameters.mismatch_limit_percent}))]
