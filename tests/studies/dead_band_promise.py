"""Hold the dead band against pedals whose truth is known: is the promise kept, what does it cost?

Pedals, later key-ons and the oracle are made here, on their own: nothing of analysis.simulation
or analysis.statistics.bounds is used. Run `python tests/studies/dead_band_promise.py` (levels only,
about a minute) or with `--chain` (whole recordings through analyse, about ten).
"""

import argparse
import sys
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr, ndtri

from analysis.model.estimate import Estimate
from analysis.model.recording import Channel, Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band import DeadBand, dead_band
from analysis.pedal.tracks import TrackFindings

SUPPLY = 5.0
BOARDS = ((10, 200.0), (12, 1000.0), (16, 500.0))
RETURNS = 10
REST_S = 3.0
CONTROLLER_HZ = 1000.0


@dataclass(frozen=True)
class Pedal:
    """Hold the truth about one track; volts, lifts towards pressed positive.

    drift: how far rest moves during the sweep; it may later move as much again, either way.
    memory: correlation of the noise from one reading to the next.
    """

    sign: float
    rest: float
    span: float
    scatter: float
    noise: float
    memory: float
    drift: float
    bits: int
    rate_hz: float
    shape: str

    @property
    def step(self) -> float:
        return SUPPLY / 2**self.bits


@dataclass
class Tally:
    """Collect, per pedal, whether a later key-on passed and the levels of tool and oracle.

    passed_start: a reading passed start of travel; passed_release: a level, noise left out,
    passed release, so that power might not have ended.
    """

    passed_start: list[bool] = field(default_factory=list)
    passed_release: list[bool] = field(default_factory=list)
    start: list[float] = field(default_factory=list)
    oracle: list[float] = field(default_factory=list)
    random: list[float] = field(default_factory=list)
    oracle_random: list[float] = field(default_factory=list)
    weak: int = 0


def make_pedal(dice: np.random.Generator, shape: str) -> Pedal:
    """Return a random pedal; spans and scatters as seen on three-wire 5 V pedals
    (common practice, no source)."""
    rising = dice.random() < 0.6
    half = dice.random() < 0.3
    span = dice.uniform(2.6, 3.6) * (0.5 if half else 1.0)
    rest = dice.uniform(0.45, 1.0) if rising else dice.uniform(4.0, 4.55)
    bits, rate_hz = BOARDS[int(dice.integers(len(BOARDS)))]
    return Pedal(
        sign=1.0 if rising else -1.0, rest=rest, span=span,
        scatter=span * np.exp(dice.uniform(np.log(0.0002), np.log(0.003))),
        noise=np.exp(dice.uniform(np.log(0.0002), np.log(0.003))),
        memory=float(dice.choice([0.0, 0.5, 0.9])),
        drift=dice.uniform(-0.005, 0.005) if dice.random() < 0.25 else 0.0,
        bits=bits, rate_hz=rate_hz, shape=shape)


def lifts(pedal: Pedal, count: int, dice: np.random.Generator) -> np.ndarray:
    """Return where returns end, volts about the mean, standard deviation pedal.scatter."""
    draw = {
        "normal": lambda: dice.standard_normal(count),
        "uniform": lambda: dice.uniform(-np.sqrt(3), np.sqrt(3), count),
        "heavy": lambda: dice.standard_t(5, count) / np.sqrt(5 / 3),
        "sticking": lambda: dice.exponential(1.0, count) - 1.0}[pedal.shape]
    return pedal.scatter * draw()


def noise(pedal: Pedal, count: int, dice: np.random.Generator) -> np.ndarray:
    """Return normal noise, first-order autoregressive."""
    white = dice.standard_normal(count)
    if pedal.memory == 0.0:
        return pedal.noise * white
    from scipy.signal import lfilter

    rho = pedal.memory
    start = [rho * dice.standard_normal()]
    return pedal.noise * lfilter([np.sqrt(1 - rho**2)], [1.0, -rho], white, zi=start)[0]


