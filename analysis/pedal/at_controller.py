"""What the bench read, as the controller's input reads it; and how far that may be off.

The stated network (leads, board, controller) is solved for where the wipers stand, then for what
the controller reads. What is not known is a range, and every corner of it is solved too: a node's
voltage only rises or only falls with any one resistance, so the extremes of a box of resistances
lie at its corners. Method: docs/method_circuit.md.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from analysis.circuit.front_end import OPEN, FrontEnd, Input, Source, Track, readings, wipers_behind
from analysis.model.estimate import Estimate
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.tracks import TrackFindings

# Ohms to ground from which on an input counts as open.
NO_LOAD_OHMS = 1e9
# Shares of travel at which the range is worked out; straight between them.
_TRAVEL = np.array([0.0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0])
_OF_THE_INPUT = (
    "lead_ohms",
    "board_input_ohms",
    "controller_input_ohms",
    "controller_pull",
    "controller_input_measured",
    "controller_series_ohms",
    "car_board_ohms",
)


@dataclass(frozen=True)
class Controller:
    """Hold one possible controller with its harness: a corner of what is not known.

    track_ohms: of each track, or of a sensor's output where `driven`. board_ohms: to ground, of a
    board that reads beside it.
    """

    track_ohms: float
    input: Input
    lead_ohms: float
    shared: bool
    driven: bool = False
    board_ohms: float = OPEN


@dataclass(frozen=True)
class InputReach:
    """Hold what the controller's input may do to one track beyond what is known of it.

    travel: shares of its span, shape (n,). towards, away: how far the reading may lie from the
    stated one, volts, 0 or more, towards and away from pressed, shape (n,). moved_volts: how far
    the stated network moves rest from the bench's, volts, signed as read; board_volts: how far the
    board that logs in the car moves it beyond that while it hangs there. why: the input as taken.
    stated: anything of it was; while nothing was, only what lifts a rest is allowed for, as that
    alone can move a car, and full travel and fault limits stay what the bench says.
    """

    travel: Array
    towards: Array
    away: Array
    moved_volts: float
    why: Reason
    stated: bool = True
    board_volts: float = 0.0

    def adds(self, share: float) -> float:
        """Return the most that it may add towards pressed from rest up to that share of travel."""
        inside = np.append(self.travel[self.travel < share], min(max(share, 0.0), 1.0))
        return float(np.max(np.interp(inside, self.travel, self.towards)))

    def takes(self, share: float) -> float:
        """Return how far the reading may lie on the rest side of the stated one, there."""
        return float(np.interp(share, self.travel, self.away)) if self.stated else 0.0

    def puts(self, share: float) -> float:
        """Return how far the reading may lie on the pressed side of the stated one, there."""
        return float(np.interp(share, self.travel, self.towards)) if self.stated else 0.0


def at_controller(
    tracks: Mapping[str, TrackFindings], parameters: Parameters
) -> dict[str, TrackFindings]:
    """Return the tracks as the controller reads them by what is stated of it.

    Unchanged where nothing stated loads them. Volts stay those at nominal supply.
    """
    stated = stated_controller(parameters)
    if parameters.pedal_kind == "rheostat" or _loads_nothing(stated, parameters):
        return dict(tracks)
    if not _known(tracks):
        return dict(tracks)
    return {n: _moved(tracks, n, stated, parameters) for n in tracks}


def reaches(tracks: Mapping[str, TrackFindings], parameters: Parameters) -> dict[str, InputReach]:
    """Return by track what the controller's input may do beyond what is stated of it.

    tracks: as the bench read them. Nothing is returned while rest and full travel are unknown.
    """
    if not _known(tracks):
        return {}
    if parameters.pedal_kind == "rheostat":
        return {n: _of_leads(t, parameters) for n, t in tracks.items()}
    stated = stated_controller(parameters)
    levels = {n: t.rest.value + _TRAVEL * (t.full.value - t.rest.value) for n, t in tracks.items()}
    usual = _read(tracks, levels, stated, parameters)
    logged = _read(tracks, levels, with_board(stated, parameters), parameters)
    furthest = {n: (np.zeros(_TRAVEL.size), np.zeros(_TRAVEL.size)) for n in tracks}
    for case in possible_controllers(parameters):
        read = _read(tracks, levels, case, parameters)
        for name, track in tracks.items():
            off = (read[name] - usual[name]) * (1.0 if track.direction == "rising" else -1.0)
            towards, away = furthest[name]
            furthest[name] = np.maximum(towards, off), np.maximum(away, -off)
    return {
        n: InputReach(
            _TRAVEL,
            *furthest[n],
            float(usual[n][0] - tracks[n].rest.value),
            _why(parameters, n, (float(usual[n][0]), tracks[n].rest.value, float(logged[n][0]))),
            any(name in _OF_THE_INPUT for name in parameters.changed),
            float(logged[n][0] - usual[n][0]),
        )
        for n in tracks
    }


def _of_leads(track: TrackFindings, parameters: Parameters) -> InputReach:
    """Return what two leads of the harness add to a rheostat, which a controller reads in ohms."""
    span = 2.0 * parameters.track_ohms
    more = np.full(_TRAVEL.size, 2.0 * parameters.lead_ohms * track.nominal_volts / span)
    none, rises = np.zeros(_TRAVEL.size), track.direction == "rising"
    return InputReach(
        _TRAVEL, more if rises else none, none if rises else more, 0.0,
        Reason("leads of a rheostat", {"lead_ohms": parameters.lead_ohms}),
        "lead_ohms" in parameters.changed)


def volts_along(
    tracks: Mapping[str, TrackFindings], shares: Array, parameters: Parameters
) -> dict[str, Array]:
    """Return what the stated controller reads of each track at shares of the pedal's travel.

    tracks: as the bench read them; shares: 0 at rest, 1 at full travel, shape (n,). Nothing is
    returned while rest and full travel are unknown.
    """
    if not _known(tracks):
        return {}
    levels = {n: t.rest.value + shares * (t.full.value - t.rest.value) for n, t in tracks.items()}
    stated = stated_controller(parameters)
    if parameters.pedal_kind == "rheostat" or _loads_nothing(stated, parameters):
        return levels
    # A network is solved every 1 % of travel: a straight line between is off by less than 0.1 mV.
    nodes = np.linspace(0.0, 1.0, 101)
    few = {n: t.rest.value + nodes * (t.full.value - t.rest.value) for n, t in tracks.items()}
    read = _read(tracks, few, stated, parameters)
    return {n: np.interp(shares, nodes, volts) for n, volts in read.items()}


def stated_controller(parameters: Parameters) -> Controller:
    """Return the controller as stated: what is only bounded counts as absent."""
    p = parameters
    load = p.controller_input_ohms if p.controller_input_measured else OPEN
    ohms = 0.0 if _driven(p) else p.track_ohms
    return Controller(
        ohms, _input(p, load, *_pulls(p)[0]), 0.0, p.pedal_leads == "joined", _driven(p)
    )


def possible_controllers(parameters: Parameters) -> Iterator[Controller]:
    """Yield every corner of what is not known of track, harness and controller."""
    p = parameters
    tracks = _source_ohms(p)
    spread = _sides(p.controller_tolerance)
    loads = (
        [_ohms(p.controller_input_ohms * (1.0 + s * p.controller_tolerance)) for s in spread]
        if p.controller_input_measured
        else [_ohms(p.controller_input_ohms), OPEN]
    )
    leads = sorted({0.0, p.lead_ohms})
    # Only the drop along a lead tells shared leads from own ones.
    shared = (
        [p.pedal_leads == "joined"]
        if p.pedal_leads != "unknown" or len(leads) == 1
        else [False, True]
    )
    pulls = _pulls(p)
    if p.controller_pull in ("up", "down"):
        pulls = [
            (ohms * (1.0 + s * p.controller_tolerance), volts)
            for ohms, volts in pulls
            for s in spread
        ]
    # While it logs in the car, and when it was taken off.
    boards = sorted({OPEN, _ohms(p.car_board_ohms or OPEN)})
    for ohms, load, pull, lead, share, board in product(
            tracks, loads, pulls, leads, shared, boards):
        yield Controller(ohms, _input(p, load, *pull), lead, share, _driven(p), board)


def with_board(controller: Controller, parameters: Parameters) -> Controller:
    """Return the controller with the board that logs in the car hanging beside it."""
    return replace(controller, board_ohms=_ohms(parameters.car_board_ohms or OPEN))


def _driven(p: Parameters) -> bool:
    """Return whether the sensor drives its output, so that no track is bent."""
    return p.pedal_kind.startswith("hall")


def _source_ohms(p: Parameters) -> list[float]:
    """Return every resistance that a track, or the output of a sensor, may have."""
    if _driven(p):
        return sorted({0.0, p.sensor_output_ohms})
    return [
        p.track_ohms * (1.0 + s * p.track_ohms_tolerance) for s in _sides(p.track_ohms_tolerance)
    ]


def read_without_lead(parameters: Parameters) -> tuple[float, float] | None:
    """Return the lowest and highest volts that a stated pull puts on a pin whose lead is broken.

    None where nothing stated pulls: then it reads 0 V through its load, or wanders.
    """
    read = [
        i.pull_volts * i.to_ground_ohms / (i.pull_ohms + i.series_ohms + i.to_ground_ohms)
        if np.isfinite(i.to_ground_ohms)
        else i.pull_volts
        for i in (case.input for case in possible_controllers(parameters))
        if np.isfinite(i.pull_ohms)
    ]
    return (min(map(float, read)), max(map(float, read))) if read else None


def network(
    tracks: Mapping[str, TrackFindings], wipers: Mapping[str, Array], controller: Controller
) -> FrontEnd:
    """Return the pedal with its wipers there, read by that controller."""
    return FrontEnd(
        tuple(_sensor(controller, wipers[n]) for n in tracks),
        next(iter(tracks.values())).nominal_volts,
        controller.lead_ohms,
        controller.shared,
    )


def _sensor(controller: Controller, wiper: Array | float) -> Track | Source:
    inputs = (controller.input, *([Input(controller.board_ohms)]
                                  if np.isfinite(controller.board_ohms) else []))
    if controller.driven:
        return Source(controller.track_ohms, wiper, inputs)
    return Track(controller.track_ohms, wiper, inputs)


def wipers_on_bench(
    tracks: Mapping[str, TrackFindings],
    levels: Mapping[str, Array],
    controller: Controller,
    parameters: Parameters,
) -> dict[str, Array]:
    """Return where the wipers stand for the bench to read these levels, by track, 0 to 1.

    levels: volts at nominal supply, of one shape; those of one place belong together.
    """
    load = _ohms(parameters.board_input_ohms or OPEN)
    nominal = next(iter(tracks.values())).nominal_volts
    if np.isinf(load):
        return {n: np.clip(levels[n] / nominal, 0.0, 1.0) for n in tracks}
    board = replace(controller, input=Input(load), board_ohms=OPEN)
    bench = FrontEnd(tuple(_sensor(board, 0.5) for _ in tracks), nominal)
    return dict(zip(tracks, wipers_behind(bench, [levels[n] for n in tracks]).shares, strict=True))


def _read(
    tracks: Mapping[str, TrackFindings],
    levels: Mapping[str, Array],
    controller: Controller,
    parameters: Parameters,
) -> dict[str, Array]:
    """Return what a controller reads where the bench read these levels, by track."""
    wipers = wipers_on_bench(tracks, levels, controller, parameters)
    if is_open(controller):
        # Nothing bends the track: keep every digit.
        nominal = next(iter(tracks.values())).nominal_volts
        return {
            n: np.asarray(levels[n])
            if np.isinf(_ohms(parameters.board_input_ohms or OPEN))
            else nominal * wipers[n]
            for n in tracks
        }
    found = readings(network(tracks, wipers, controller))
    return {n: each[0] for n, each in zip(tracks, found, strict=True)}


def _moved(
    tracks: Mapping[str, TrackFindings], name: str, controller: Controller, parameters: Parameters
) -> TrackFindings:
    track = tracks[name]
    rest, full = track.rest.value, track.full.value

    def read(levels: Array) -> Array:
        """Return what is read of this track, the others at the same place of their travel."""
        share = np.clip((levels - rest) / (full - rest), -0.05, 1.05)
        beside = {
            n: np.clip(t.rest.value + share * (t.full.value - t.rest.value), 0.0, t.nominal_volts)
            for n, t in tracks.items()
        }
        return _read(tracks, {**beside, name: levels}, controller, parameters)[name]

    # A track that was never still has no furthest reading at rest; nothing solves a NaN.
    still = np.isfinite(track.rest_furthest_volts)
    new_rest, new_full, low, high, furthest = read(np.array([
        rest, full, track.lowest_volts, track.highest_volts,
        track.rest_furthest_volts if still else rest]))
    small = 0.01 * (full - rest)
    at_rest, at_full = (
        (read(np.array([v + s])) - read(np.array([v])))[0] / s
        for v, s in ((rest, small), (full, -small))
    )
    slope = abs(float(at_rest))
    return replace(
        track,
        rest=Estimate(float(new_rest), slope * track.rest.uncertainty),
        rest_levels=read(track.rest_levels),
        full_levels=read(track.full_levels),
        rest_scatter=_times(track.rest_scatter, slope),
        noise_volts=slope * track.noise_volts,
        drift_volts_per_minute=_times(track.drift_volts_per_minute, slope),
        full=Estimate(float(new_full), abs(float(at_full)) * track.full.uncertainty),
        span=_times(track.span, abs(float(new_full - new_rest)) / track.span.value),
        lowest_volts=float(low),
        highest_volts=float(high),
        rest_furthest_volts=float(furthest) if still else float("nan"),
        rest_repeats=slope * track.rest_repeats,
        full_repeats=slope * track.full_repeats,
    )


def _times(estimate: Estimate, factor: float) -> Estimate:
    return Estimate(factor * estimate.value, factor * estimate.uncertainty)


def _why(parameters: Parameters, column: str, rests: tuple[float, float, float]) -> Reason:
    """Return the input as taken; rests: there, on the bench, and there while the board logs."""
    p, (there, here, logged) = parameters, rests
    return Reason(
        "controller's input",
        {
            "least_ohms": p.controller_input_ohms,
            "measured": p.controller_input_measured,
            "pull": p.controller_pull,
            "pull_ohms": p.controller_pull_ohms,
            "pull_volts": p.controller_pull_volts,
            "series_ohms": p.controller_series_ohms,
            "lead_ohms": p.lead_ohms,
            "track_ohms": p.track_ohms,
            "track_tolerance": p.track_ohms_tolerance,
            "driven": _driven(p),
            "output_ohms": p.sensor_output_ohms,
            "bench_volts": here,
            "there_volts": there,
            "board_ohms": p.car_board_ohms,
            "board_volts": logged - there,
            "column": column,
        },
    )


def _pulls(p: Parameters) -> list[tuple[float, float]]:
    """Return (ohms, volts) of every pull that may be there, what is stated first."""
    if p.controller_pull == "up":
        return [(p.controller_pull_ohms, p.controller_pull_volts)]
    if p.controller_pull == "down":
        return [(p.controller_pull_ohms, 0.0)]
    none = [(OPEN, 0.0)]
    if p.controller_pull != "unknown":
        return none
    return [*none, (p.controller_pull_ohms, p.controller_pull_volts), (p.controller_pull_ohms, 0.0)]


def _input(p: Parameters, load: float, pull_ohms: float, pull_volts: float) -> Input:
    return Input(_ohms(load), pull_ohms, pull_volts, p.controller_series_ohms)


def _ohms(ohms: float) -> float:
    return OPEN if ohms >= NO_LOAD_OHMS else ohms


def _sides(tolerance: float) -> tuple[float, ...]:
    return (-1.0, 1.0) if tolerance > 0 else (0.0,)


def is_open(controller: Controller) -> bool:
    """Return whether nothing of it bends a track: no load, no pull, no ohms in a lead."""
    return bool(
        controller.lead_ohms == 0.0
        and np.isinf(controller.board_ohms)
        and np.isinf(controller.input.to_ground_ohms)
        and np.isinf(controller.input.pull_ohms)
    )


def _loads_nothing(controller: Controller, parameters: Parameters) -> bool:
    return is_open(controller) and np.isinf(_ohms(parameters.board_input_ohms or OPEN))


def _known(tracks: Mapping[str, TrackFindings]) -> bool:
    return bool(tracks) and all(
        np.isfinite(t.rest.value) and np.isfinite(t.full.value) and t.span.value > 0
        for t in tracks.values()
    )
