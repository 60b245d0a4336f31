"""A pedal swept on the bench: the recording it gives, and the truth behind it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.recording import Array, Channel, Mark, Recording
from analysis.synthetic.converter import Converter, electrical_noise
from analysis.synthetic.motion import Course, Motion, carry_out
from analysis.synthetic.pedal import Dropout, Pedal, Track

COLUMNS = ("a", "b")
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class TrackTruth:
    """Hold what is true of one track; volts at the sensor at nominal supply, noise left out.

    rest_levels: one per rest of the recording, in order of time, the first rest included;
    full_levels: one per press. rest_volts and full_volts are their medians.
    """

    column: str
    direction: str
    rest_volts: float
    full_volts: float
    rest_levels: Array
    full_levels: Array
    noise_volts: float

    @property
    def span_volts(self) -> float:
        """Return the distance between rest and full travel in volts, never negative."""
        return abs(self.full_volts - self.rest_volts)


@dataclass(frozen=True)
class TruePart:
    """Hold one true part of the motion; quick: it ends in, or is, a quick lift-off."""

    kind: str
    start_s: float
    end_s: float
    quick: bool


@dataclass(frozen=True)
class TrueDropout:
    """Hold one loss of contact as it happened.

    samples: rows it covers. depth_percent: how far the reading was thrown, smallest over
    those rows, in % of the track's travel.
    """

    column: str
    start_s: float
    end_s: float
    travel_percent: float
    samples: int
    depth_percent: float


@dataclass(frozen=True)
class TrueFault:
    """Hold one thing wrong, in the words of `analysis.faults.Fault.kind`."""

    kind: str
    channel: str | None
    time_s: float
    end_s: float
    travel_percent: float


@dataclass(frozen=True)
class Truth:
    """Hold the truth behind a recording.

    relation, gain, offset_volts: None or NaN with one track. Mismatch is the difference of
    the tracks' travels (first minus second, % of travel, each between its own median rest and
    full level) on a slow press and a slow release without scatter or noise;
    mismatch_max_percent is the larger of the two at its worst place. NaN after a slip.
    """

    tracks: Mapping[str, TrackTruth]
    relation: str | None
    gain: float
    offset_volts: float
    travel_percent: Array
    mismatch_press_percent: Array
    mismatch_release_percent: Array
    mismatch_max_percent: float
    mismatch_at_travel_percent: float
    play_percent: float
    presses: int
    quick_presses: int
    parts: tuple[TruePart, ...]
    dropouts: tuple[TrueDropout, ...]
    faults: tuple[TrueFault, ...]
    lost_samples: int
    pedal_travel_percent: Array


@dataclass(frozen=True)
class SimulatedSweep:
    """Hold a recording and the truth behind it."""

    recording: Recording
    truth: Truth
    pedal: Pedal


def simulate_sweep(
    pedal: Pedal, rate_hz: float = 500.0, bits: int = 12, cycles: int = 8, quick: int = 4,
    seed: int = 0, motion: Motion | None = None, converter: Converter | None = None,
    marks: bool = True, title: str | None = None,
) -> SimulatedSweep:
    """Return one sweep of a pedal; the same seed gives the same sweep.

    motion, converter: in place of cycles and quick, or of bits. marks: write the prompts.
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
    written = _prompts(course, rate_hz) if marks else []
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
        title=title if title is not None else f"synthetic: {pedal.story or pedal.name}",
        rate_hz=rate_hz, board_name=f"simulated {converter.bits}-bit board")
    truth = _truth(pedal, course, clean, supply, converter, dropouts, kept)
    return SimulatedSweep(recording, truth, pedal)


def track_ratio(pedal: Pedal, index: int, time_s: Array, travel: Array) -> Array:
    """Return a track's wiper ratio, shape (n,), for pedal travel as a share, noise left out.

    Usable with any motion: a key-on log, a creep test, a slow sweep for the true curve.
    """
    track = pedal.tracks[index]
    x = travel
    width = track.lag_percent + (pedal.play_percent if index == 1 else 0.0)
    if width > 0:
        x = _play(x, width / 200.0)
    for flat in pedal.flat_spots:
        if flat.track == index:
            low = (flat.travel_percent - flat.width_percent / 2) / 100.0
            high = (flat.travel_percent + flat.width_percent / 2) / 100.0
            # Catches up over one more width, as a wiper does that skips worn film.
            x = np.where((x > low) & (x < high), low, x)
            past = (x >= high) & (x < high + (high - low))
            x = np.where(past, low + 2 * (x - high), x)
    for k, size in enumerate(track.bend_percent, start=1):
        x = x + size / 100.0 * np.sin(k * np.pi * np.clip(x, 0.0, 1.0))
    for slip in pedal.slips:
        if slip.track == index:
            x = x + slip.percent / 100.0 * (time_s >= slip.at_s)
    return track.rest_ratio + (track.full_ratio - track.rest_ratio) * x


