"""A pedal of its own making, to judge claims by: foot, arm, films, leads, supply, converter.

Nothing of the other generators is used; of `analysis` only the containers Recording, Channel and
Mark. A foot moves on keyframes joined by minimum-jerk paths (Flash & Hogan 1985), with tremor
while it touches; the arm comes back to a slightly other rest each time; a track is a film with
bow, grain and end resistance, read through a lead by a converter that floors, bows and gains.

    sweep(pedal, board, rng) -> Shot: times, travel, true ratios; `record(shot, ...)` reads it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.model.recording import Channel, Mark, Recording

RELATIONS = ("same", "offset", "half", "opposed", "falling", "two")
NOMINAL = 5.0
# bits, reference, divider: each leaves headroom over 5 V.
BOARDS = ((10, 5.0, 1.2), (12, 3.3, 1.7), (12, 5.0, 1.15), (16, 4.096, 1.4), (10, 3.3, 1.8),
          (12, 2.5, 2.4))
RATES = (50.0, 100.0, 200.0, 333.0, 500.0, 1000.0)


@dataclass(frozen=True)
class Track:
    """Hold one film: wiper share at rest and at the stop, its bow, grain and noise (of supply)."""

    rest: float
    full: float
    bow: float
    grain: float
    phase: float
    noise: float

    @property
    def sign(self) -> float:
        """Return +1 when it rises towards pressed, else -1."""
        return 1.0 if self.full > self.rest else -1.0

    def share(self, travel: np.ndarray) -> np.ndarray:
        """Return the wiper's share of the supply at travel 0 to 1."""
        bent = travel + self.bow * np.sin(np.pi * np.clip(travel, 0, 1))
        bent = bent + self.grain * np.sin(37.0 * travel + self.phase)
        return self.rest + (self.full - self.rest) * bent


@dataclass(frozen=True)
class Pedal:
    """Hold the two films and how the arm comes back (standard deviation of the rest, of travel)."""

    relation: str
    tracks: tuple[Track, ...]
    scatter: float


@dataclass(frozen=True)
class Board:
    """Hold a converter and its clock; with_supply: the supply is read too."""

    bits: int
    rate: float
    reference: float
    scale: float
    gain: float = 0.0
    bow_steps: float = 0.0
    jitter: float = 0.0
    noise_steps: float = 0.3
    with_supply: bool = True
    supply_volts: float = 5.0
    ripple_volts: float = 0.0


@dataclass(frozen=True)
class Shot:
    """Hold what was true at each sampling instant."""

    time_s: np.ndarray
    travel: np.ndarray
    shares: list[np.ndarray]
    marks: tuple[Mark, ...] = ()
    notes: dict[str, float] = field(default_factory=dict)


def draw_pedal(rng: np.random.Generator, relation: str | None = None) -> Pedal:
    """Return a sound pedal."""
    relation = relation or str(rng.choice(RELATIONS))
    rest, full = rng.uniform(0.13, 0.20), rng.uniform(0.74, 0.86)
    pairs = {"same": (rest + rng.normal(0, 0.0006), full + rng.normal(0, 0.001)),
             "offset": (rest + 0.06, full + 0.06), "half": (rest / 2, full / 2),
             "opposed": (1 - rest, 1 - full)}
    first = (rest, full)
    if relation == "falling":
        first = (1 - rest, 1 - full)
        pairs["falling"] = (1 - rest + rng.normal(0, 0.0006), 1 - full + rng.normal(0, 0.001))
    pairs["two"] = (full / 2, rest / 2)
    tracks = []
    for low, high in (first, pairs[relation]):
        tracks.append(Track(low, high, rng.normal(0, 0.004), abs(rng.normal(0, 0.0006)),
                            rng.uniform(0, 6.28), rng.uniform(0.0001, 0.0004)))
    return Pedal(relation, tuple(tracks), rng.uniform(0.0003, 0.0015))


def draw_board(rng: np.random.Generator, rate: float | None = None, bits: int | None = None,
               ) -> Board:
    """Return a usual board."""
    fits = [b for b in BOARDS if bits is None or b[0] == bits]
    n, reference, scale = fits[int(rng.integers(len(fits)))]
    return Board(n, rate or float(rng.choice(RATES)), reference, scale, rng.normal(0, 0.001),
                 rng.uniform(-0.8, 0.8), rng.uniform(0, 0.05), rng.uniform(0.1, 0.6), True,
                 rng.uniform(4.9, 5.1), rng.uniform(0, 0.004))


def minimum_jerk(times: np.ndarray, keys: Sequence[tuple[float, float]]) -> np.ndarray:
    """Return the path through (second, travel) keys, at rest at each of them."""
    at, to = (np.array(k, float) for k in zip(*keys, strict=True))
    i = np.clip(np.searchsorted(at, times, side="right") - 1, 0, at.size - 2)
    u = np.clip((times - at[i]) / np.maximum(at[i + 1] - at[i], 1e-9), 0.0, 1.0)
    return to[i] + (to[i + 1] - to[i]) * u**3 * (10 - 15 * u + 6 * u * u)


def clock(rng: np.random.Generator, board: Board, seconds: float) -> np.ndarray:
    """Return sampling instants with the board's jitter, never running backwards."""
    n = int(seconds * board.rate)
    times = np.arange(n) / board.rate
    times = times + rng.uniform(-0.5, 0.5, n) * board.jitter / board.rate
    return np.maximum.accumulate(np.maximum(times, 0.0))


