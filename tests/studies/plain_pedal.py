"""A plain pedal built from stated conditions, so that each number's truth is known beforehand.

Travel is written down, not simulated: eased ramps between rest and full, or a staircase where the
pivot sticks. Tracks are straight lines with one bend, put into the relation asked for; the second
may lag behind a gap. Nothing of `analysis` is used but the containers that hand readings over.

    sweep(Condition("hum", "play"), seed) -> (Recording, Plain)
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Channel, Recording

NOMINAL = 5.0
COLOURS = ("white", "pink", "hum")
ODDS = ("plain", "play", "sticking", "warming")
RELATIONS = ("same slope", "half slope", "opposed slopes", "same slope with offset", "other")
BOARDS = ((10, 200.0), (12, 1000.0), (16, 500.0))
BEND_GRID = np.linspace(0.0, 1.0, 401)


@dataclass(frozen=True)
class Condition:
    """Hold the colour of the noise and what is odd about the pedal."""

    colour: str
    odd: str


@dataclass(frozen=True)
class PlainTrack:
    """Hold what is true of a track, volts at nominal supply; drift_per_minute of its rest."""

    rest: float
    full: float
    scatter: float
    full_scatter: float
    drift_per_minute: float
    noise: float
    hum_peak: float
    bend_percent: float
    linearity_percent: float

    @property
    def sign(self) -> float:
        """Return +1 for a rising track, -1 for a falling one."""
        return 1.0 if self.full > self.rest else -1.0

    @property
    def span(self) -> float:
        """Return the distance from rest to full, volts."""
        return abs(self.full - self.rest)


@dataclass(frozen=True)
class Plain:
    """Hold the truth of one sweep; step: converter steps at the sensor, volts."""

    condition: Condition
    tracks: tuple[PlainTrack, PlainTrack]
    relation: str
    gain: float
    offset: float
    mismatch: float
    mismatch_at: float
    play: float
    presses: int
    return_s: tuple[float, ...]
    step: float
    one_sided: bool


def _levels(relation: str, dice: np.random.Generator) -> tuple[float, float, float, float]:
    """Return rest and full ratio of both tracks, well inside the relation's limits."""
    rest, full = dice.uniform(0.10, 0.18), dice.uniform(0.70, 0.80)
    gain, offset = {
        "same slope": (dice.uniform(0.95, 1.05), dice.uniform(-0.02, 0.02)),
        "half slope": (dice.uniform(0.48, 0.52), 0.03),
        "opposed slopes": (-dice.uniform(0.95, 1.05), 0.95),
        "same slope with offset": (dice.uniform(0.95, 1.05), 0.09),
        "other": (dice.uniform(0.65, 0.8), 0.05)}[relation]
    return rest, full, gain * rest + offset, gain * full + offset


def _noise(colour: str, size: float, t: np.ndarray, dice: np.random.Generator) -> np.ndarray:
    """Return noise in volts with that rms: white, 1/f (above 0.5 Hz), or white and mains hum."""
    white = dice.standard_normal(t.size)
    if colour == "white":
        return size * white
    if colour == "hum":
        tone = np.sqrt(2.0) * np.sin(2 * np.pi * 50.02 * t + dice.uniform(0, 6.28))
        return size * (0.6 * white + 0.8 * tone)
    spectrum = np.fft.rfft(white)
    hertz = np.fft.rfftfreq(t.size, t[1] - t[0])
    shape = np.where(hertz > 0.5, 1.0 / np.sqrt(np.maximum(hertz, 0.5)), 0.0)
    pink = np.fft.irfft(spectrum * shape, t.size)
    return size * pink / np.sqrt(np.mean(shape**2))


