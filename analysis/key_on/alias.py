"""A tone near the sampling rate, or near a multiple of it, reads as a shift: on what that rests.

Sampled at its own rate a tone is a constant (Shannon 1949): one log cannot tell it from a shift
of the level. A log at another rate can: the shift stays, the tone becomes one that is seen.
"""

from collections.abc import Iterable, Mapping

import numpy as np

from analysis.key_on.blocks import Readings
from analysis.key_on.rests import Settled
from analysis.key_on.results import TrackKeyOn
from analysis.model.finding import Finding, KeyOnCode

CODE: KeyOnCode = "shift or alias"
# Smaller shifts change no dead band (common practice, no source).
_WORTH_VOLTS = 0.002
# Slower than this a line is a beat of something near a multiple of the rate, or the pedal itself.
_BEAT_HERTZ = 2.0
# A swing is slow where means of this length still show it; so many times beyond what white noise
# leaves in them is no chance (common practice, no source).
_MEAN_S, _LEAST_MEANS, _FAR = 0.25, 12, 4.0
# Not a simple ratio: a tone near a multiple of the first rate is near one of the other only at
# seventeen times that.
_OTHER_RATE = 0.85


def slow_swings(log: Readings, settled: Settled,
                columns: Iterable[str]) -> dict[str, float]:
    """Return by track the amplitude of what swings slowly with the key on, volts; none below 2 mV.

    Means of 0.25 s about a line through each settled key-on, sqrt(2) times their rms (a sine's
    amplitude), where that is far beyond what the noise within those means explains.
    """
    result = {}
    size = max(1, round(_MEAN_S / (log.blocks.size * log.blocks.step_s)))
    for column in columns:
        stats, found = log.blocks.stated[column], []
        for rows in settled.rows(log.blocks.step_s):
            piece = log.blocks.between(*rows)
            good = log.free[piece] & np.isfinite(stats.mean[piece])
            mean, inside = stats.mean[piece][good], stats.variance[piece][good]
            count = mean.size // size
            if count < _LEAST_MEANS:
                continue
            means = mean[:count * size].reshape(count, size).mean(axis=1)
            at = np.arange(count)
            rms = float(np.std(means - np.polyval(np.polyfit(at, means, 1), at)))
            white = float(np.sqrt(inside.mean() / (size * log.blocks.size)))
            if np.sqrt(2.0) * rms > _WORTH_VOLTS and rms > _FAR * white:
                found.append(np.sqrt(2.0) * rms)
        if found:
            result[column] = float(max(found))
    return result


def alias_findings(tracks: Iterable[TrackKeyOn], rate_hz: float,
                   swings: Mapping[str, float]) -> tuple[Finding, ...]:
    """Return the condition on which a shift or a slow swing was told, with the other rate.

    swings: as of `slow_swings`. Empty without either.
    """
    tracks = tuple(tracks)
    shifted = [t for t in tracks if (t.shift.excludes_zero and abs(t.shift.value) > _WORTH_VOLTS)
               or any(x.hertz < _BEAT_HERTZ and not x.before
                      and x.amplitude_volts > _WORTH_VOLTS for x in t.tones)]
    swung = [t for t in tracks if t not in shifted and t.column in swings]
    if not shifted and not swung:
        return ()
    other = float(f"{_OTHER_RATE * rate_hz:.2g}")
    return (Finding(CODE, 1, "log", values={
        "rate_hz": rate_hz, "other_rate_hz": other,
        "shifted": tuple(t.column for t in shifted), "swung": tuple(t.column for t in swung),
        "largest_shift_volts": max((abs(t.shift.value) for t in shifted
                                    if np.isfinite(t.shift.value)), default=0.0),
        "largest_swing_volts": max((swings[t.column] for t in swung), default=0.0)}),)
