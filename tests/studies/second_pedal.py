"""A second pedal, built the other way round, to guard against tuning to the first.

Nothing is drawn as a curve here. A pedal arm with inertia, preload, stick-slip friction and
rubber stops is integrated in time under a foot that can only push. Each track is a resistive
film with grain between end resistors, loaded by its input's pull resistor through a wiper
contact; a lost contact lets the input's capacitor run down. A multiplexed converter with
jitter, skew and its own nonlinearity reads it all. From `analysis` only the containers
Recording, Channel and Mark are used, to hand the readings over.

    random_sweep(seed, lost_contacts) -> (Recording, SecondTruth)
    random_sweep(seed, harm=Harm("slow return", 2.0)) and so on for one injected harm

Feet and arms are drawn a block at a time, and integrated one by one as they are asked for.
"""

import sys
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from analysis.model.recording import Channel, Mark, Recording

sys.path.insert(0, str(Path(__file__).parent))

from second_arm import STEP_S, Arm, Harm, Task, arms_of, foot_task

BLOCK = 64
KINDS = ("same slope", "half slope", "opposed slopes", "same slope with offset", "other")
# bits, rate, reference volts, track divider, supply divider
INPUTS = ((10, 200.0, 5.0, 1.1, 2.0), (12, 1000.0, 3.3, 1.68, 1.68), (16, 500.0, 4.096, 1.5, 1.5))


@dataclass(frozen=True)
class TrackTruth:
    """Hold what is true of one track, in volts at nominal supply."""

    rest_volts: float
    full_volts: float
    span_volts: float
    direction: str
    rest_levels: np.ndarray


@dataclass(frozen=True)
class Lost:
    """Hold one loss of contact; samples and depth count rows thrown by 5 % of travel or more."""

    column: str
    start_s: float
    end_s: float
    travel_percent: float
    samples: int
    depth_percent: float


@dataclass(frozen=True)
class Wrong:
    """Hold one true fault, in the words of the findings."""

    kind: str
    channel: str | None
    time_s: float
    end_s: float
    travel_percent: float


@dataclass(frozen=True)
class SecondTruth:
    """Hold the truth of one sweep, with the names the first generator uses."""

    tracks: dict[str, TrackTruth]
    relation: str
    gain: float
    offset_volts: float
    line: tuple[float, float]
    mismatch_max_percent: float
    mismatch_at_travel_percent: float
    presses: int
    quick_presses: int
    dropouts: tuple[Lost, ...]
    faults: tuple[Wrong, ...]
    lost_samples: int
    return_s: tuple[float, ...]
    lift_off_s: tuple[float, ...]


class Film:
    """A resistive track: linkage, film grain, end resistors, contact, loaded input."""

    def __init__(self, rest: float, full: float, rng: np.random.Generator) -> None:
        self.rest, self.full = rest, full
        self.bow = rng.normal(0, 0.004, 4) / np.arange(1, 5)
        grain = rng.standard_normal(4096)
        kernel = np.hanning(2 * int(rng.integers(4, 40)) + 1)
        grain = np.convolve(grain, kernel / kernel.sum(), "same")
        self.grain = grain / grain.std() * rng.uniform(0, 6e-4)
        self.ohms = rng.uniform(1e3, 5e3)
        self.pull_ohms = rng.choice([1e5, 2.2e5, 4.7e5, 1e6])
        self.pull_up = bool(rng.random() < 0.3)
        self.capacitor = rng.choice([1e-9, 1e-8, 4.7e-8, 1e-7])
        self.contact_ohms = rng.uniform(50, 800)
        self.trail = rng.choice([0.0, 0.001, 0.002])
        # One fixed mounting angle: a lever turns the shaft through an arc.
        self.arc = rng.uniform(-0.05, 0.05)
        self.bridged: tuple[float, float] | None = None

    def ratio(self, position: np.ndarray, contact_share: np.ndarray | float = 1.0) -> np.ndarray:
        """Return volts at the input over supply for wiper positions 0..1, contact kept."""
        if self.bridged is not None:
            # A bridge of metal: one level over its length, the middle one, reached by a jump.
            low, high = self.bridged
            position = np.where((position > low) & (position < high), (low + high) / 2, position)
        x = position + self.arc * position * (1 - position) * 0.2
        for k, size in enumerate(self.bow, start=1):
            x = x + size * np.sin(np.pi * k * np.clip(position, 0, 1))
        x = x + np.interp(position, np.linspace(-0.05, 1.05, self.grain.size), self.grain)
        share = self.rest + (self.full - self.rest) * x
        source = share * (1 - share) * self.ohms + self.contact_ohms * contact_share
        load = self.pull_ohms
        return (share * load + (source if self.pull_up else 0.0)) / (load + source)

    @property
    def open_s(self) -> float:
        """Return the time constant with which the open input runs to its pull."""
        return float(self.pull_ohms * self.capacitor)


