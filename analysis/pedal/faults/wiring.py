"""What the wiring does: rails, clipping, supply, lost samples."""

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array, Channel, Recording
from analysis.pedal.faults.fault import Fault
from analysis.pedal.faults.swept import Swept
from analysis.pedal.tracks import clipped_rows
from analysis.pedal.travel import MOVES
from analysis.signal.smoothing import Mask, block_medians, filled, runs
from analysis.signal.supply import far_off, supply_doubt

# A supply below this share of its usual value sags.
SAG = 0.95
OPEN_S = 0.5
MOST_GAPS = 50
# Rows that come regularly (nine in ten intervals), and an interval that is a hole then: as long as
# a wiper's bounce that would have been told.
REGULAR, HOLE, LEAST_HOLE_S = 1.3, 2.5, 0.02


def rail_faults(column: str, at_rail: Mask, volts: Array, nominal: float, times: Array,
                pedal: Array, alone: bool = False) -> list[Fault]:
    """Return one fault per stay at a rail: a dropout when short, open or short when long.

    alone: there is no second track, so it may be a two-wire rheostat.
    """
    result = []
    for start, stop in zip(*runs(at_rail), strict=True):
        end = float(times[min(stop, times.size - 1)])
        seconds = end - float(times[start])
        travel = float(np.mean(pedal[[max(0, start - 2), min(pedal.size - 1, stop + 1)]]))
        read = volts[start:stop][np.isfinite(volts[start:stop])]
        if not read.size:
            continue
        rail = "0 V" if float(np.median(read)) < nominal / 2 else "the supply"
        if seconds > OPEN_S:
            said = Reason("stays at a rail", {
                "track": column, "rail": rail, "seconds": seconds, "time_s": float(times[start]),
                "rheostat": alone and rail == "0 V"})
            result.append(
                Fault("open or short", column, float(times[start]), end, travel, 3, said))
        else:
            said = Reason("contact lost", {
                "track": column, "seconds": seconds, "travel_percent": travel,
                "depth_percent": float("nan"), "to": rail})
            result.append(Fault("dropout", column, float(times[start]), end, travel, 3, said))
    return result


def dead_faults(column: str, volts: Array, nominal: float, times: Array) -> Fault:
    """Return the fault of a track that does not follow the pedal at all."""
    known = volts[np.isfinite(volts)]
    if not known.size:
        return Fault(
            "no reading", column, float(times[0]), float(times[-1]), float("nan"), 3,
            Reason("no reading at all", {"track": column}))
    level = float(np.median(known))
    low, high = np.quantile(known, [0.02, 0.98])
    if high - low > MOVES * nominal:
        return Fault(
            "open or short", column, float(times[0]), float(times[-1]), float("nan"), 3,
            Reason("wanders", {"track": column, "lowest_volts": float(low),
                               "highest_volts": float(high)}))
    return Fault(
        "open or short", column, float(times[0]), float(times[-1]), float("nan"), 3,
        Reason("does not follow", {
            "track": column, "volts": level,
            "near_rail": not 0.05 * nominal < level < 0.95 * nominal}))


def clipping_faults(channel: Channel, trusted: Mask, times: Array, pedal: Array,
                    alone: bool = False) -> list[Fault]:
    """Return a fault when readings sit at the end of the converter's range.

    alone: there is no second track, so it may be a two-wire rheostat.
    """
    clipped = clipped_rows(channel) & trusted
    starts, stops = runs(clipped)
    if not starts.size:
        return []
    seconds = times[np.minimum(stops, times.size - 1)] - times[starts]
    long = seconds >= 0.02
    if not long.any():
        return []
    first, longest = int(starts[long][0]), int(np.argmax(seconds))
    travel = float(np.median(pedal[starts[longest]: stops[longest]]))
    level = float(channel.readings[first])
    return [Fault(
        "clipping", channel.column, float(times[first]), float(times[min(int(stops[long][0]),
        times.size - 1)]), travel, 2,
        Reason("clipped", {
            "track": channel.column, "counts": level, "times": int(long.sum()),
            "longest_s": float(seconds[longest]), "travel_percent": travel,
            "rheostat": alone and level <= 0}))]


def detect(swept: Swept) -> list[Fault]:
    """Return what the supply and lost samples show, whatever the tracks do."""
    return supply_faults(swept.recording) + gap_faults(swept.recording)


def supply_faults(recording: Recording) -> list[Fault]:
    """Return where the supply sags, or is missing."""
    supply = recording.supply
    volts = recording.supply_volts()
    if supply is None or volts is None:
        return []
    usual = recording.usual_supply_volts
    times = recording.time_s
    off = supply_doubt(recording)
    if off is not None and far_off(recording):
        return [Fault("open or short", supply.column, float(times[0]), float(times[-1]),
                      float("nan"), 3, off)]
    if not (volts < SAG * usual).any():
        return []
    size = max(1, round(0.01 / recording.step_s))
    blocks = block_medians(filled(volts), size)
    low = blocks < SAG * usual
    starts, stops = runs(low)
    result = []
    # Sags closer than half a second are one event.
    join = max(1, round(0.5 / (recording.step_s * size)))
    begin = 0
    for k in range(starts.size):
        if k + 1 < starts.size and starts[k + 1] - stops[k] <= join:
            continue
        first, last = int(starts[begin]), int(stops[k])
        begin = k + 1
        lowest = float(blocks[first:last].min())
        t0 = float(times[first * size])
        t1 = float(times[min(last * size, times.size - 1)])
        result.append(Fault(
            "supply sag", supply.column, t0, t1, float("nan"), 2,
            Reason("supply sag", {"lowest_volts": lowest, "usual_volts": float(usual),
                                  "seconds": t1 - t0, "time_s": t0})))
    return result


def _unmarked(recording: Recording, marked: set[int]) -> list[Fault]:
    """Return the holes in the times that no mark tells, where rows come regularly otherwise."""
    step, times = recording.step_s, recording.time_s
    if times.size < 10 or not step > 0:
        return []
    apart = np.diff(times)
    if float(np.quantile(apart, 0.9)) >= REGULAR * step:
        return []
    rows = [int(r) + 1 for r in np.flatnonzero(apart > max(HOLE * step, LEAST_HOLE_S))
            if int(r) + 1 not in marked]
    return [Fault("gap", None, float(times[r - 1]), float(times[r]), float("nan"), 1,
                  Reason("rows missing", {"seconds": float(times[r] - times[r - 1]),
                                          "time_s": float(times[r])})) for r in rows[:MOST_GAPS]]


def gap_faults(recording: Recording) -> list[Fault]:
    """Return one fault per gap mark; beyond fifty, one for all the rest."""
    result = []
    gaps = [m for m in recording.marks if m.text.startswith("gap ")]
    for mark in gaps[:MOST_GAPS]:
        row = min(mark.row, recording.rows - 1)
        end = float(recording.time_s[row])
        start = float(recording.time_s[max(row - 1, 0)])
        result.append(Fault(
            "gap", None, start, end, float("nan"), 1,
            Reason("samples lost", {"samples": mark.text[4:], "time_s": end})))
    result += _unmarked(recording, {m.row for m in gaps})
    if len(gaps) > MOST_GAPS:
        row = min(gaps[MOST_GAPS].row, recording.rows - 1)
        result.append(Fault(
            "gap", None, float(recording.time_s[row]), float(recording.time_s[-1]),
            float("nan"), 1, Reason("more gaps", {"gaps": len(gaps) - MOST_GAPS})))
    return result
