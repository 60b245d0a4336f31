"""One input of a key-on log that stands still alone, in spite of its noise: it was not read."""

import math

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.cycles import Span
from analysis.model.recording import Array, Channel, Recording
from analysis.signal.smoothing import runs
from analysis.signal.standstill import codes_of, least_rows, repeats_at_best


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
        codes = np.where(unfed, math.nan, codes_of(channel))
        usual = repeats_at_best(codes)
        if not usual < 1.0:
            continue
        least = max(longer_s / step_s, least_rows(usual, codes.size, chance))
        found = [(span.on_row + a, b - a) for span in spans
                 for a, b in _still(codes[span.on_row: span.off_row], channel)
                 if b - a > least]
        if found:
            result.append(Finding(
                "readings repeat", 2, "supply" if channel.role == "supply" else "track",
                channel=channel.column, time_s=float(recording.time_s[found[0][0]]),
                values={"longest_s": max(n for _, n in found) * step_s, "role": channel.role}))
    return tuple(result)


def _still(codes: Array, channel: Channel) -> list[tuple[int, int]]:
    """Return the runs of one code, first and last row, but for those at an end of the range."""
    starts, stops = runs(codes[1:] == codes[:-1])
    low, top = channel.codes.least, channel.codes.most
    return [(int(a), int(b)) for a, b in zip(starts, stops, strict=True)
            if low < codes[a] < top]
