"""Which lead or joint is loose: short losses of contact while one after the other is shaken.

Method (docs/proof.md): with the pedal alone every reading is still, so whatever leaves its own
running middle for a moment was the wiring. What leaves tells the lead, for a divider of two
potentiometers has three ways to fail:

| what reads wrong                            | the lead                                |
|---------------------------------------------|-----------------------------------------|
| one track only, either way                  | its signal wire, or its own leg         |
| every track on a leg, towards 0 V           | the supply of that leg                  |
| every track on a leg, towards the supply    | the ground of that leg                  |

(Kirchhoff: with its ground open no current flows in a track, so its wiper stands at the supply;
with its supply open, at ground.) The prompt then tells where: the lead that was in the hand.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array, Recording
from analysis.proof.steps import GROUND, SUPPLY, Step, steps_of
from analysis.signal.smoothing import (
    Mask,
    block_medians,
    median,
    robust_spread,
    running_median,
)

# A reading left its middle when it is off by so many robust standard deviations, so many steps of
# its converter, and so many volts (common practice, no source).
SIGMAS, STEPS, LEAST_VOLTS = 8.0, 4.0, 0.02
# The running middle is taken over this, of pieces so long; what lasts for half of it is no dropout.
MIDDLE_S, PIECE_S = 4.0, 0.02
# A pedal that was jogged moves all tracks a little and without a jump: less than this share of the
# supply, and from row to row by less than so much of its depth (common practice, no source).
JOGGED_SHARE, JUMP = 0.1, 0.6
# Losses closer together than this are one.
TOGETHER_S = 0.03
# Beside a loss of one track the others count as still below this share of it.
BESIDE = 0.25
# The hand needs a moment to change from one lead to the next; what falls into it is not the next
# one's (common practice, no source).
CHANGE_S = 0.2
KINDS = ("shake", "sideways", "warm", "cool")


@dataclass(frozen=True)
class Loss:
    """Hold one loss of contact: rows [start, stop), its times, what left and how far, in volts.

    suspects: the leads that would read like this. step: what was being done; None: between steps.
    """

    start: int
    stop: int
    start_s: float
    seconds: float
    volts: Mapping[str, float]
    suspects: tuple[str, ...]
    step: Step | None


@dataclass(frozen=True)
class LeadSeen:
    """Hold what was seen of one lead. state: "holds", "loose" or "not shaken".

    losses: those that this lead explains. here: how many while it was the one shaken. shaken_s: how
    long it was. places: where it was shaken when it let go, the most first. left: where others were
    shaken and this one was not.
    """

    lead: str
    state: str
    losses: int
    here: int
    shaken_s: float
    longest_s: float = 0.0
    places: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


@dataclass(frozen=True)
class ShakeLog:
    """Hold what a log of shaken leads shows: the leads worst first, and every loss in order.

    unseen: steps that cannot count, since rows were lost in them. unexplained: losses that no lead
    explains alone.
    """

    leads: tuple[LeadSeen, ...]
    losses: tuple[Loss, ...]
    unseen: tuple[Step, ...]
    unexplained: int


def judge_shaking(recording: Recording) -> ShakeLog:
    """Return which leads of a pedal hold and which let go, from a log with the pedal alone.

    A lead that was not shaken is told as not shaken, whatever the others show.
    """
    names = tuple(c.column for c in recording.with_role("track"))
    steps = tuple(s for s in steps_of(recording) if s.kind in KINDS)
    away = {n: _Away.of(recording, n) for n in names}
    still = [s for s in steps if s.kind != "sideways"]
    losses = tuple(loss for piece in _groups(recording, away)
                   if (loss := _loss(recording, away, names, steps, *piece)) is not None)
    shared = not any(" " in s.leads[0] for s in steps if s.kind == "shake")
    legs = (SUPPLY, GROUND) if shared else tuple(
        f"{leg} {n}" for leg in (SUPPLY, GROUND) for n in names)
    unseen = tuple(s for s in still if _lost(recording, s))
    leads = [_seen(lead, losses, steps, unseen) for lead in (*names, *legs)]
    unexplained = sum(not loss.suspects for loss in losses)
    return ShakeLog(tuple(sorted(leads, key=lambda lead: (-lead.here, -lead.losses))), losses,
                    unseen, unexplained)


@dataclass(frozen=True)
class _Away:
    """Hold how far a track's readings are from their running middle, volts; arrays (n,).

    volts: NaN where the board read nothing. far: where that is more than noise, or a blank.
    middle: the level that they left.
    """

    volts: Array
    far: Mask
    middle: Array

    @classmethod
    def of(cls, recording: Recording, name: str) -> "_Away":
        channel = recording.channel(name)
        volts = channel.volts()
        known = np.where(np.isfinite(volts), volts, np.nanmedian(volts))
        middle = _middle(known, max(1, round(PIECE_S / recording.step_s)))
        off = known - middle
        least = max(SIGMAS * robust_spread(off), STEPS * channel.step_volts, LEAST_VOLTS)
        blank = ~np.isfinite(volts)
        return cls(np.where(blank, np.nan, off), (np.abs(off) > least) | blank, middle)

    def share(self, start: int, stop: int, supply: float) -> float:
        """Return the deepest reading as a share of the way to 0 V (negative) or to the supply."""
        deepest = self.deepest(start, stop)
        way = self.middle[start] if deepest < 0 else supply - self.middle[start]
        return deepest / max(float(way), 0.02 * supply)

    def deepest(self, start: int, stop: int) -> float:
        """Return the volts of the reading furthest off; NaN where nothing was read."""
        known = self.volts[start:stop]
        known = known[np.isfinite(known)]
        return float(known[np.argmax(np.abs(known))]) if known.size else float("nan")


def _middle(volts: Array, size: int) -> Array:
    """Return the running middle over MIDDLE_S, from medians of pieces of `size` rows; (n,)."""
    if volts.size < 2 * size:
        return np.full(volts.size, median(volts))
    pieces = block_medians(volts, size)
    width = min(round(MIDDLE_S / PIECE_S) | 1, pieces.size - (pieces.size + 1) % 2)
    centres = (np.arange(pieces.size) + 0.5) * size - 0.5
    result: Array = np.interp(np.arange(volts.size), centres, running_median(pieces, width))
    return result


def _groups(recording: Recording, away: Mapping[str, _Away]) -> list[tuple[int, int]]:
    """Return the rows [start, stop) in which any track is off, joined over TOGETHER_S."""
    rows = np.flatnonzero(np.any([a.far for a in away.values()], axis=0))
    if not rows.size:
        return []
    cuts = np.flatnonzero(np.diff(recording.time_s[rows]) > TOGETHER_S)
    starts = np.concatenate([[0], cuts + 1])
    stops = np.concatenate([cuts, [rows.size - 1]])
    return [(int(rows[a]), int(rows[b]) + 1) for a, b in zip(starts, stops, strict=True)]


def _loss(recording: Recording, away: Mapping[str, _Away], names: tuple[str, ...],
          steps: tuple[Step, ...], start: int, stop: int) -> Loss | None:
    """Return a loss with its suspects; None while the pedal was being pressed, or only jogged."""
    step = next((s for s in steps if s.start <= start < s.stop), None)
    if step is None or step.kind == "sideways":
        return None
    supply = recording.usual_supply_volts
    # A supply input that nobody connected reads 0: no supply that a track could fall from.
    nominal = recording.nominal_volts
    supply = supply if supply > 0.1 * nominal else nominal
    depth = {n: a.deepest(start, stop) for n, a in away.items()}
    share = {n: abs(a.share(start, stop, supply)) for n, a in away.items()}
    most = max((s for s in share.values() if np.isfinite(s)), default=0.0)
    off = [n for n in names if not share[n] <= BESIDE * most]
    deepest = max((abs(d) for d in depth.values() if np.isfinite(d)), default=float("inf"))
    around = slice(max(0, start - 2), stop + 2)
    if deepest < JOGGED_SHARE * supply and not any(
            _jumps(away[n].volts[around], deepest) for n in off):
        return None
    time = recording.time_s
    return Loss(start, stop, float(time[start]),
                float(time[min(stop, time.size - 1)] - time[start]), depth,
                _suspects(off, depth, names, steps), _in_hand(step, steps, float(time[start])))


def _in_hand(step: Step, steps: tuple[Step, ...], time_s: float) -> Step:
    """Return what was in the hand: just behind a prompt still the step before it.

    Whose a loss is cannot be told by the prompt alone.
    """
    if time_s - step.start_s >= CHANGE_S:
        return step
    before = [s for s in steps if s.stop <= step.start]
    return before[-1] if before and step.start_s - before[-1].end_s < 1.0 else step


def _suspects(off: list[str], depth: Mapping[str, float], names: tuple[str, ...],
              steps: tuple[Step, ...]) -> tuple[str, ...]:
    """Return the leads that would read like this; () where no one lead does."""
    own_legs = any(" " in s.leads[0] for s in steps if s.kind == "shake")
    if len(off) == 1:
        name = off[0]
        if not own_legs:
            return (name,) if len(names) > 1 else (name, SUPPLY if depth[name] < 0 else GROUND)
        return (name, f"{SUPPLY if depth[name] < 0 else GROUND} {name}")
    if own_legs or len(off) < len(names):
        return ()
    signs = {float(np.sign(depth[n])) for n in off}
    if signs == {-1.0}:
        return (SUPPLY,)
    return (GROUND,) if signs == {1.0} else ()


def _jumps(values: Array, depth: float) -> bool:
    """Return whether a reading leaves or comes back from one row to the next."""
    known = values[np.isfinite(values)]
    return bool(np.any(np.abs(np.diff(known)) > JUMP * depth))


def _lost(recording: Recording, step: Step) -> bool:
    """Return whether rows are missing in a step for longer than a loss of contact lasts."""
    gaps = np.diff(recording.time_s[step.start: step.stop])
    marked = any(m.lost_samples for m in recording.marks if step.start < m.row < step.stop)
    return marked or bool(gaps.size and gaps.max() > max(0.01, 3.0 * recording.step_s))


def _seen(lead: str, losses: tuple[Loss, ...], steps: tuple[Step, ...],
          unseen: tuple[Step, ...]) -> LeadSeen:
    """Return what was seen of a lead: it is loose when a loss can only be its own, or was its."""
    own = [s for s in steps if s.kind == "shake" and s.leads == (lead,)]
    held = [s for s in own if s not in unseen]
    mine = [x for x in losses if lead in x.suspects and (len(x.suspects) == 1 or x.step in own)]
    here = [x.step for x in mine if x.step is not None and x.step in own]
    places = Counter(s.place for s in here if s.place)
    shaken, left = sum(s.end_s - s.start_s for s in held), _joints_left(steps, held)
    holds = shaken > 0 and not left
    state = "loose" if mine else ("not shaken", "holds")[holds]
    return LeadSeen(lead, state, len(mine), len(here), shaken,
                    max((x.seconds for x in mine), default=0.0),
                    tuple(p for p, _ in places.most_common()), left)


def _joints_left(steps: tuple[Step, ...], shaken: Sequence[Step]) -> tuple[str, ...]:
    """Return the joints of a lead that were not shaken: those at which any other lead was."""
    asked = {s.place for s in steps if s.kind == "shake" and s.place}
    return tuple(sorted(asked - {s.place for s in shaken}))
