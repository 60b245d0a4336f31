"""One input of a key-on log that stands still alone, in spite of its noise: it was not read."""

import math

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.cycles import Span
from analysis.model.recording import Array, Channel, Recording
from analysis.signal.smoothing import runs

# Rows of one look at the noise, and how many such looks are needed to know it.
_WINDOW, _LEAST_LOOKS = 30, 5
# So many codes apart within most looks: at the edge of a step even no noise at all shows one.
_LEAST_CODES = 2
_SURE = 0.95


def standstill_findings(recording: Recording, step_s: float, spans: tuple[Span, ...],
                        longer_s: float, chance: float) -> tuple[Finding, ...]:
    """Return each track or supply that repeats one reading with the key on while others do not.

    Judged against its own noise at other times, wherever its level lies between two codes:
    P(|noise| < half a step) per row at best. longer_s: what may pass; chance: per log.
    Readings at an end of the converter are told as clipped and left out here.
    """
    result = []
    # What stands still because nothing feeds it is told as unread.
    unfed = (np.zeros(recording.rows, dtype=bool) if recording.supply is None else
             recording.supply.volts() < 0.1 * recording.nominal_volts)
    for channel in recording.channels:
        if channel.role not in ("track", "supply"):
            continue
        codes = np.where(unfed, math.nan, _codes(channel))
        usual = _repeats_at_best(codes)
        if not usual < 1.0:
            continue
        least = max(longer_s / step_s, math.log(chance / codes.size) / math.log(usual))
        found = [(span.on_row + a, b - a) for span in spans
                 for a, b in _still(codes[span.on_row: span.off_row], channel)
                 if b - a > least]
        if found:
            result.append(Finding(
                "readings repeat", 2, "supply" if channel.role == "supply" else "track",
                channel=channel.column, time_s=float(recording.time_s[found[0][0]]),
                values={"longest_s": max(n for _, n in found) * step_s, "role": channel.role}))
    return tuple(result)


def _codes(channel: Channel) -> Array:
    """Return the readings in converter steps; NaN throughout where its step is not known."""
    step = 1.0 if channel.unit == "counts" else channel.step_volts / abs(channel.scale)
    return channel.readings / (step if step > 0 else math.nan)


def _still(codes: Array, channel: Channel) -> list[tuple[int, int]]:
    """Return the runs of one code, first and last row, but for those at an end of the range."""
    starts, stops = runs(codes[1:] == codes[:-1])
    low, top = channel.codes.least, channel.codes.most
    return [(int(a), int(b)) for a, b in zip(starts, stops, strict=True)
            if low < codes[a] < top]


def _repeats_at_best(codes: Array) -> float:
    """Return how often a row repeats the one before it at most; 1 where noise is too small to say.

    Looks in which nothing moves are the standstill itself and say nothing of the noise.
    """
    looks = codes[: codes.size // _WINDOW * _WINDOW].reshape(-1, _WINDOW)
    looks = looks[np.isfinite(looks).all(axis=1)]
    looks = looks[np.ptp(looks, axis=1) > 0] if looks.size else looks
    if len(looks) < _LEAST_LOOKS or float(np.median(np.ptp(looks, axis=1))) < _LEAST_CODES:
        return 1.0
    steps = np.diff(looks, axis=1)
    # White part only, less what rounding adds (step / sqrt(12)).
    variance = float(np.median(np.mean(steps**2, axis=1))) / 2.0 - 1.0 / 12.0
    if variance <= 0.0:
        return 1.0
    held = math.erf(0.5 / math.sqrt(2.0 * variance))
    return max(held, float(np.quantile(np.mean(steps == 0, axis=1), _SURE)))