def backlash(x: np.ndarray, half: float) -> np.ndarray:
    """Return the driven side of a gap: each step the driver may push it from either side."""
    if half <= 0:
        return x
    least, most = (x - half).tolist(), (x + half).tolist()
    out, held = [], most[0]
    for low, high in zip(least, most, strict=True):
        held = min(max(held, low), high)
        out.append(held)
    return np.array(out)


def films(kind: str, rng: np.random.Generator) -> tuple[Film, Film]:
    """Return two films in that relation, kept clear of its limits."""
    while True:
        rest, full = rng.uniform(0.07, 0.25), rng.uniform(0.65, 0.92)
        gain, low = {
            "same slope": (rng.uniform(0.95, 1.05), rest + rng.uniform(-0.03, 0.03)),
            "half slope": (rng.uniform(0.475, 0.525), rest / 2 + rng.uniform(-0.02, 0.2)),
            "opposed slopes": (-rng.uniform(0.95, 1.05), full + rng.uniform(-0.1, 0.1)),
            "same slope with offset": (rng.uniform(0.95, 1.05), rest + rng.uniform(0.1, 0.25)),
            "other": (rng.choice([-0.5, 0.7, 1.35, -0.72]), rng.uniform(0.1, 0.9)),
        }[kind]
        high = low + gain * (full - rest)
        offset = low - gain * rest
        if not (min(low, high) > 0.05 and max(low, high) < 0.94):
            continue
        if kind == "same slope" and abs(offset) > 0.035:
            continue
        if kind == "same slope with offset" and abs(offset) < 0.065:
            continue
        pair = Film(rest, full, rng), Film(low, high, rng)
        return (pair[1], pair[0]) if kind == "half slope" and rng.random() < 0.4 else pair


@lru_cache(maxsize=2)
def _block(block: int, bouncy: bool, harm: Harm | None) -> tuple[list[Task], list[Arm]]:
    rng = np.random.default_rng([77, block])
    slow = harm.size if harm is not None and harm.kind == "slow return" else 0.0
    tasks = [foot_task(rng, slow) for _ in range(BLOCK)]
    return tasks, arms_of(tasks, rng, bouncy, harm)