def bench_levels(pedal: Pedal, dice: np.random.Generator, returns: int) -> np.ndarray:
    """Return the true level of each return on the bench, in volts at the sensor."""
    warming = pedal.drift * np.linspace(-0.5, 0.5, returns)
    return pedal.rest + pedal.sign * (warming + lifts(pedal, returns, dice))


def digitised(pedal: Pedal, volts: np.ndarray) -> np.ndarray:
    return np.clip(np.floor(volts / pedal.step), 0, 2**pedal.bits - 1)


def findings_from_levels(pedal: Pedal, dice: np.random.Generator, returns: int) -> TrackFindings:
    """Return what a faultless segmentation would find: rounded noisy readings of each rest."""
    rows = int(REST_S * pedal.rate_hz)
    levels, squares, products = [], 0.0, 0.0
    for level in bench_levels(pedal, dice, returns):
        volts = pedal.step * (digitised(pedal, level + noise(pedal, rows, dice)) + 0.5)
        levels.append(volts.mean())
        left = volts - volts.mean()
        squares += left @ left
        products += left[1:] @ left[:-1]
    rest_levels, times = np.array(levels), 6.0 * np.arange(returns)
    rms = max(np.sqrt(squares / (rows * returns)), pedal.step / np.sqrt(12))
    rho = products / squares if squares > 0 else 0.0
    x = (times - times.mean()) / 60.0
    slope = x @ rest_levels / (x @ x)
    left = rest_levels - rest_levels.mean() - slope * x
    slope_u = np.sqrt(left @ left / max(returns - 2, 1) / (x @ x))
    sd = float(np.std(rest_levels, ddof=1)) if returns > 1 else float("nan")
    full = pedal.rest + pedal.sign * pedal.span
    nothing = np.zeros(0)
    return TrackFindings(
        column="a", direction="rising" if pedal.sign > 0 else "falling",
        rest=Estimate(float(np.median(rest_levels)), sd / np.sqrt(returns)),
        rest_levels=rest_levels, rest_times_s=times, rest_scatter=Estimate(sd, sd / 4),
        noise_volts=float(rms),
        crossing_slope=(float(np.arccos(rho)) * pedal.rate_hz if rms > 0.3 * pedal.step
                        else float("nan")),
        drift_volts_per_minute=Estimate(float(slope), float(slope_u)),
        full=Estimate(full, 0.001), full_levels=np.full(returns, full),
        span=Estimate(pedal.span, 0.002), lowest_volts=min(pedal.rest, full),
        highest_volts=max(pedal.rest, full), step_volts=pedal.step, nominal_volts=SUPPLY,
        supply_recorded=True, clipped=False, noise_map_percent=nothing, noise_map_volts=nothing,
        linearity_percent=float("nan"), rest_seconds=rows * returns / pedal.rate_hz)


def record(pedal: Pedal, dice: np.random.Generator, returns: int) -> Recording:
    """Return a sweep of two like tracks with the supply beside them; track "a" is the pedal's."""
    def way(seconds: float) -> np.ndarray:
        return (1 - np.cos(np.linspace(0, np.pi, int(seconds * pedal.rate_hz)))) / 2

    at = bench_levels(pedal, dice, returns + 1)
    full = pedal.rest + pedal.sign * pedal.span
    share, rest = [], []
    for k in range(returns):
        parts = (np.zeros(int(REST_S * pedal.rate_hz)), way(1.2),
                 np.ones(int(0.8 * pedal.rate_hz)), 1 - way(1.0))
        share += parts
        rest.append(np.full(sum(p.size for p in parts[:3]), at[k]))
        rest.append(np.full(parts[3].size, at[k + 1]))
    share.append(np.zeros(int(REST_S * pedal.rate_hz)))
    rest.append(np.full(share[-1].size, at[returns]))
    travel, base = np.concatenate(share), np.concatenate(rest)
    volts = base + travel * (full - base)
    n = volts.size
    columns = [
        Channel(name, "track", digitised(pedal, v + noise(pedal, n, dice)), "counts",
                float(2**pedal.bits), SUPPLY)
        for name, v in (("a", volts), ("b", volts))]
    supply = Channel("supply", "supply", np.full(n, 2.0**pedal.bits - 0.5), "counts",
                     float(2**pedal.bits), SUPPLY, nominal_volts=SUPPLY)
    return Recording(np.arange(n) / pedal.rate_hz, (*columns, supply), rate_hz=pedal.rate_hz)