def wiper_noise(
    pedal: Pedal, index: int, travel: Array, rate_hz: float, rng: np.random.Generator,
) -> Array:
    """Return a track's electrical noise and that of its worn spots, volts, shape (n,)."""
    track = pedal.tracks[index]
    noise = electrical_noise(travel.size, rate_hz, track.noise_volts, track.noise_colour, rng)
    for worn in pedal.worn_spots:
        if worn.track == index:
            away = (100.0 * travel - worn.travel_percent) / (worn.width_percent / 2)
            noise = noise + worn.noise_volts * np.exp(-0.5 * away**2) * rng.standard_normal(
                travel.size)
    return noise


def supply_volts(pedal: Pedal, time_s: Array, rng: np.random.Generator) -> Array:
    """Return the sensor supply in volts, shape (n,), with noise, ripple, drift and sag."""
    supply = pedal.supply
    length = max(float(time_s[-1]), 1e-9)
    volts = supply.volts + supply.drift_volts * time_s / length
    volts = volts + supply.ripple_volts * np.sqrt(2) * np.sin(2 * np.pi * supply.ripple_hz * time_s)
    if supply.sag_volts:
        edge = 0.2
        inside = np.clip((time_s - supply.sag_at_s) / edge, 0, 1) * np.clip(
            (supply.sag_at_s + supply.sag_seconds - time_s) / edge, 0, 1)
        volts = volts - supply.sag_volts * inside
    result: Array = volts + rng.normal(0.0, supply.noise_volts, time_s.shape)
    return result


def _channel(
    column: str, role: str, volts: Array, converter: Converter, rng: np.random.Generator,
) -> Channel:
    read = converter.read(volts, converter.track_scale, rng)
    return Channel(column, role, read, "counts", converter.full_scale,
                   converter.reference_volts, converter.track_scale)


def _play(x: Array, half: float) -> Array:
    """Return x behind a gap of two times `half`: what is driven follows once the gap closed."""
    # It came to rest from above, so it sits on the far side of the gap.
    held = float(x[0]) + half
    result = np.empty(x.size)
    for i, value in enumerate(x.tolist()):
        if held < value - half:
            held = value - half
        elif held > value + half:
            held = value + half
        result[i] = held
    return result


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


def _truth(
    pedal: Pedal, course: Course, clean: list[Array], supply: Array, converter: Converter,
    dropouts: list[TrueDropout], kept: Mask,
) -> Truth:
    mean_supply = float(np.mean(supply))
    scale = pedal.supply.nominal_volts if pedal.supply.recorded else mean_supply
    tracks: dict[str, TrackTruth] = {}
    for k, track in enumerate(pedal.tracks):
        # Without a recorded supply nobody can know the ratio: volts are then as they were.
        stated = clean[k] * (scale if pedal.supply.recorded else supply)
        level = {kind: np.array([_level(course, stated, p.start_s, p.end_s)
                                 for p in course.parts if p.kind == kind])
                 for kind in ("rest", "hold")}
        tracks[COLUMNS[k]] = TrackTruth(
            COLUMNS[k], "rising" if track.full_ratio > track.rest_ratio else "falling",
            float(np.median(level["rest"])), float(np.median(level["hold"])),
            level["rest"], level["hold"], track.noise_volts * scale / mean_supply)
    grid, pressing, releasing = true_mismatch(pedal)
    both = np.maximum(np.abs(pressing), np.abs(releasing))
    two = len(pedal.tracks) == 2
    undefined = not two or bool(pedal.slips)
    holds = [p for p in course.parts if p.kind == "hold"]
    return Truth(
        tracks, pedal.relation, pedal.gain if two else float("nan"),
        pedal.offset_ratio * scale if two else float("nan"), grid, pressing, releasing,
        float("nan") if undefined else float(both.max()),
        float("nan") if undefined else float(grid[int(np.argmax(both))]),
        float(np.max(np.abs(pressing - releasing))) if two else float("nan"),
        len(holds), sum(p.quick for p in holds),
        tuple(TruePart(p.kind, p.start_s, p.end_s, p.quick) for p in course.parts),
        tuple(dropouts), _faults(pedal, course, clean, converter, dropouts, kept, mean_supply),
        int((~kept).sum()), 100.0 * course.travel[kept])