def random_sweep(
    seed: int, lost_contacts: bool = False, bouncy: bool = False, harm: Harm | None = None,
) -> tuple[Recording, SecondTruth]:
    """Return the recording and truth of the pedal with that seed."""
    moved = harm if harm is not None and harm.kind in ("slow return", "no return") else None
    tasks, arms = _block(seed // BLOCK, bouncy, moved)
    task = tasks[seed % BLOCK]
    travel = arms[seed % BLOCK].travel
    rng = np.random.default_rng([78, seed, int(lost_contacts)])
    bits, rate, reference, divider, supply_divider = INPUTS[int(rng.integers(3))]
    kind = KINDS[seed % 5]
    pair = films(kind, rng)
    play = float(rng.choice([0.0, 0.0, 0.002, 0.005]))
    fine_t = np.arange(travel.size) * STEP_S
    places = [backlash(travel, pair[0].trail / 2), backlash(travel, (pair[1].trail + play) / 2)]

    count = int(task.seconds * rate)
    clock = np.arange(count) / rate
    taken = clock + rng.uniform(-0.02, 0.02, count) / rate
    nominal = 5.0
    supply = _supply(taken, rng)
    skew = rng.uniform(2e-5, 2e-4)
    channels, truths, lost, statics = [], {}, [], []
    harmed = int(rng.integers(2))
    spot, slip_s = rng.uniform(0.1, 0.85), rng.uniform(0.3, 0.6) * task.seconds
    wrong = _harm_truth(harm, "ab"[harmed], spot, slip_s, task, travel)
    if harm is not None and harm.kind == "flat spot":
        pair[harmed].bridged = (spot - harm.size / 200, spot + harm.size / 200)
    for k, (column, film) in enumerate(zip("ab", pair, strict=True)):
        when = taken + k * skew
        place = np.interp(when, fine_t, places[k])
        if harm is not None and harm.kind == "step" and k == harmed:
            place = place + harm.size / 100 * (when >= slip_s)
        clean = film.ratio(place)
        drift = rng.normal(0, 2e-5) * clock / 60.0
        fluctuating = np.exp(rng.normal(0, 0.3, count) * (np.abs(np.gradient(place)) > 1e-6))
        if harm is not None and harm.kind == "noise" and k == harmed:
            fluctuating = fluctuating + _rough_contact(film, place, spot, harm.size, rng)
        volts = (film.ratio(place, fluctuating) + drift) * supply
        volts = volts + _noise(count, rate, rng)
        if lost_contacts and rng.random() < 0.75:
            volts, gone, bad = _lose_contact(film, column, when, place, volts, supply, clean, rng)
            lost += gone
            wrong += bad
        channels.append(Channel(column, "track", _convert(volts / divider, bits, reference, rng),
                                "counts", float(1 << bits), reference, divider))
        levels = [float(np.median(clean[(when > a + (b - a) * 0.3) & (when < b - (b - a) * 0.1)]))
                  for a, b in task.rests]
        tops = [float(np.median(clean[(when > a + (b - a) * 0.4) & (when < b - (b - a) * 0.1)]))
                for a, b in task.holds]
        rest, full = float(np.median(levels)) * nominal, float(np.median(tops)) * nominal
        truths[column] = TrackTruth(rest, full, abs(full - rest),
                                    "rising" if full > rest else "falling",
                                    np.array(levels) * nominal)
        statics.append((rest / nominal, full / nominal))
    read = _convert(supply / supply_divider, bits, reference, rng)
    channels.append(Channel("supply", "supply", read, "counts", float(1 << bits), reference,
                            supply_divider, nominal_volts=nominal))
    curves = _static_curves(pair, play, travel, task)
    worst, worst_at = _true_mismatch(curves, statics)
    marks = tuple(Mark(min(count - 1, max(0, int(t * rate))), text) for t, text in task.asked)
    marks = tuple({m.row: m for m in marks}.values()) if rng.random() < 0.5 else ()
    recording = Recording(
        np.round(clock * (1 + rng.normal(0, 3e-5)), 6), tuple(channels), marks,
        title=f"second generator, {kind}", rate_hz=rate, board_name=f"{bits}-bit board")
    # The line through the ends as they are at the inputs, loading and contact included.
    (a_rest, a_full), (b_rest, b_full) = statics
    gain = (b_full - b_rest) / (a_full - a_rest)
    truth = SecondTruth(
        truths, kind, gain, (b_rest - gain * a_rest) * nominal,
        _true_line(curves, statics, nominal), worst, worst_at,
        len(task.holds), len(task.lift_offs), tuple(lost), tuple(wrong), 0,
        _returns(task, travel, fine_t), task.lift_offs)
    return recording, truth


def _rough_contact(
    film: Film, place: np.ndarray, spot: float, millivolts: float, rng: np.random.Generator,
) -> np.ndarray:
    """Return the contact's extra share over 4 % of travel that gives that rms at the input."""
    ratio = float(film.ratio(np.array([spot]))[0])
    lever = abs(float(film.ratio(np.array([spot]), 2.0)[0]) - ratio) * 5.0
    inside = np.abs(place - spot) < 0.02
    # Contact resistance is never negative: exponential, whose rms about its mean is its mean.
    return inside * rng.exponential(millivolts / 1000.0 / lever, place.size)


def _harm_truth(
    harm: Harm | None, column: str, spot: float, slip_s: float, task: Task, travel: np.ndarray,
) -> list[Wrong]:
    """Return the true faults of a harm."""
    if harm is None:
        return []
    if harm.kind in ("noise", "flat spot"):
        return [Wrong(harm.kind, column, 0.0, task.seconds, 100 * spot)]
    if harm.kind == "step":
        return [Wrong("step", column, slip_s, slip_s, 100 * float(travel[int(slip_s / STEP_S)]))]
    if harm.kind == "no return":
        return [Wrong("no return", None, task.holds[2][1] + 0.3, task.holds[3][0] - 0.5, harm.size)]
    return [Wrong("slow return", None, t, t + harm.size, 100.0) for t in task.lift_offs]


def _supply(when: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return a hub's 5 V: level, mains ripple, and steps when its other loads come and go."""
    volts = np.full(when.size, rng.uniform(4.75, 5.15))
    for _ in range(int(rng.integers(0, 4))):
        volts = volts + rng.uniform(-0.04, 0.04) * (when > rng.uniform(0, when[-1]))
    hum = rng.uniform(0, 0.004) * np.sin(2 * np.pi * 100 * when + rng.uniform(0, 6))
    return volts + hum + rng.normal(0, 4e-4, when.size)


def _noise(count: int, rate: float, rng: np.random.Generator) -> np.ndarray:
    """Return thermal noise, mains hum, and a bounded random walk, in volts."""
    noise = rng.normal(0, rng.uniform(2e-4, 2.5e-3), count)
    hum = rng.uniform(0, 1.5e-3) * np.sin(
        2 * np.pi * rng.choice([50, 60]) * np.arange(count) / rate + rng.uniform(0, 6))
    pull = 1 - 1.0 / (rate * rng.uniform(0.2, 2.0))
    walk, level, size = np.empty(count), 0.0, rng.uniform(0, 4e-4) * np.sqrt(1 - pull**2)
    for i, kick in enumerate(rng.standard_normal(count)):
        level = pull * level + size * kick
        walk[i] = level
    return noise + hum + walk


def _lose_contact(
    film: Film, column: str, when: np.ndarray, place: np.ndarray, volts: np.ndarray,
    supply: np.ndarray, clean: np.ndarray, rng: np.random.Generator,
) -> tuple[np.ndarray, list[Lost], list[Wrong]]:
    """Return volts with the wiper lifting at bad places of the film and by vibration.

    Every loss is wrong, also one too short or shallow to be held against the analysis.
    """
    out, found, wrong = volts.copy(), [], []
    windows = []
    step = when[1] - when[0]
    for spot in rng.uniform(0.06, 0.94, int(rng.integers(0, 3))):
        crossed = np.flatnonzero((place[:-1] - spot) * (place[1:] - spot) < 0)
        windows += [(when[i], rng.uniform(2.2 * step, max(0.05, 5 * step)))
                    for i in crossed if rng.random() < 0.3]
    for _ in range(int(rng.integers(0, 3))):
        windows.append((rng.uniform(1.0, when[-1] - 1.0), rng.uniform(2.2 * step, 0.15)))
    last = 0.0
    span = abs(film.full - film.rest)
    for start, length in sorted(windows):
        if start < last + 0.3:
            continue
        last = start + length
        rows = np.flatnonzero((when >= start) & (when < start + length))
        if rows.size == 0:
            continue
        end_level = supply[rows] * (1.0 if film.pull_up else 0.0)
        began = volts[max(rows[0] - 1, 0)]
        fade = np.exp(-(when[rows] - start) / film.open_s)
        out[rows] = end_level + (began - end_level) * fade
        away = 100 * np.abs(out[rows] / supply[rows] - clean[rows]) / span
        deep = rows[away >= 5.0]
        wrong.append(Wrong("dropout", column, float(start), float(start + length),
                           100 * float(np.median(place[rows]))))
        if deep.size:
            found.append(Lost(column, float(when[deep[0]]), float(when[deep[-1]]),
                              100 * float(np.median(place[deep])), int(deep.size),
                              float(np.min(away[away >= 5.0]))))
    return out, found, wrong


def _convert(
    volts: np.ndarray, bits: int, reference: float, rng: np.random.Generator,
) -> np.ndarray:
    """Return codes of a converter whose thresholds are bent and uneven."""
    codes = 1 << bits
    ideal = volts / reference * codes
    bend = (0.15 if bits < 16 else 1.5) * np.sin(
        2 * np.pi * ideal / codes * rng.uniform(0.5, 2) + rng.uniform(0, 6))
    uneven = rng.uniform(-0.15, 0.15, codes + 1)
    raw = ideal + bend
    raw = raw + uneven[np.clip(raw, 0, codes).astype(int)] + rng.normal(0, 0.2, volts.size)
    return np.clip(np.floor(raw + 0.5), 0, codes - 1)


def _static_curves(pair: tuple[Film, Film], play: float, travel: np.ndarray,
                   task: Task) -> list[np.ndarray]:
    """Return each track's ratio while pressing and while releasing, shape (2, 4001).

    Statically, from the usual rest to the usual full travel.
    """
    t = np.arange(travel.size) * STEP_S
    low = float(np.median([np.median(travel[(t > a + 0.3 * (b - a)) & (t < b)])
                           for a, b in task.rests]))
    high = float(np.median([np.median(travel[(t > a + 0.4 * (b - a)) & (t < b)])
                            for a, b in task.holds]))
    grid = np.linspace(low, high, 4001)
    way = np.concatenate([grid, grid[::-1], grid, grid[::-1]])
    curves = []
    for k, film in enumerate(pair):
        place = backlash(way, (film.trail + (play if k else 0.0)) / 2)
        curves.append(film.ratio(place).reshape(4, 4001)[2:])
    return curves


def _true_mismatch(curves: list[np.ndarray], ends: list[tuple[float, float]],
                   ) -> tuple[float, float]:
    """Return the worst difference of travels, pressing or releasing, and where, in %.

    Grain finer than 1 % of travel is averaged, since the definition smooths against sample noise.
    """
    percent = [100 * (ratio - rest) / (full - rest)
               for ratio, (rest, full) in zip(curves, ends, strict=True)]
    worst, worst_at = 0.0, 0.0
    kernel = np.ones(41) / 41
    for first, second in zip(*percent, strict=True):
        smooth = np.convolve(first - second, kernel, "valid")
        where = np.convolve((first + second) / 2, kernel, "valid")
        i = int(np.argmax(np.abs(smooth)))
        if abs(smooth[i]) > worst:
            worst, worst_at = float(abs(smooth[i])), float(where[i])
    return worst, worst_at


def _true_line(curves: list[np.ndarray], ends: list[tuple[float, float]],
               nominal: float) -> tuple[float, float]:
    """Return gain and offset in volts of the line that docs/method.md defines, without noise.

    Least squares of the second track on the first at every percent of travel, both ways, and at
    both ends with 30 % of the weight each and half of the play taken out.
    """
    (a_rest, a_full), (b_rest, b_full) = ends
    at = np.linspace(20, 3980, 100).astype(int)
    first, second = (np.concatenate([way[at] for way in ratio]) for ratio in curves)
    a, b = (100 * (ratio - rest) / (full - rest)
            for ratio, (rest, full) in zip(curves, ends, strict=True))
    # Releasing runs down the grid.
    gap = (a - b)[0] - (a - b)[1][::-1]
    half = float(np.median(gap[400:-400])) / 200.0 * (b_full - b_rest)
    x = np.concatenate([first, [a_rest, a_full]])
    y = np.concatenate([second, [b_rest - half, b_full + half]])
    weight = np.ones(x.size)
    weight[-2:] = 0.3 * first.size / (1 - 2 * 0.3)
    gain, offset = np.polyfit(x, y, 1, w=np.sqrt(weight))
    return float(gain), float(offset) * nominal


def _returns(task: Task, travel: np.ndarray, t: np.ndarray) -> tuple[float, ...]:
    """Return for each lift-off how long the arm took to come within 1 % of rest for good."""
    seconds = []
    for start in task.lift_offs:
        after = next((b for a, b in task.rests if a > start), task.seconds)
        rows = np.flatnonzero((t >= start) & (t < after))
        still_out = rows[travel[rows] > 0.01]
        seconds.append(float(t[still_out[-1]] - start) if still_out.size else 0.0)
    return tuple(seconds)
