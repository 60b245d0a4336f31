"""What the car's consumers do to the pedal's supply and to its rest: droop, ripple, ground shift.

Method, for each consumer switched on and off by marks (`load fans on`, `load fans off`), the pedal
alone:
- Droop: mean supply with it on less that before and after with it off; uncertainty from pieces of
  0.25 s, so that slow noise counts.
- Ripple: the strongest line of the supply's spectrum, refined by least squares. Standard
  uncertainties are the least possible ones (Rife & Boorstyn 1974, "Single-tone parameter estimation
  from discrete-time observations"; from memory): u(A)^2 = 2 s^2 / n, u(f)^2 = 24 s^2 / ((2 pi)^2
  A^2 dt^2 n (n^2 - 1)), s being what is left beside the line. A line above half the rate folds
  down: its frequency is then one of several.
- Whether it was on at all: a consumer counts as seen when the supply, a track or an input of
  current or voltage stands elsewhere with it on than before and than after, by SURE standard
  uncertainties each, or when the supply's ripple grows. What no reading shows is by the person's
  word, where a mark "it runs" stands beside it, else not shown.
- Rest: the furthest level towards pressed, as middle of 50 ms, of the readings stated at nominal
  supply, above the rest with it off: that is what the dead band has to bear. A ground shift moves
  all tracks by the same volts, whatever their level.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.estimate import Estimate
from analysis.model.recording import Array, Recording
from analysis.proof.limits import Limits, TrackLimits
from analysis.proof.steps import LOAD_RESTS, LOAD_RUNS, Step, steps_of
from analysis.signal.smoothing import block_medians

# A hand switches within this of its prompt (common practice, no source); the switching is looked
# at too, but not counted into the level after it.
SETTLE_S = 3.0
PIECE_S = 0.25
LEVEL_S = 0.05
LEAST_S = 2.0
# A line counts as ripple when it holds this many times the power of its surroundings.
ABOVE = 12.0
# So many standard uncertainties, each side, and a part of a converter step tell that something was
# switched (common practice, no source); a ripple must be half as much again as well.
SURE, LEAST_STEPS, GROWN = 4.0, 0.1, 1.5
_LONGEST = 1 << 16


@dataclass(frozen=True)
class Ripple:
    """Hold the strongest line on the supply: hertz, volts (peak), each with its uncertainty.

    aliased: its true frequency may be another one that this rate shows in the same place.
    """

    hertz: Estimate
    volts: Estimate
    rate_hz: float


@dataclass(frozen=True)
class LoadTrack:
    """Hold what one consumer did to one track, volts at nominal supply, towards pressed positive.

    shift: mean rest with it on less that with it off. furthest: of the middles of 50 ms, its
    switching included. left: from there to start of travel; NaN without one. passes: it got there.
    """

    column: str
    shift: Estimate
    furthest_volts: float
    left_volts: float
    passes: bool


@dataclass(frozen=True)
class Load:
    """Hold what one consumer did.

    state: "holds", "by word" (it holds, but only the person says that it was on), "passes", "not
    shown" (nothing and nobody says that it was on) or "not seen" (too short, rows lost). shown_by:
    the columns that show that it was switched.
    droop: volts, negative for a fall. lowest_volts: of single readings. ground: common shift of all
    tracks in measured volts beyond the supply's share; None where the tracks disagree.
    """

    name: str
    state: str
    times: int
    droop: Estimate | None = None
    lowest_volts: float = float("nan")
    ripple: Ripple | None = None
    ground: Estimate | None = None
    tracks: tuple[LoadTrack, ...] = ()
    shown_by: tuple[str, ...] = ()


def judge_loads(recording: Recording, limits: Limits) -> tuple[Load, ...]:
    """Return what each switched consumer did, in the order in which they were first switched."""
    steps = [s for s in steps_of(recording) if s.kind == "load"]
    names = list(dict.fromkeys(s.leads[0] for s in steps))
    return tuple(_load(recording, limits, name, steps) for name in names)


def _load(recording: Recording, limits: Limits, name: str, steps: list[Step]) -> Load:
    on = [s for s in steps if s.leads[0] == name and s.on]
    off = [s for s in steps if s.leads[0] == name and not s.on]
    on_rows = [_settled(recording, s) for s in on]
    # Only an "off" of this very consumer is its rest: others may be on in between.
    off_rows = [_settled(recording, s) for s in off]
    if not _enough(recording, on_rows) or not _enough(recording, off_rows) or any(
            _lost(recording, s) for s in (*on, *off)):
        return Load(name, "not seen", len(on))
    droop, lowest, ripple = _supply(recording, on, on_rows, off_rows)
    logged = {c.column for c in recording.channels}
    moved = [_track(recording, column, levels, on, (on_rows, off_rows))
             for column, levels in limits.tracks.items() if column in logged]
    tracks, shifts = tuple(track for track, _ in moved), [shift for _, shift in moved]
    shown = _shown_by(recording, on_rows, off_rows, ripple)
    state = _state(tracks, shown, _said_to_run(recording, on))
    return Load(name, state, len(on), droop, lowest, ripple,
                _common(shifts) if len(shifts) > 1 else None, tracks, shown)


def _supply(recording: Recording, on: list[Step], on_rows: list[slice],
            off_rows: list[slice]) -> tuple[Estimate | None, float, Ripple | None]:
    """Return how far the supply gave way, the least that it read, and its ripple, if logged."""
    supply = recording.supply_volts()
    if supply is None:
        return None, float("nan"), None
    lowest = float(np.nanmin(np.concatenate([supply[s.start: s.stop] for s in on])))
    return (_difference(recording, supply, on_rows, off_rows), lowest,
            _ripple(recording, supply, max(on_rows, key=lambda r: r.stop - r.start)))


def _track(recording: Recording, column: str, levels: TrackLimits, on: list[Step],
           rows: tuple[list[slice], list[slice]]) -> tuple[LoadTrack, Estimate]:
    """Return what a track did while the consumer was on, and how far it moved as it was read.

    rows: those settled with the consumer on, and off.
    """
    volts = recording.stated_volts(recording.channel(column))
    shift = _difference(recording, volts, *rows)
    known = np.concatenate([volts[r] for r in rows[1]])
    known = known[np.isfinite(known)]
    # Without a supply, or a track, nothing is known of its rest: it stays not seen.
    rest = float(np.median(known)) if known.size else float("nan")
    size = max(1, round(LEVEL_S / recording.step_s))
    middles = [block_medians(np.nan_to_num(volts[step.start: step.stop], nan=rest), size)
               for step in on]
    far = max((float(np.max(levels.sign * (m - rest))) for m in middles if m.size),
              default=-np.inf)
    left = levels.sign * (levels.start_volts - rest) - far
    return LoadTrack(column, Estimate(levels.sign * shift.value, shift.uncertainty), far, left,
                     bool(left <= 0)), shift


def _state(tracks: tuple[LoadTrack, ...], shown: tuple[str, ...], said: bool) -> str:
    """Return how a consumer came out. said: the person said that it runs."""
    if any(t.passes for t in tracks):
        return "passes"
    if not tracks or any(not np.isfinite(t.left_volts) for t in tracks):
        return "not seen"
    return "holds" if shown else "by word" if said else "not shown"


def _shown_by(recording: Recording, on: list[slice], off: list[slice],
              ripple: Ripple | None) -> tuple[str, ...]:
    """Return the columns that stand elsewhere with the consumer on; the supply for its ripple."""
    begins, ends = min(r.start for r in on), max(r.stop for r in on)
    # Before and after apart: a slow drift moves a reading too, but to one side of each.
    sides = [rows for rows in ([r for r in off if r.start < begins],
                               [r for r in off if r.start >= ends]) if rows]
    found = []
    for channel in recording.channels:
        if channel.role not in ("supply", "track", "current", "voltage"):
            continue
        volts = (recording.stated_volts(channel) if channel.role == "track" else channel.volts())
        moved = [_difference(recording, volts, on, rows) for rows in sides or [off]]
        if _to_one_side(moved, LEAST_STEPS * channel.step_volts):
            found.append(channel.column)
    supply = recording.supply
    if (supply is not None and supply.column not in found and ripple is not None
            and _grew(recording, supply.volts(), off, ripple)):
        found.append(supply.column)
    return tuple(found)


def _to_one_side(moved: list[Estimate], least: float) -> bool:
    """Return whether all of them moved for sure, to the same side and by more than `least`."""
    return len({np.sign(m.value) for m in moved}) == 1 and all(
        abs(m.value) > max(SURE * m.uncertainty, least) for m in moved)


def _grew(recording: Recording, supply: Array, off: list[slice], ripple: Ripple) -> bool:
    """Return whether the supply's ripple is for sure larger than with the consumer off."""
    rest, u = _line_at(recording, supply, max(off, key=lambda r: r.stop - r.start),
                       ripple.hertz.value)
    sure = SURE * float(np.hypot(u, ripple.volts.uncertainty))
    return bool(ripple.volts.value > GROWN * rest and ripple.volts.value - rest > sure)


