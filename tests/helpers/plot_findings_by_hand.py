"""Findings made by hand for tests of figures and window: every number in them is put in here.

They do not come from `analysis.analyse`, so a figure that draws them right draws the given data.
"""

import numpy as np

from analysis.model.estimate import Estimate
from analysis.model.finding import Reason
from analysis.model.recording import Channel, Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band import BudgetItem, DeadBand
from analysis.pedal.faults import Fault
from analysis.pedal.findings import Findings, ReturnTime
from analysis.pedal.pair import PairFindings
from analysis.pedal.remedies import Remedy
from analysis.pedal.settings import Setting
from analysis.pedal.tracks import TrackFindings
from analysis.signal.segments import Segment

PHASES = (("rest", 2.0), ("press", 1.5), ("hold", 1.0), ("release", 1.5))
CYCLE_S = sum(seconds for _, seconds in PHASES)


def travel_at(time_s: np.ndarray) -> np.ndarray:
    """Return the made-up pedal's travel, 0 to 100 %, at each time."""
    corners = np.cumsum([0.0] + [s for _, s in PHASES])
    return np.interp(np.mod(time_s, CYCLE_S), corners, [0.0, 0.0, 100.0, 100.0, 0.0])


def recording(cycles: int = 8, rate_hz: float = 500.0, one_track: bool = False) -> Recording:
    """Return a 12-bit recording: track a 0.6 to 4.2 V, track b half of it, steady supply."""
    random = np.random.default_rng(7)
    time_s = np.arange(round(cycles * CYCLE_S * rate_hz)) / rate_hz
    travel = travel_at(time_s)
    a = 0.60 + 0.036 * travel
    b = 0.50 * a + 0.012 + 0.0008 * travel * (travel > 40) * (travel < 60) * 0.2

    def counts(volts: np.ndarray) -> np.ndarray:
        noisy = volts + random.normal(0, 0.0012, volts.size)
        return np.clip(np.round(noisy / 5.0 * 4096), 0, 4095)

    channels = [Channel("a", "track", counts(a), "counts", 4096, 5.0)]
    if not one_track:
        channels.append(Channel("b", "track", counts(b), "counts", 4096, 5.0))
    return Recording(time_s, tuple(channels), title="made-up pedal", rate_hz=rate_hz,
                     board_name="12-bit board")


