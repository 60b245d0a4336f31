"""Trim a track with a resistor in its supply or ground leg: which value, and what tracks do then.

Legs are solved by the equations of a bare divider, then corrected by what the stated controller
reads through the whole network; docs/method_deadband.md, "Remedies".
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.circuit.front_end import Track, readings, wipers_behind
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.at_controller import network
from analysis.pedal.possible_controllers import Controller, is_open, stated_controller
from analysis.pedal.preferred_values import nearest_value
from analysis.pedal.tracks import TrackFindings

NAN = float("nan")
# The coarser series is kept while its value misses the target by no more than this share of
# the supply; then E96.
CLOSE_ENOUGH = 0.001
_ROUNDS = 12


@dataclass(frozen=True)
class Moved:
    """Hold where a track reads rest and full travel after a remedy, volts at the controller."""

    column: str
    rest_volts: float
    full_volts: float


@dataclass(frozen=True)
class Trim:
    """Hold the legs of one trim in ohms, 0 for none, and where every track then reads."""

    supply_ohms: float
    ground_ohms: float
    own: Moved
    others: tuple[Moved, ...]
    why_not: Reason | None = None

    @property
    def legs(self) -> tuple[tuple[str, float], ...]:
        """Return (leg, ohms) of each resistor that there is."""
        both = (("supply", self.supply_ohms), ("ground", self.ground_ohms))
        return tuple((name, ohms) for name, ohms in both if ohms > 0)


def divided(
    ratio: float, track_ohms: float, supply_leg_ohms: float, ground_leg_ohms: float
) -> float:
    """Return the wiper's share of the supply with a resistor in either leg, no load.

    (ground + ratio * track) / (supply + track + ground); ratio: the wiper's share without them.
    """
    whole = supply_leg_ohms + track_ohms + ground_leg_ohms
    return (ground_leg_ohms + ratio * track_ohms) / whole


def loaded(
    ratio: float,
    track_ohms: float,
    load_ohms: float,
    supply_leg_ohms: float = 0.0,
    ground_leg_ohms: float = 0.0,
) -> float:
    """Return the wiper's share of the supply with a load from wiper to ground.

    Thevenin: the unloaded share times load / (load + upper * lower / whole).
    """
    lower = ground_leg_ohms + ratio * track_ohms
    whole = supply_leg_ohms + track_ohms + ground_leg_ohms
    source = lower * (whole - lower) / whole
    return lower / whole * load_ohms / (load_ohms + source)


def trim_legs(
    rest_ratio: float,
    full_ratio: float,
    target_rest: float,
    target_full: float | None,
    track_ohms: float,
) -> tuple[float, float, Reason | None]:
    """Return the resistors in the supply and ground leg, ohms, and why not (None when possible).

    Ratios are shares of the supply. With one target one leg suffices; with both, span shrinks
    to a = (target_full - target_rest) / (full - rest), whole = track / a, ground =
    target_rest * whole - rest * track, supply = whole - track - ground. When impossible both
    are NaN.
    """
    if not 0.0 < target_rest < 1.0 or (target_full is not None and not 0.0 < target_full < 1.0):
        return NAN, NAN, Reason("target at a rail")
    if target_full is None:
        if target_rest < rest_ratio:
            return track_ohms * (rest_ratio / target_rest - 1.0), 0.0, None
        return 0.0, track_ohms * ((1.0 - rest_ratio) / (1.0 - target_rest) - 1.0), None
    share = (target_full - target_rest) / (full_ratio - rest_ratio)
    if share <= 0:
        return NAN, NAN, Reason("targets turned round")
    if share > 1.0 + 1e-9:
        return NAN, NAN, Reason("span would grow", {"share": share})
    whole = track_ohms / share
    ground = target_rest * whole - rest_ratio * track_ohms
    supply = whole - track_ohms - ground
    # A leg of less than 0.02 % of the track cannot be told from a wire.
    ground, supply = (0.0 if abs(r) < 2e-4 * track_ohms else r for r in (ground, supply))
    if ground < 0 or supply < 0:
        return NAN, NAN, Reason("leg below nothing", {"leg": "ground" if ground < 0 else "supply"})
    return supply, ground, None


class Bench:
    """Hold a pedal whose legs are trimmed, as one controller reads it.

    tracks: as that controller reads them now. joined: whether they share both leads.
    """

    def __init__(
        self, tracks: Mapping[str, TrackFindings], parameters: Parameters, joined: bool
    ) -> None:
        self._tracks, self._joined = tracks, joined
        self._controller: Controller = replace(stated_controller(parameters), shared=joined)
        self._ohms = parameters.track_ohms
        self._nominal = next(iter(tracks.values())).nominal_volts
        self._wipers = self.wipers(
            {n: np.array([t.rest.value, t.full.value]) for n, t in tracks.items()}
        )

    def wipers(self, levels: Mapping[str, Array]) -> dict[str, Array]:
        """Return where the wipers stand for the controller to read these levels, 0 to 1."""
        if is_open(self._controller):
            return {n: np.clip(v / self._nominal, 0.0, 1.0) for n, v in levels.items()}
        there = network(self._tracks, levels, self._controller)
        found = wipers_behind(there, [levels[n] for n in self._tracks])
        return dict(zip(self._tracks, found.shares, strict=True))

    def turned(self, column: str, target: float) -> tuple[float, float]:
        """Return by which share of its element a wiper turns until rest reads the target, and full.

        Full travel is then NaN where the wiper would leave its element.
        """
        track = self._tracks[column]
        at_target = self.wipers(
            {
                n: np.array([t.rest.value if n != column else target])
                for n, t in self._tracks.items()
            }
        )[column][0]
        share = float(at_target - self._wipers[column][0])
        if is_open(self._controller):
            return share, track.full.value + target - track.rest.value
        full = self._wipers[column][1] + share
        if not 0.0 < full < 1.0:
            return share, NAN
        moved = {**self._wipers, column: np.array([at_target, full])}
        found = readings(network(self._tracks, moved, self._controller))
        return share, float(found[list(self._tracks).index(column)][0][1])

    def on_the_bench(self, column: str, share: float) -> float | None:
        """Return what an unloaded bench reads at rest with the wiper turned so far; None: the same.

        share: of its element, as `turned` returns it.
        """
        if is_open(self._controller):
            return None
        return self._nominal * float(self._wipers[column][0] + share)

    def read(self, column: str, supply: float, ground: float) -> dict[str, Moved]:
        """Return what is read of every track with these legs before that track, or before all."""
        there = network(self._tracks, self._wipers, self._controller)
        trimmed = 0 if self._joined else list(self._tracks).index(column)
        legs = tuple(
            replace(t, supply_leg_ohms=supply, ground_leg_ohms=ground)
            if k == trimmed and isinstance(t, Track)
            else t
            for k, t in enumerate(there.tracks)
        )
        found = readings(replace(there, tracks=legs))
        return {
            n: Moved(n, float(volts[0][0]), float(volts[0][1]))
            for n, volts in zip(self._tracks, found, strict=True)
        }

    def trim(self, column: str, target: float, full_target: float | None) -> Trim:
        """Return the legs in preferred values that bring rest, or both ends, to their targets.

        target, full_target: volts that the controller is to read.
        """
        ohms = self._ohms / (len(self._tracks) if self._joined else 1)
        rest, full = (float(v) for v in self._wipers[column])
        track, nominal = self._tracks[column], self._nominal
        # Aim beside the target by what leads and input bend.
        goal = rest + (target - track.rest.value) / nominal
        full_goal = (
            None if full_target is None else (full + (full_target - track.full.value) / nominal)
        )
        for _ in range(_ROUNDS):
            supply, ground, why = trim_legs(rest, full, goal, full_goal, ohms)
            if why is not None:
                now = Moved(column, track.rest.value, track.full.value)
                return Trim(NAN, NAN, now, (), why)
            read = self.read(column, supply, ground)[column]
            miss = (target - read.rest_volts) / nominal
            full_miss = 0.0 if full_target is None else (full_target - read.full_volts) / nominal
            if max(abs(miss), abs(full_miss)) < 1e-9:
                break
            goal += miss
            full_goal = None if full_goal is None else full_goal + full_miss
        for series in ("E24", "E96"):
            chosen = (
                nearest_value(supply, series) if supply else 0.0,
                nearest_value(ground, series) if ground else 0.0,
            )
            moved = self.read(column, *chosen)
            if abs(moved[column].rest_volts - target) <= CLOSE_ENOUGH * nominal:
                break
        return Trim(
            *chosen,
            moved[column],
            tuple(moved[n] for n in self._tracks if n != column and self._joined),
        )