def _line_at(recording: Recording, values: Array, rows: slice,
             hertz: float) -> tuple[float, float]:
    """Return the amplitude of a line in these rows and its standard uncertainty, volts."""
    part = values[rows][:_LONGEST]
    known = np.isfinite(part)
    if np.count_nonzero(known) < 64:
        return float("inf"), 0.0
    at = 2.0 * np.pi * hertz * recording.step_s * np.flatnonzero(known)
    design = np.column_stack([np.cos(at), np.sin(at), np.ones(at.size), at])
    fit, *_ = np.linalg.lstsq(design, part[known], rcond=None)
    left = part[known] - design @ fit
    return float(np.hypot(*fit[:2])), float(np.sqrt(2.0 * np.mean(left**2) / at.size))


def _said_to_run(recording: Recording, on: list[Step]) -> bool:
    """Return whether the person said each time that it was on that it runs, and never that not."""
    said = [{m.text.strip().lower() for m in recording.marks if s.start <= m.row < s.stop}
            for s in on]
    return all(LOAD_RUNS in words and LOAD_RESTS not in words for words in said)


def _settled(recording: Recording, step: Step) -> slice:
    """Return the rows of a step after the switching."""
    first = int(np.searchsorted(recording.time_s, step.start_s + SETTLE_S))
    return slice(min(max(first, step.start), step.stop), step.stop)