def findings(cycles: int = 8, rate_hz: float = 500.0, one_track: bool = False,
             shift_volts: float = 0.0) -> Findings:
    """Return findings about `recording`, rest levels and all, made by hand."""
    made = recording(cycles, rate_hz, one_track)
    random = np.random.default_rng(3)
    segments, row, start_s = [], 0, 0.0
    for _ in range(cycles):
        for kind, seconds in PHASES:
            rows = round(seconds * rate_hz)
            segments.append(Segment(kind, row, row + rows, start_s, start_s + seconds,
                                    peak_percent=100.0 if kind != "rest" else float("nan")))
            row, start_s = row + rows, start_s + seconds
    bins = np.arange(1.0, 100.0, 2.0)
    tracks, dead_bands, remedies, settings = {}, {}, {}, []
    for column, rest, full in (("a", 0.60, 4.20), ("b", 0.312, 2.112))[:1 if one_track else 2]:
        levels = rest + shift_volts + random.normal(0, 0.004, cycles)
        noise_map = np.full(bins.size, 0.0012)
        if column == "b":
            noise_map[3:6] = 0.006
        tracks[column] = TrackFindings(
            column=column, direction="rising", rest=Estimate(float(np.median(levels)), 0.0015),
            rest_levels=levels, rest_times_s=1.0 + CYCLE_S * np.arange(cycles),
            rest_scatter=Estimate(0.004, 0.001), noise_volts=0.0012, crossing_slope=900.0,
            drift_volts_per_minute=Estimate(0.0001, 0.0004), full=Estimate(full, 0.002),
            full_levels=np.full(cycles, full), span=Estimate(full - rest, 0.0025),
            lowest_volts=rest - 0.01, highest_volts=full + 0.01, step_volts=5.0 / 4096,
            nominal_volts=5.0, supply_recorded=False, clipped=False,
            noise_map_percent=bins, noise_map_volts=noise_map, linearity_percent=0.4)
        items = (
            BudgetItem("scatter of returns", 0.018, "measured", f"{cycles} returns, 95 %"),
            BudgetItem("electrical noise", 0.006, "measured", "level crossings, 1000 h"),
            BudgetItem("supply", 0.012, "stated", "2 % of the rest voltage"),
            BudgetItem("temperature", 0.0012, "stated", "40 K at 10 ppm/K"),
            BudgetItem("converter", 0.0012, "stated", "1 step"),
            BudgetItem("what the car adds", 0.030, "assumed", "until a key-on log measures it"))
        total = sum(i.volts for i in items)
        start = rest + shift_volts + total
        dead_bands[column] = DeadBand(
            column, float(np.median(levels)), items, total, start - 0.012, start,
            100 * total / (full - rest), 0.95, 0.05, 1000, 1000.0, 0.2, None)
        remedies[column] = (
            Remedy("turn", column, 4.2, "degrees", rest, full, 2.0,
                   f"Turn the potentiometer of {column} back by 4.2 degrees."),
            Remedy("trim resistor", column, 120.0, "ohm", rest, full - 0.05, 2.1,
                   f"Put 120 ohm into the ground leg of {column}."),
            Remedy("dead band", column, total, "V", rest, full, 100 * total / (full - rest),
                   f"Leave {column} as it is and start travel at {start:.3f} V."))
        settings += [
            Setting("rest", column, rest, "V", "median of all returns"),
            Setting("start_of_travel", column, start, "V", "rest and the whole budget"),
            Setting("release", column, start - 0.012, "V", "highest rest reading, noise left out"),
            Setting("full_travel", column, full - 0.03, "V", "every full press reaches it"),
            Setting("fault_low", column, 0.5 * rest, "V", "half way to ground"),
            Setting("fault_high", column, 4.75, "V", "between the highest reading and supply")]
    pair = None
    if not one_track:
        wave = 1.5 * np.exp(-((bins - 50) / 12) ** 2)
        pair = PairFindings(
            "a", "b", "half slope", Estimate(0.5, 0.0004), Estimate(0.012, 0.0007), bins, wave,
            wave + 0.4, wave - 0.4, Estimate(1.5, 0.1), 51.0, None, Estimate(0.8, 0.1), 51.0)
        settings += [Setting("mismatch_limit", None, 10.0, "%", "Formula SAE rules T.4.2"),
                     Setting("mismatch_time", None, 0.1, "s", "Formula SAE rules T.4.2")]
    faults = () if one_track else (
        Fault("noise", "b", 14.3, 14.5, 9.0, 2,
              Reason("as told", {"words":
                  "Track b is worn near 9 % of travel: 6 mV of noise, 5 times its usual."})),
        Fault("dropout", "a", 21.0, 21.006, 66.0, 3,
              Reason("as told", {"words": "Track a drops out for 6 ms at 66 % of travel."})))
    return Findings(
        recording=made, parameters=Parameters(), segments=tuple(segments),
        tracks=tracks, pair=pair, faults=faults,
        return_times=tuple(ReturnTime(CYCLE_S * n + 4.5, 0.3, True) for n in range(cycles)),
        return_limit_s=1.0, dead_bands=dead_bands, remedies=remedies, settings=tuple(settings),
        notes=("The supply was not recorded: 2 % is assumed.",),
        verdict=("Do not drive: track a drops out for 6 ms at 66 % of travel.",
                 "Track b is worn near 9 % of travel.",
                 f"{cycles} returns were recorded; the dead band rests on them."))
