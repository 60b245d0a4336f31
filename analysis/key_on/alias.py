"""A tone near the sampling rate, or near a multiple of it, reads as a shift: on what that rests.

Sampled at its own rate a tone is a constant (Shannon 1949): one log cannot tell it from a shift
of the level. A log at another rate can: the shift stays, the tone becomes one that is seen.
"""

from collections.abc import Iterable

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.results import TrackKeyOn

CODE = "shift or alias"
# Smaller shifts change no dead band (common practice, no source).
_WORTH_VOLTS = 0.002
# Slower than this a line is a beat of something near a multiple of the rate, or the pedal itself.
_BEAT_HERTZ = 2.0
# Not a simple ratio: a tone near a multiple of the first rate is near one of the other only at
# seventeen times that.
_OTHER_RATE = 0.85


def alias_findings(tracks: Iterable[TrackKeyOn], rate_hz: float) -> tuple[Finding, ...]:
    """Return the condition on which a shift was told, with the other rate; empty without one."""
    shifted = [t for t in tracks if (t.shift.excludes_zero and abs(t.shift.value) > _WORTH_VOLTS)
               or any(x.hertz < _BEAT_HERTZ and not x.before
                      and x.amplitude_volts > _WORTH_VOLTS for x in t.tones)]
    if not shifted:
        return ()
    other = float(f"{_OTHER_RATE * rate_hz:.2g}")
    names = ", ".join(t.column for t in shifted)
    many = len(shifted) > 1
    return (Finding(
        CODE, 1, "log",
        f"The {'shifts' if many else 'shift'} of track{'s' if many else ''} {names} "
        f"{'are' if many else 'is'} told on one condition: a tone close to {rate_hz:.4g} Hz, the "
        "rate of this log, or to a multiple of it, would read the same. Log once more at another "
        f"rate, such as {other:g} Hz: a shift stays as it is, a tone does not.",
        values={"rate_hz": rate_hz, "other_rate_hz": other,
                "largest_shift_volts": max((abs(t.shift.value) for t in shifted
                                            if np.isfinite(t.shift.value)), default=0.0)}),)