def _enough(recording: Recording, rows: list[slice]) -> bool:
    return bool(sum((r.stop - r.start) for r in rows) * recording.step_s >= LEAST_S)


def _lost(recording: Recording, step: Step) -> bool:
    gaps = np.diff(recording.time_s[step.start: step.stop])
    marked = any(m.lost_samples for m in recording.marks if step.start < m.row < step.stop)
    return marked or bool(gaps.size and gaps.max() > max(LEVEL_S, 3.0 * recording.step_s))


def _pieces(recording: Recording, values: Array, rows: list[slice]) -> Array:
    """Return the means of pieces of PIECE_S, shape (m,)."""
    size = max(1, round(PIECE_S / recording.step_s))
    means = []
    for row in rows:
        part = values[row]
        for start in range(0, part.size - size + 1, size):
            piece = part[start: start + size]
            if np.isfinite(piece).any():
                means.append(float(np.nanmean(piece)))
    return np.array(means)


def _difference(recording: Recording, values: Array, on: list[slice],
                off: list[slice]) -> Estimate:
    """Return the mean of `values` with the load on less that with it off, with its uncertainty."""
    one, other = _pieces(recording, values, on), _pieces(recording, values, off)
    if one.size < 2 or other.size < 2:
        return Estimate(float("nan"), float("nan"))
    spread = np.var(one, ddof=1) / one.size + np.var(other, ddof=1) / other.size
    return Estimate(float(one.mean() - other.mean()), float(np.sqrt(spread)))


def _common(shifts: list[Estimate]) -> Estimate | None:
    """Return the volts by which all tracks moved alike; None where they differ by 3 sigma."""
    weights = np.array([1.0 / max(s.uncertainty, 1e-9) ** 2 for s in shifts])
    values = np.array([s.value for s in shifts])
    if not np.isfinite(values).all():
        return None
    mean = float(weights @ values / weights.sum())
    if np.any(np.abs(values - mean) > 3.0 / np.sqrt(weights)):
        return None
    return Estimate(mean, float(1.0 / np.sqrt(weights.sum())))


def _ripple(recording: Recording, supply: Array, rows: slice) -> Ripple | None:
    """Return the strongest line of the supply with the load on; None where none stands out."""
    values = supply[rows][:_LONGEST]
    n = values.size
    if n < 64 or not np.isfinite(values).all():
        return None
    step = recording.step_s
    time: Array = (np.arange(n, dtype=np.float64) - 0.5 * (n - 1)) * step
    values = values - np.polyval(np.polyfit(time, values, 1), time)
    power = np.abs(np.fft.rfft(values * np.hanning(n))) ** 2
    # The lowest bins are drift.
    power[:4] = 0.0
    peak = int(np.argmax(power))
    reach = max(20, peak // 8)
    near = np.concatenate([power[max(4, peak - reach): max(4, peak - 4)],
                           power[peak + 5: peak + reach]])
    if near.size < 8 or power[peak] <= ABOVE * float(np.mean(near)):
        return None
    hertz = _refined(values, time, peak / (n * step), 1.0 / (n * step))
    design = np.column_stack([np.cos(2 * np.pi * hertz * time), np.sin(2 * np.pi * hertz * time)])
    part = np.linalg.lstsq(design, values, rcond=None)[0]
    left = values - design @ part
    amplitude = float(np.hypot(*part))
    sigma2 = float(left @ left) / (n - 4)
    u_hertz = np.sqrt(24.0 * sigma2 / (n * (n**2 - 1.0))) / (2 * np.pi * amplitude * step)
    return Ripple(Estimate(hertz, float(u_hertz)),
                  Estimate(amplitude, float(np.sqrt(2.0 * sigma2 / n))), 1.0 / step)


def _refined(values: Array, time: Array, hertz: float, width: float) -> float:
    """Return the frequency of the least sum of squares within a bin of the spectrum's peak."""
    from scipy.optimize import minimize_scalar

    def missed(f: float) -> float:
        design = np.column_stack([np.cos(2 * np.pi * f * time), np.sin(2 * np.pi * f * time)])
        part = np.linalg.lstsq(design, values, rcond=None)[0]
        return float(np.sum((values - design @ part) ** 2))

    found = minimize_scalar(missed, bounds=(hertz - width, hertz + width), method="bounded",
                            options={"xatol": 1e-5 * width})
    return float(found.x)