def _course(condition: Condition, rate: float, dice: np.random.Generator) -> tuple[
        np.ndarray, np.ndarray, int, tuple[float, ...]]:
    """Return travel (0 to 1), the cycle of each row, the presses, and true lift-off times."""
    slow, quick = 10, 3
    travel, cycles, returns = [], [], []

    def add(values: np.ndarray, k: int) -> None:
        travel.append(values)
        cycles.append(np.full(values.size, k))

    def ease(seconds: float) -> np.ndarray:
        u = np.linspace(0, 1, max(int(seconds * rate), 2), endpoint=False)
        if condition.odd == "sticking":
            # A pivot that sticks moves in jumps of about 1.5 % of travel.
            u = np.floor(u * 66) / 66
        return u * u * (3 - 2 * u)

    for k in range(slow + quick):
        add(np.zeros(int(dice.uniform(2.0, 2.6) * rate)), k)
        add(ease(dice.uniform(1.6, 2.6)), k)
        add(np.ones(int(dice.uniform(1.0, 1.5) * rate)), k)
        if k < slow:
            add(1 - ease(dice.uniform(1.6, 2.6)), k)
            continue
        tau = dice.uniform(0.02, 0.12)
        u = np.arange(0, 12 * tau, 1 / rate) / tau
        add(np.where(u < 11.5, np.exp(-u), 0.0), k)
        # Until within 3 % of rest, which is what counts as back.
        returns.append(float(tau * np.log(1 / 0.03)))
    add(np.zeros(int(2.5 * rate)), slow + quick)
    return np.concatenate(travel), np.concatenate(cycles), slow + quick, tuple(returns)


def _bent(x: np.ndarray, percent: float) -> np.ndarray:
    return x + percent / 100.0 * np.sin(2 * np.pi * x)


def _lagging(x: np.ndarray, gap: float) -> np.ndarray:
    """Return the place of a shaft driven through a gap, that width."""
    if gap <= 0:
        return x
    out, held = np.empty(x.size), x[0] + gap / 2
    for i, driver in enumerate(x.tolist()):
        held = min(max(held, driver - gap / 2), driver + gap / 2)
        out[i] = held
    return out


def _static(bends: tuple[float, float], gap: float) -> tuple[float, float, float, float]:
    """Return worst mismatch, where, play (% of travel) and the deviation from a straight line."""
    from scipy.optimize import linprog

    way = np.concatenate([BEND_GRID, BEND_GRID[::-1]] * 2)
    first, second = _bent(way, bends[0]), _bent(_lagging(way, gap), bends[1])
    n = BEND_GRID.size

    def percent(v: np.ndarray) -> np.ndarray:
        return 100 * (v - v[-1]) / (v[3 * n - 1] - v[-1])

    a, b = percent(first), percent(second)
    press, release = (a - b)[2 * n:3 * n], (a - b)[3 * n:][::-1]
    both = np.maximum(np.abs(press), np.abs(release))
    k = int(np.argmax(both))
    # Smallest largest deviation of the first track from a line over the second: a linear program.
    x = np.concatenate([b[2 * n:3 * n:4], b[3 * n::4]])
    y = np.concatenate([a[2 * n:3 * n:4], a[3 * n::4]])
    rows = np.concatenate([np.column_stack([-x, -np.ones(x.size), -np.ones(x.size)]),
                           np.column_stack([x, np.ones(x.size), -np.ones(x.size)])])
    answer = linprog([0, 0, 1], A_ub=rows, b_ub=np.concatenate([-y, y]),
                     bounds=[(None, None), (None, None), (0, None)])
    return float(both[k]), 100 * float(BEND_GRID[k]), float(np.max(np.abs(press - release))), \
        float(answer.fun)


