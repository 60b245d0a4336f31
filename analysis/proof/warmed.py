"""How far each track's rest moves per degree while the box is warmed and left to cool.

Method: the pedal alone, its rest against a temperature channel in stretches of 5 s, with noise that
remembers (`analysis/statistics/correlated.py`). The thermometer lags behind the track, so the rest
is fitted by the temperature and by how fast it changes; the second takes up the lag.
"""

from dataclasses import dataclass, replace

import numpy as np

from analysis.key_on.results import Interval
from analysis.model.recording import Array, Recording
from analysis.proof.limits import Limits, volts_in_the_log
from analysis.proof.steps import Step, steps_of
from analysis.statistics.correlated import fit_coefficient

STRETCH_S = 5.0
CONFIDENCE = 0.95
# With less than this the slope says more about the thermometer and the track's own drift (common
# practice, no source).
LEAST_STRETCHES, LEAST_DEGREES = 12, 5.0
# With less noise than this, in steps of the converter, means do not resolve parts of a step
# (common practice, no source).
DITHER = 0.5


@dataclass(frozen=True)
class TrackWarmth:
    """Hold one track's volts per kelvin at nominal supply; None where too little warmed.

    ppm_per_kelvin: of the supply, the furthest end of the interval, to be entered as the track's
    drift. lowest, highest: degrees Celsius (or the channel's own unit) that were seen.
    rest_volts, noise_volts: at nominal supply, in the coldest and in the hottest quarter of what
    was seen; NaN where no temperature was. noise_volts: standard deviation within STRETCH_S.
    """

    column: str
    volts_per_kelvin: Interval | None
    ppm_per_kelvin: float
    lowest: float
    highest: float
    rest_volts: tuple[float, float] = (float("nan"), float("nan"))
    noise_volts: tuple[float, float] = (float("nan"), float("nan"))


def judge_warmth(recording: Recording, limits: Limits) -> tuple[TrackWarmth, ...]:
    """Return each track's move per degree from the steps `warm` and `cool`; () without them.

    Without a temperature channel every track has None: what moved, warmth or time, is not known.
    """
    steps = [s for s in steps_of(recording) if s.kind in ("warm", "cool")]
    warm = recording.with_role("temperature")
    if not steps:
        return ()
    degrees = warm[0].volts() if warm else None
    result = []
    for channel in recording.with_role("track"):
        if channel.column not in limits.tracks:
            continue
        volts = volts_in_the_log(recording, channel)
        level, heat, middle, noise = _stretches(recording, volts, degrees, steps,
                                                limits.tracks[channel.column].travel(volts))
        found = None if degrees is None else _slope(level, heat, middle)
        if found is not None and float(np.median(noise)) < DITHER * channel.step_volts:
            # Between two codes of a quiet track there is room for a step that nobody saw.
            room = channel.step_volts / float(np.ptp(heat))
            found = replace(found, low=found.low - room, high=found.high + room)
        far = max(abs(found.low), abs(found.high)) if found is not None else float("nan")
        result.append(TrackWarmth(
            channel.column, found, 1e6 * far / recording.nominal_volts,
            *((float(heat.min()), float(heat.max())) if degrees is not None and heat.size
              else (float("nan"), float("nan"))), _ends(heat, level), _ends(heat, noise)))
    return tuple(result)


def _stretches(recording: Recording, volts: Array, degrees: Array | None, steps: list[Step],
               travel: Array) -> tuple[Array, Array, Array, Array]:
    """Return rest, temperature, time, noise of each stretch with the pedal alone, shape (m,)."""
    size = max(2, round(STRETCH_S / recording.step_s))
    level, heat, middle, noise = [], [], [], []
    for step in steps:
        for start in range(step.start, step.stop - size + 1, size):
            rows = slice(start, start + size)
            alone = np.abs(travel[rows]) < 10.0
            # A pedal that was touched is not at rest; the stretch is left out.
            if not alone.all() or (degrees is not None and not np.isfinite(degrees[rows]).any()):
                continue
            level.append(float(np.mean(volts[rows])))
            noise.append(float(np.std(volts[rows], ddof=1)))
            heat.append(float("nan") if degrees is None else float(np.nanmean(degrees[rows])))
            middle.append(float(np.mean(recording.time_s[rows])))
    return np.array(level), np.array(heat), np.array(middle), np.array(noise)


def _ends(heat: Array, values: Array) -> tuple[float, float]:
    """Return the usual value in the coldest and in the hottest quarter of the degrees seen."""
    known = np.isfinite(heat)
    if not known.any():
        return float("nan"), float("nan")
    quarter = 0.25 * float(np.ptp(heat[known]))
    low, high = float(heat[known].min()), float(heat[known].max())
    return (float(np.median(values[known & (heat <= low + quarter)])),
            float(np.median(values[known & (heat >= high - quarter)])))


def _slope(level: Array, heat: Array, middle: Array) -> Interval | None:
    """Return volts per degree; None with fewer than LEAST_STRETCHES or LEAST_DEGREES.

    None as well where the log's time stands still from one stretch to the next: how fast it warmed
    is not known.
    """
    if level.size < LEAST_STRETCHES or np.ptp(heat) < LEAST_DEGREES \
            or not bool(np.all(np.diff(middle) > 0)):
        return None
    # A thermometer that follows with the time constant L shows T - L dT/dt.
    speed = np.gradient(heat, middle)
    # And one for a drift of its own: warming and cooling tell it from warmth.
    design = np.column_stack([np.ones(level.size), heat - heat.mean(), speed,
                              middle - middle.mean()])
    fit = fit_coefficient(level, design, middle, np.ones(level.size), 1, CONFIDENCE,
                          may_walk=True)
    return Interval(fit.value, fit.low, fit.high, CONFIDENCE)
