"""The truth behind a simulated sweep, in the words of the findings."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array
from analysis.simulation.converter import Converter
from analysis.simulation.motion import Course
from analysis.simulation.pedal import Pedal
from analysis.simulation.wiper import track_ratio

COLUMNS = ("a", "b")
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class TrackTruth:
    """Hold what is true of one track; volts at the sensor at nominal supply, noise left out.

    rest_levels: one per rest of the recording, in order of time, the first rest included;
    full_levels: one per press. rest_volts and full_volts are their medians.
    usual_rest_volts, rest_scatter_volts: middle and standard deviation that the rest levels
    of endless returns would have; drift, slips and stuck returns left out.
    noise_volts: rms at rest of the stated reading: wiper, converter, and supply reading.
    """

    column: str
    direction: str
    rest_volts: float
    full_volts: float
    rest_levels: Array
    full_levels: Array
    noise_volts: float
    usual_rest_volts: float
    rest_scatter_volts: float

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
    """Hold one thing wrong, in the words of `analysis.pedal.faults.Fault.kind`."""

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


def truth_of(
    pedal: Pedal, course: Course, clean: list[Array], supply: Array, converter: Converter,
    dropouts: list[TrueDropout], kept: Mask,
) -> Truth:
    """Return the truth of a sweep from its course and its noiseless ratios."""
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
            level["rest"], level["hold"],
            _reading_noise(pedal, k, converter, mean_supply) * scale / mean_supply,
            _usual_rest(pedal, k) * scale, scale * float(np.hypot(
                track.return_scatter_volts / 5.0, pedal.return_scatter_percent / 100.0
                * (track.full_ratio - track.rest_ratio))))
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


def _reading_noise(pedal: Pedal, index: int, converter: Converter, mean_supply: float) -> float:
    """Return the rms noise of a rest reading in volts, steps taken as uniform (LSB/sqrt(12))."""
    track = pedal.tracks[index]
    step = converter.reference_volts / converter.full_scale * float(
        np.hypot(converter.noise_steps, 1 / np.sqrt(12)))
    own = float(np.hypot(track.noise_volts, step * converter.track_scale))
    if not pedal.supply.recorded:
        return float(np.hypot(own, track.rest_ratio * pedal.supply.noise_volts))
    # What the supply really does cancels in the ratio; how it is read does not.
    return float(np.hypot(own, track.rest_ratio * step * converter.supply_scale))


def _usual_rest(pedal: Pedal, index: int) -> float:
    """Return the ratio a track comes back to after a full press, without scatter."""
    way = np.array([0.0, 1.0, 0.0])
    return float(track_ratio(replace(pedal, slips=()), index, np.zeros(3), way)[-1])


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
