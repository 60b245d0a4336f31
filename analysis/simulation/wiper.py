"""What a wiper and its supply do, for any motion: the part that knows the pedal's faults."""

import numpy as np

from analysis.model.recording import Array
from analysis.simulation.converter import electrical_noise
from analysis.simulation.pedal import Pedal


def track_ratio(pedal: Pedal, index: int, time_s: Array, travel: Array) -> Array:
    """Return a track's wiper ratio, shape (n,), for pedal travel as a share, noise left out.

    Usable with any motion: a key-on log, a creep test, a slow sweep for the true curve.
    """
    track = pedal.tracks[index]
    x = travel
    width = track.lag_percent + (pedal.play_percent if index == 1 else 0.0)
    if width > 0:
        x = _play(x, width / 200.0)
    for flat in pedal.flat_spots:
        if flat.track == index:
            low = (flat.travel_percent - flat.width_percent / 2) / 100.0
            high = (flat.travel_percent + flat.width_percent / 2) / 100.0
            # Catches up over one more width, as a wiper does that skips worn film.
            x = np.where((x > low) & (x < high), low, x)
            past = (x >= high) & (x < high + (high - low))
            x = np.where(past, low + 2 * (x - high), x)
    for k, size in enumerate(track.bend_percent, start=1):
        x = x + size / 100.0 * np.sin(k * np.pi * np.clip(x, 0.0, 1.0))
    for slip in pedal.slips:
        if slip.track == index:
            x = x + slip.percent / 100.0 * (time_s >= slip.at_s)
    return track.rest_ratio + (track.full_ratio - track.rest_ratio) * x


def wiper_noise(
    pedal: Pedal, index: int, travel: Array, rate_hz: float, rng: np.random.Generator,
) -> Array:
    """Return a track's electrical noise and that of its worn spots, volts, shape (n,)."""
    track = pedal.tracks[index]
    noise = electrical_noise(travel.size, rate_hz, track.noise_volts, track.noise_colour, rng)
    for worn in pedal.worn_spots:
        if worn.track == index:
            away = (100.0 * travel - worn.travel_percent) / (worn.width_percent / 2)
            noise = noise + worn.noise_volts * np.exp(-0.5 * away**2) * rng.standard_normal(
                travel.size)
    return noise


def supply_volts(pedal: Pedal, time_s: Array, rng: np.random.Generator) -> Array:
    """Return the sensor supply in volts, shape (n,), with noise, ripple, drift and sag."""
    supply = pedal.supply
    length = max(float(time_s[-1]), 1e-9)
    volts = supply.volts + supply.drift_volts * time_s / length
    volts = volts + supply.ripple_volts * np.sqrt(2) * np.sin(2 * np.pi * supply.ripple_hz * time_s)
    if supply.sag_volts:
        edge = 0.2
        inside = np.clip((time_s - supply.sag_at_s) / edge, 0, 1) * np.clip(
            (supply.sag_at_s + supply.sag_seconds - time_s) / edge, 0, 1)
        volts = volts - supply.sag_volts * inside
    result: Array = volts + rng.normal(0.0, supply.noise_volts, time_s.shape)
    return result


def _play(x: Array, half: float) -> Array:
    """Return x behind a gap of two times `half`: what is driven follows once the gap closed."""
    # It came to rest from above, so it sits on the far side of the gap.
    held = float(x[0]) + half
    result = np.empty(x.size)
    for i, value in enumerate(x.tolist()):
        if held < value - half:
            held = value - half
        elif held > value + half:
            held = value + half
        result[i] = held
    return result