def sweep(condition: Condition, seed: int) -> tuple[Recording, Plain]:
    """Return recording and truth; relation and board go by the seed."""
    dice = np.random.default_rng([31, seed])
    relation, (bits, rate) = RELATIONS[seed % 5], BOARDS[(seed // 5) % 3]
    r1, f1, r2, f2 = _levels(relation, dice)
    place, number, presses, returns = _course(condition, rate, dice)
    t = np.arange(place.size) / rate
    one_sided = condition.odd == "sticking"
    gap = dice.uniform(0.003, 0.012) if condition.odd == "play" else 0.0
    bends = (dice.uniform(-0.6, 0.6), dice.uniform(-0.6, 0.6))
    count = presses + 1
    scatter = dice.uniform(2e-4, 2e-3)
    lifts = scatter * (dice.exponential(1.0, count) if one_sided else dice.standard_normal(count))
    falls = 0.0015 * dice.standard_normal(count)
    base, top = lifts[number], 1.0 + falls[np.minimum(number, count - 1)]
    # The way up starts at this rest, the way down ends at the next one.
    down = np.zeros(place.size, dtype=bool)
    down[1:] = place[1:] < place[:-1]
    going = np.maximum.accumulate(np.where(down, np.arange(place.size), -1))
    rising = np.maximum.accumulate(np.where(~down & (place > 0), np.arange(place.size), -1))
    falling = (going > rising) & (place > 0)
    base = np.where(falling, lifts[np.minimum(number + 1, count - 1)], base)
    x = base + place * (top - base)
    warm = condition.odd == "warming"
    supply = dice.uniform(4.85, 5.1) * (1 + (-4e-5 * t if warm else 0.0) * dice.uniform(0.5, 1.0))
    supply = supply + 3e-4 * dice.standard_normal(t.size)
    step = NOMINAL / 2**bits
    mismatch, at, play, bow = _static(bends, gap)
    channels, tracks = [], []
    for k, (rest, full) in enumerate(((r1, f1), (r2, f2))):
        size = max(float(np.exp(dice.uniform(np.log(3e-4), np.log(3e-3)))), 0.5 * step)
        drift = dice.uniform(-0.006, 0.006) if warm else 0.0
        seen = _bent(_lagging(x, gap) if k else x, bends[k])
        ratio = rest + (full - rest) * seen + drift * t / 60.0 / NOMINAL
        noise = _noise(condition.colour, size, t, dice)
        codes = np.floor((ratio * supply + noise) / step + 0.5)
        channels.append(Channel("ab"[k], "track", np.clip(codes, 0, 2**bits - 1), "counts",
                                float(2**bits), NOMINAL))
        lag = (gap / 2 if k else 0.0) * (full - rest) * NOMINAL
        lean = scatter * (full - rest) * NOMINAL * (np.log(2.0) if one_sided else 0.0)
        slope = 1 + 2 * np.pi * bends[k] / 100.0
        middle = drift * float(np.mean(t)) / 60.0
        own = rest * NOMINAL + lag * slope + lean * slope + middle
        end = full * NOMINAL - lag * slope + middle
        sd = scatter * slope * abs(full - rest) * NOMINAL
        hum = 0.8 * np.sqrt(2.0) * size if condition.colour == "hum" else 0.0
        tracks.append(PlainTrack(
            own, end, sd, 0.0015 * slope * abs(full - rest) * NOMINAL, drift,
            float(np.hypot(size, step / np.sqrt(12.0))), hum, bends[k],
            bow / 100.0 * abs(full - rest) * 100.0))
    read = np.floor(supply / 2.0 / step + 0.5)
    channels.append(Channel("supply", "supply", read, "counts", float(2**bits), NOMINAL, 2.0,
                            nominal_volts=NOMINAL))
    first, second = tracks
    # The line between the tracks runs in the middle of the play (docs/method.md, "The line").
    gain = (second.full - second.rest + 2 * lag * slope) / (first.full - first.rest)
    offset = second.rest - lag * slope - gain * first.rest
    recording = Recording(t, tuple(channels), (), f"plain pedal {seed}", rate_hz=rate,
                          board_name=f"{bits}-bit board")
    return recording, Plain(condition, (first, second), relation, gain,
                            offset, mismatch, at, play, presses, returns,
                            step, one_sided)