def _level(course: Course, values: Array, start_s: float, end_s: float) -> float:
    """Return the median over the middle of a stretch, where the pedal stands still."""
    start, stop = np.searchsorted(course.time_s, [start_s, end_s])
    quarter = (stop - start) // 4
    return float(np.median(values[start + quarter: max(stop - quarter, start + quarter + 1)]))


def true_mismatch(pedal: Pedal, points: int = 1001) -> tuple[Array, Array, Array]:
    """Return travel (m,) and the true mismatch when pressing and when releasing, each (m,).

    From a slow press and release without scatter, noise, dropouts or slips, after one round
    that takes up the play; NaN-free. With one track both curves are zero.
    """
    grid = np.linspace(0.0, 1.0, points)
    if len(pedal.tracks) < 2:
        return 100.0 * grid, np.zeros(points), np.zeros(points)
    still = replace(pedal, slips=())
    way = np.concatenate([grid, grid[::-1], grid, grid[::-1]])
    travels = []
    for k in range(2):
        ratio = track_ratio(still, k, np.zeros(way.size), way)
        rest, full = ratio[-1], ratio[3 * points - 1]
        travels.append(100.0 * (ratio - rest) / (full - rest))
    difference = travels[0] - travels[1]
    return (100.0 * grid, difference[2 * points: 3 * points],
            difference[3 * points:][::-1].copy())


def _faults(
    pedal: Pedal, course: Course, clean: list[Array], converter: Converter,
    dropouts: list[TrueDropout], kept: Mask, mean_supply: float,
) -> tuple[TrueFault, ...]:
    """Return everything that is wrong, in order of time; places without a time start at 0 s."""
    end = float(course.time_s[-1])
    found = [TrueFault("dropout", d.column, d.start_s, d.end_s, d.travel_percent)
             for d in dropouts]
    found += [TrueFault("noise", COLUMNS[w.track], 0.0, end, w.travel_percent)
              for w in pedal.worn_spots]
    found += [TrueFault("flat spot", COLUMNS[f.track], 0.0, end, f.travel_percent)
              for f in pedal.flat_spots]
    found += [TrueFault("step", COLUMNS[s.track], s.at_s, s.at_s, 100.0 * float(
        np.interp(s.at_s, course.time_s, course.travel))) for s in pedal.slips]
    stuck = {s.cycle: s.travel_percent for s in pedal.stuck_returns}
    for part in course.parts:
        if part.kind == "rest" and part.cycle in stuck:
            found.append(TrueFault(
                "no return", None, part.start_s, part.end_s, stuck[part.cycle]))
        if part.kind == "release" and part.quick and pedal.slow_return_s is not None:
            found.append(TrueFault("slow return", None, part.start_s, part.end_s, 100.0))
    if pedal.supply.sag_volts:
        found.append(TrueFault(
            "supply sag", "supply", pedal.supply.sag_at_s,
            pedal.supply.sag_at_s + pedal.supply.sag_seconds, float("nan")))
    top = converter.reference_volts * converter.track_scale * (1 - 1 / converter.full_scale)
    for k, ratio in enumerate(clean):
        over = (ratio * mean_supply >= top) | (ratio <= 0)
        if over.any():
            where = np.flatnonzero(over)
            found.append(TrueFault(
                "clipping", COLUMNS[k], float(course.time_s[where[0]]),
                float(course.time_s[where[-1]]), 100.0 * float(np.min(course.travel[where]))))
    lost = np.flatnonzero(np.diff(np.concatenate([[True], kept, [True]]).astype(np.int8)))
    for start, stop in zip(lost[::2], lost[1::2], strict=True):
        found.append(TrueFault(
            "gap", None, float(course.time_s[start]), float(course.time_s[stop - 1]),
            100.0 * float(course.travel[start])))
    return tuple(sorted(found, key=lambda f: f.time_s))
