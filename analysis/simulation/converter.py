"""What stands between a wiper and a number: noise, the converter, its reference."""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array

# Time over which "smoothed" noise stays alike: a filter at the input of a board.
SMOOTHED_S = 0.003


@dataclass(frozen=True)
class Converter:
    """Hold an analogue input: n bits over a reference, with dividers in front of it.

    track_scale, supply_scale: volts at the sensor per volt at the pin (1 = no divider).
    noise_steps: rms noise of the converter itself, in steps.
    missing_codes: codes that never come; the next higher one stands for them.
    """

    bits: int = 12
    reference_volts: float = 5.0
    track_scale: float = 1.0
    supply_scale: float = 2.0
    noise_steps: float = 0.3
    missing_codes: tuple[int, ...] = ()

    @property
    def full_scale(self) -> int:
        """Return the number of codes, 2 to the power of bits."""
        return 1 << self.bits

    def read(self, volts_at_sensor: Array, scale: float, rng: np.random.Generator) -> Array:
        """Return counts, shape (n,), of volts at the sensor behind a divider of that scale."""
        steps = volts_at_sensor * (self.full_scale / (self.reference_volts * scale))
        if self.noise_steps:
            steps = steps + rng.normal(0.0, self.noise_steps, steps.shape)
        counts: Array = np.clip(np.floor(steps + 0.5), 0, self.full_scale - 1)
        for code in sorted(self.missing_codes):
            counts[counts == code] = min(code + 1, self.full_scale - 1)
        return counts


def electrical_noise(
    count: int, rate_hz: float, volts: float, colour: str, rng: np.random.Generator,
) -> Array:
    """Return noise of that rms in volts, shape (count,): "white", "smoothed" or "1/f"."""
    if volts <= 0 or count == 0:
        return np.zeros(count)
    white = rng.standard_normal(count)
    if colour == "white":
        return volts * white
    # Twice a power of two, so that the circular filter does not tie the end to the start.
    size = 1 << int(np.ceil(np.log2(max(count, 16))))
    spectrum = np.fft.rfft(rng.standard_normal(size))
    hertz = np.fft.rfftfreq(size, 1.0 / rate_hz)
    if colour == "smoothed":
        shape = 1.0 / np.sqrt(1.0 + (2 * np.pi * hertz * SMOOTHED_S) ** 2)
    elif colour == "1/f":
        # Flat below 0.5 Hz: what is slower counts as drift, not as noise.
        shape = 1.0 / np.sqrt(np.maximum(hertz, 0.5))
        shape[0] = 0.0
    else:
        raise BadParameter("unknown colour of noise", colour=colour)
    # Expected power per sample, so that the rms is right on average, not forced each time.
    power = (shape[0] ** 2 + 2 * np.sum(shape[1:-1] ** 2) + shape[-1] ** 2) / size
    noise: Array = np.fft.irfft(spectrum * shape, size)[:count] * (volts / np.sqrt(power))
    return noise