def noise_peak(pedal: Pedal, hours: float, shares: np.ndarray) -> np.ndarray:
    """Return the largest of all readings of noise in so many hours, at the given quantiles.

    The controller's readings are taken as independent, which is the worst for the dead band:
    Phi(u)^N = share, from the order statistics of a normal sample.
    """
    count = hours * 3600.0 * CONTROLLER_HZ
    # -log of the upper tail of one reading: small tails need the logarithm.
    tail = -np.expm1(np.log(shares) / count)
    return pedal.noise * -ndtri(tail)


def systematic(pedal: Pedal, parameters: Parameters) -> float:
    """Return what the oracle must allow for beside chance: the stated limits, all at once."""
    return (parameters.car_allowance_volts + 1.5 * abs(pedal.drift)
            + parameters.track_ppm_per_kelvin * 1e-6 * parameters.temperature_span_kelvin * SUPPLY
            + parameters.converter_error_steps * pedal.step)


def oracle(pedal: Pedal, parameters: Parameters) -> float:
    """Return the smallest level above rest, chance alone, that holds with the same risk.

    It knows scatter and noise: the quantile of normal scatter plus peak noise. Other shapes of
    scatter are judged by the promise alone.
    """
    # Shares of the peak in even steps of -log(-log(share)), where its density is smooth.
    even = np.linspace(-4.0, 32.0, 400)
    share = np.exp(-np.exp(-even))
    weight = np.gradient(even) * np.exp(-even) * share
    peaks = noise_peak(
        pedal, parameters.key_on_hours / parameters.key_ons, np.minimum(share, 1 - 1e-15)
    )
    goal = np.log(parameters.confidence) / parameters.key_ons
    low, high = 0.0, 12 * pedal.scatter + 12 * pedal.noise
    for _ in range(60):
        level = (low + high) / 2
        z = (level - peaks) / pedal.scatter
        inside = np.log(max(1.0 - weight @ ndtr(-z), 1e-300))
        low, high = (level, high) if inside < goal else (low, level)
    return high


