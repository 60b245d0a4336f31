"""A pedal swept on the bench: the recording it gives, and the truth behind it."""

from dataclasses import dataclass, replace

import numpy as np

from analysis.model.recording import Array, Channel, Mark, Recording
from analysis.simulation.converter import Converter
from analysis.simulation.motion import Course, Motion, carry_out
from analysis.simulation.pedal import Dropout, Pedal, Track
from analysis.simulation.truth import COLUMNS, Mask, TrueDropout, Truth, truth_of
from analysis.simulation.wiper import supply_volts, track_ratio, wiper_noise


@dataclass(frozen=True)
class SimulatedSweep:
    """Hold a recording and the truth behind it."""

    recording: Recording
    truth: Truth
    pedal: Pedal


def simulate_sweep(
    pedal: Pedal, rate_hz: float = 500.0, bits: int = 12, cycles: int = 8, quick: int = 4,
    seed: int = 0, motion: Motion | None = None, converter: Converter | None = None,
) -> SimulatedSweep:
    """Return one sweep of a pedal; the same seed gives the same sweep.

    motion, converter: in place of cycles and quick, or of bits.
    """
    motion = motion or Motion(cycles=cycles, quick=quick)
    converter = converter or Converter(bits=bits)
    streams = [np.random.default_rng([seed, k]) for k in range(3 + len(pedal.tracks))]
    course = carry_out(
        motion, rate_hz, streams[0], pedal.return_scatter_percent / 100.0,
        {s.cycle: s.travel_percent / 100.0 for s in pedal.stuck_returns}, pedal.slow_return_s)
    time_s = course.time_s
    supply = supply_volts(pedal, time_s, streams[1])

    channels: list[Channel] = []
    clean: list[Array] = []
    dropouts: list[TrueDropout] = []
    for k, track in enumerate(pedal.tracks):
        rng = streams[3 + k]
        ratio = track_ratio(pedal, k, time_s, course.travel) + _own_scatter(track, course, rng)
        ratio = ratio + pedal.drift_volts_per_minute * time_s / (60.0 * 5.0)
        clean.append(ratio)
        volts = ratio * supply + wiper_noise(pedal, k, course.travel, rate_hz, rng)
        volts, lost = _with_dropouts(pedal, k, course, volts, supply, rng)
        dropouts += lost
        channels.append(_channel(COLUMNS[k], "track", volts, converter, rng))
    if pedal.supply.recorded:
        read = converter.read(supply, converter.supply_scale, streams[2])
        channels.append(Channel(
            "supply", "supply", read, "counts", converter.full_scale, converter.reference_volts,
            converter.supply_scale, nominal_volts=pedal.supply.nominal_volts))

    kept, gaps = _kept_rows(time_s, pedal.gaps)
    written = _prompts(course, rate_hz) if motion.marks else []
    rows_before = np.concatenate([[0], np.cumsum(kept)])
    placed = [(int(rows_before[row]), text) for row, text in written]
    placed += [(int(rows_before[row]), text) for row, text in gaps]
    by_row: dict[int, str] = {}
    for row, text in sorted(placed, key=lambda item: (item[0], not item[1].startswith("gap"))):
        # One text fits beside a row: the gap is kept, a prompt moves on by one row.
        while row in by_row:
            row += 1
        by_row[row] = text
    rows = int(kept.sum())
    recording = Recording(
        time_s[kept], tuple(replace(c, readings=c.readings[kept]) for c in channels),
        tuple(Mark(r, t) for r, t in sorted(by_row.items()) if r < rows),
        title=f"synthetic: {pedal.name}",
        rate_hz=rate_hz, board_name=f"simulated {converter.bits}-bit board")
    truth = truth_of(pedal, course, clean, supply, converter, dropouts, kept)
    return SimulatedSweep(recording, truth, pedal)


def _channel(
    column: str, role: str, volts: Array, converter: Converter, rng: np.random.Generator,
) -> Channel:
    read = converter.read(volts, converter.track_scale, rng)
    return Channel(column, role, read, "counts", converter.full_scale,
                   converter.reference_volts, converter.track_scale)


def _own_scatter(track: Track, course: Course, rng: np.random.Generator) -> Array:
    """Return a track's own shift per return as a ratio, fading out towards full travel."""
    cycles = max(p.cycle for p in course.parts) + 2
    levels = rng.normal(0.0, track.return_scatter_volts / 5.0, cycles)
    shift = np.full(course.time_s.size, levels[0])
    for part in course.parts:
        if part.kind == "hold":
            middle = (part.start_s + part.end_s) / 2
            shift[np.searchsorted(course.time_s, middle):] = levels[part.cycle + 1]
    result: Array = shift * np.clip(1.0 - course.travel, 0.0, 1.0)
    return result


def _with_dropouts(
    pedal: Pedal, index: int, course: Course, volts: Array, supply: Array,
    rng: np.random.Generator,
) -> tuple[Array, list[TrueDropout]]:
    """Return the volts with lost contacts put in, and what was put in."""
    result = volts.copy()
    found: list[TrueDropout] = []
    track = pedal.tracks[index]
    span = abs(track.full_ratio - track.rest_ratio)
    for dropout in pedal.dropouts:
        if dropout.track != index:
            continue
        for begin in _dropout_times(dropout, course, rng):
            start, stop = np.searchsorted(course.time_s, [begin, begin + dropout.seconds])
            if stop <= start:
                continue
            rows = slice(int(start), int(stop))
            level = {
                "low": np.full(stop - start, 0.002),
                "high": np.full(stop - start, 0.998),
                "floating": 0.5 + 0.2 * np.sin(
                    2 * np.pi * 50 * course.time_s[rows] + rng.uniform(0, 2 * np.pi)),
            }[dropout.level]
            before = result[rows] / supply[rows]
            result[rows] = level * supply[rows]
            found.append(TrueDropout(
                COLUMNS[index], float(course.time_s[start]), float(course.time_s[stop - 1]),
                100.0 * float(np.median(course.travel[rows])), int(stop - start),
                100.0 * float(np.min(np.abs(level - before))) / span))
    return result, found


def _dropout_times(dropout: Dropout, course: Course, rng: np.random.Generator) -> list[float]:
    if dropout.at_s is not None:
        return [dropout.at_s]
    assert dropout.travel_percent is not None
    times = []
    for part in course.parts:
        if part.kind == "press" and rng.random() < dropout.share:
            start, stop = np.searchsorted(course.time_s, [part.start_s, part.end_s])
            beyond = course.travel[start:stop] >= dropout.travel_percent / 100.0
            if beyond.any():
                times.append(float(course.time_s[start + int(np.argmax(beyond))]))
    return times


def _kept_rows(
    time_s: Array, gaps: tuple[tuple[float, int], ...],
) -> tuple[Mask, list[tuple[int, str]]]:
    kept = np.ones(time_s.size, dtype=bool)
    marks = []
    for at_s, count in gaps:
        start = int(np.searchsorted(time_s, at_s))
        stop = min(start + count, time_s.size)
        if start < stop < time_s.size:
            kept[start:stop] = False
            marks.append((stop, f"gap {stop - start}"))
    return kept, marks


def _prompts(course: Course, rate_hz: float) -> list[tuple[int, str]]:
    return [(min(course.time_s.size - 1, int(p.prompt_s * rate_hz)), p.kind)
            for p in course.parts]