def feet(rng: np.random.Generator, pedal: Pedal, presses: int,
         short: float = 0.0, rest_s: float | None = None, slow: float = 1.0,
         pause_down: float = 0.0) -> tuple[list[tuple[float, float]], list[tuple[float, str]]]:
    """Return keyframes (second, travel) and the prompts (second, text) of one sweep.

    short: share of the presses that end anywhere; pause_down: seconds that the hand pauses half
    way down at each release.
    """
    now, rest = rng.uniform(2.0, 4.0), rng.normal(0, pedal.scatter)
    keys, prompts = [(0.0, rest), (now, rest)], [(0.0, "rest")]
    for _ in range(presses):
        prompts.append((now - 0.3, "press"))
        down, hold, up = (slow * rng.uniform(0.5, 1.6), rng.uniform(0.8, 2.0),
                          rng.uniform(0.12, 0.45))
        depth = rng.uniform(0.3, 0.9) if rng.random() < short else 1.0
        keys.append((now + down, depth))
        keys.append((now + down + hold, depth))
        prompts += [(now + down, "hold"), (now + down + hold, "release")]
        now += down + hold
        if pause_down:
            middle = rng.uniform(0.4, 0.6)
            keys += [(now + 0.3, middle), (now + 0.3 + pause_down, middle)]
            now += 0.3 + pause_down
        rest = rng.normal(0, pedal.scatter)
        now += up
        keys.append((now, rest))
        prompts.append((now, "rest"))
        now += rest_s if rest_s is not None else rng.uniform(1.6, 3.0)
        keys.append((now, rest))
    return keys, prompts


def take(rng: np.random.Generator, pedal: Pedal, board: Board, keys: list[tuple[float, float]],
         prompts: Sequence[tuple[float, str]] = ()) -> Shot:
    """Return what is true while the foot goes through the keys."""
    times = clock(rng, board, keys[-1][0])
    travel = minimum_jerk(times, keys)
    touched = (travel > 0.02) & (travel < 0.995)
    tremor = 0.004 * np.sin(2 * np.pi * rng.uniform(6, 11) * times + rng.uniform(0, 6))
    travel = travel + tremor * touched * np.clip(travel, 0, 1) * (1 - np.clip(travel, 0, 1)) * 4
    marks = tuple(Mark(int(min(np.searchsorted(times, s), times.size - 1)), t) for s, t in prompts)
    return Shot(times, travel, [t.share(travel) for t in pedal.tracks], marks)


def sweep(rng: np.random.Generator, pedal: Pedal, board: Board, presses: int = 8,
          prompted: bool | None = None, **habits: float) -> Shot:
    """Return one sweep of `presses` presses."""
    keys, prompts = feet(rng, pedal, presses, **habits)
    asked = rng.random() < 0.6 if prompted is None else prompted
    return take(rng, pedal, board, keys, prompts if asked else ())


def convert(rng: np.random.Generator, board: Board, volts: np.ndarray) -> np.ndarray:
    """Return the codes of volts at the sensor: gain, bow, noise, floor, and the two ends."""
    codes = 2.0**board.bits
    x = volts / board.scale / board.reference
    y = x * (1 + board.gain) * codes + board.bow_steps * np.sin(2 * np.pi * np.clip(x, 0, 1))
    y = y + rng.normal(0, board.noise_steps, volts.size)
    return np.clip(np.floor(y), 0, codes - 1)


def record(rng: np.random.Generator, pedal: Pedal, board: Board, shot: Shot,
           purpose: str = "sweep", title: str = "", supply: np.ndarray | None = None,
           added: Sequence[np.ndarray | float] = (0.0, 0.0)) -> Recording:
    """Return what the board reads; added: volts at each input that the film does not make."""
    n = shot.time_s.size
    if supply is None:
        supply = board.supply_volts + board.ripple_volts * np.sin(
            2 * np.pi * 113.0 * shot.time_s) + rng.normal(0, 0.0003, n)
    full = 2.0**board.bits
    columns = []
    for name, track, share, extra in zip("ab", pedal.tracks, shot.shares, added, strict=False):
        volts = (share + rng.normal(0, track.noise, n)) * supply + extra
        columns.append(Channel(name, "track", convert(rng, board, volts), "counts", full,
                               board.reference, board.scale))
    if board.with_supply:
        columns.append(Channel("supply", "supply", convert(rng, board, supply), "counts", full,
                               board.reference, board.scale, 0.0, NOMINAL))
    return Recording(shot.time_s, tuple(columns), shot.marks, title, purpose,
                     rate_hz=board.rate)


def with_readings(recording: Recording, column: str, readings: np.ndarray) -> Recording:
    """Return the recording with one column's readings replaced."""
    return replace(recording, channels=tuple(
        replace(c, readings=readings) if c.column == column else c for c in recording.channels))


def without_rows(recording: Recording, lost: np.ndarray, marked: str | None = "gap") -> Recording:
    """Return the recording without the rows where `lost`; each loss is marked `gap N`.

    marked: "gap" with the number lost, None without a mark.
    """
    kept = np.flatnonzero(~lost)
    new_row = np.cumsum(~lost) - 1
    marks = [Mark(int(max(new_row[m.row], 0)), m.text) for m in recording.marks]
    if marked is not None:
        jumps = np.flatnonzero(np.diff(kept) > 1)
        marks += [Mark(int(j + 1), f"gap {int(kept[j + 1] - kept[j] - 1)}") for j in jumps]
    marks.sort(key=lambda m: m.row)
    return replace(recording, time_s=recording.time_s[kept], marks=tuple(marks), channels=tuple(
        replace(c, readings=c.readings[kept]) for c in recording.channels))


def runner(items: Sequence[object], work: object, workers: int) -> list[object]:
    """Return the work done on every item, by `workers` processes."""
    if workers < 2 or len(items) < 4:
        return [work(i) for i in items]  # type: ignore[operator]
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(work, items, chunksize=4))  # type: ignore[arg-type]