def everyday(pedal: Pedal, parameters: Parameters,
             dice: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return level and highest reading of each later key-on, above the true rest, in volts."""
    m = parameters.key_ons
    car_usual = dice.uniform(0.5, 1.0)
    car = parameters.car_allowance_volts * np.minimum(car_usual + dice.uniform(-0.3, 0.3, m), 1.0)
    warm = dice.uniform(-1, 1, m) * (parameters.track_ppm_per_kelvin * 1e-6
                                     * parameters.temperature_span_kelvin * SUPPLY)
    controller = dice.uniform(-1, 1) * parameters.converter_error_steps * pedal.step
    drift = 0.5 * pedal.drift + dice.uniform(-1, 1, m) * abs(pedal.drift)
    peak = noise_peak(pedal, parameters.key_on_hours / m, dice.random(m))
    level = lifts(pedal, m, dice) + car + warm + controller + drift
    return level, level + peak


def hardest(pedal: Pedal, parameters: Parameters,
            dice: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return the same with every systematic part at its limit all the time."""
    m = parameters.key_ons
    peak = noise_peak(pedal, parameters.key_on_hours / m, dice.random(m))
    level = lifts(pedal, m, dice) + systematic(pedal, parameters)
    return level, level + peak


def judge(tally: Tally, pedal: Pedal, band: DeadBand, parameters: Parameters, levels: np.ndarray,
          peaks: np.ndarray) -> None:
    """Add one pedal to the tally; levels count from the true middle rest of the sweep."""
    if not np.isfinite(band.start_of_travel_volts):
        tally.weak += 1
        return
    start = pedal.sign * (band.start_of_travel_volts - pedal.rest)
    release = pedal.sign * (band.release_volts - pedal.rest)
    tally.passed_start.append(bool(peaks.max() > start))
    tally.passed_release.append(bool(levels.max() > release))
    tally.start.append(start)
    chance = oracle(pedal, parameters)
    tally.oracle.append(chance + systematic(pedal, parameters))
    tally.random.append(sum(i.volts for i in band.items if i.name in
                            ("scatter of returns", "rest itself", "electrical noise")))
    tally.oracle_random.append(chance)


def run(pedals: int, seed: int, chain: bool = False, shape: str = "normal", hard: bool = True,
        returns: int = RETURNS, parameters: Parameters | None = None) -> Tally:
    """Return the tally over so many random pedals."""
    parameters = parameters or Parameters(key_ons=100)
    dice = np.random.default_rng(seed)
    tally = Tally()
    for _ in range(pedals):
        pedal = make_pedal(dice, shape)
        if chain:
            from analysis.pedal.findings import analyse

            band = analyse(record(pedal, dice, returns), parameters).dead_bands["a"]
        else:
            band = dead_band(findings_from_levels(pedal, dice, returns), parameters)
        judge(
            tally,
            pedal,
            band,
            parameters,
            *(hardest if hard else everyday)(pedal, parameters, dice),
        )
    return tally


def median_ratio(first: list[float], second: list[float]) -> float:
    return float(np.median(np.array(first) / np.array(second)))


def report(name: str, tally: Tally, risk: float) -> None:
    n = max(len(tally.start), 1)
    print(f"{name}: {n} pedals ({tally.weak} too weak to judge)")
    for what, passed in (("a reading passed start of travel", tally.passed_start),
                         ("a level passed release", tally.passed_release)):
        share = float(np.mean(passed))
        error = np.sqrt(max(share * (1 - share), 1 / n) / n)
        print(f"  ever {what}: {100 * share:.2f} % (+- {100 * error:.2f}), "
              f"stated {100 * risk:g} %")
    print("  lost travel over the oracle's, median: "
          f"start {median_ratio(tally.start, tally.oracle):.3f}, "
          f"chance alone {median_ratio(tally.random, tally.oracle_random):.3f}", flush=True)
    spread = np.percentile(np.array(tally.start) / np.array(tally.oracle), [5, 95])
    print(f"  start over oracle, 5 to 95 % of pedals: {spread[0]:.2f} to {spread[1]:.2f}")


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pedals", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--chain", action="store_true", help="whole recordings, about ten minutes")
    parser.add_argument("--all", action="store_true", help="other shapes and numbers too")
    args = parser.parse_args(argv)
    parameters = Parameters(key_ons=100)
    risk = 1 - parameters.confidence
    report("bar (systematic parts at their limits)",
           run(args.pedals, args.seed, args.chain), risk)
    if args.all:
        report("everyday (systematic parts vary)",
               run(args.pedals, args.seed, args.chain, hard=False), risk)
        bare = Parameters(key_ons=100, car_allowance_volts=0.0, temperature_span_kelvin=0.0)
        report("no car, no temperature",
               run(args.pedals, args.seed, args.chain, parameters=bare), risk)
        for returns in (3, 5, 20):
            report(f"{returns} returns", run(args.pedals, args.seed, args.chain,
                                             returns=returns), risk)
        for shape in ("uniform", "heavy", "sticking"):
            report(f"scatter {shape}", run(args.pedals, args.seed, args.chain, shape), risk)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
