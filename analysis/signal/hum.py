"""A tone that makes up most of a track's noise at rest: hum, which no potentiometer makes."""

from collections.abc import Iterable

import numpy as np

from analysis.model.recording import Array
from analysis.signal.smoothing import Mask
from analysis.signal.spectrum import (
    LEAST_READINGS,
    Spectrum,
    Tone,
    density,
    find_tones,
    frequencies,
    piece_size,
)

# From this share of the noise's power on a tone is worth a search for where it comes from (common
# practice, no source).
MOSTLY = 0.5
# Slower than this a pedal that settles may sway by itself.
LEAST_HERTZ = 5.0
MOST_PIECES = 200


def hum_of(volts: Array, trusted: Mask, rests: Iterable[slice], step_s: float,
           noise_volts: float, step_volts: float) -> Tone | None:
    """Return the tone that makes up most of the noise at rest, or None.

    volts, trusted: shape (n,); rests: the rows of each rest. None too where the noise is below
    the converter's step, whose rounding makes tones of its own.
    """
    pieces = [volts[r] for r in rests if trusted[r].all() and volts[r].size >= LEAST_READINGS]
    if not pieces or not noise_volts > max(step_volts, 0.0):
        return None
    size = piece_size(max(p.size for p in pieces), step_s)
    cut = [p[k: k + size] for p in pieces for k in range(0, p.size - size + 1, max(1, size // 2))]
    found = density(cut[:: len(cut) // MOST_PIECES + 1], size, step_s)
    hertz = frequencies(size, step_s)
    tones = find_tones(Spectrum(hertz, np.full(hertz.size, np.nan), found), 1.0 / step_s)
    return next((t for t in tones if t.hertz >= LEAST_HERTZ
                 and 0.5 * t.amplitude_volts**2 >= MOSTLY * noise_volts**2), None)
