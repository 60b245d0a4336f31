"""What the bench read, as the controller's input reads it; and how far that may be off.

The stated network (leads, board, controller) is solved for where the wipers stand, then for what
the controller reads. What is not known is a range, and every corner of it is solved too: a node's
voltage only rises or only falls with any one resistance, so the extremes of a box of resistances
lie at its corners. Method: docs/method_circuit.md.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.circuit.front_end import OPEN, FrontEnd, Input, Source, Track, readings, wipers_behind
from analysis.model.estimate import Estimate
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.possible_controllers import (
    Controller,
    drives_its_output,
    in_circuit,
    is_open,
    possible_controllers,
    stated_controller,
    with_board,
)
from analysis.pedal.tracks import TrackFindings

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
    for case in possible_controllers(
            parameters, next(iter(tracks.values())).nominal_volts):
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
    load = in_circuit(parameters.board_input_ohms or OPEN)
    nominal = next(iter(tracks.values())).nominal_volts
    if np.isinf(load):
        # A sensor with a reference of its own may be fed by more than what is called its supply.
        highest = None if parameters.pedal_kind == "hall-fixed" else 1.0
        return {n: np.clip(levels[n] / nominal, 0.0, highest) for n in tracks}
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
            if np.isinf(in_circuit(parameters.board_input_ohms or OPEN))
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
            "driven": drives_its_output(p),
            "output_ohms": p.sensor_output_ohms,
            "bench_volts": here,
            "there_volts": there,
            "board_ohms": p.car_board_ohms,
            "board_volts": logged - there,
            "column": column,
        },
    )


def _loads_nothing(controller: Controller, parameters: Parameters) -> bool:
    return is_open(controller) and np.isinf(in_circuit(parameters.board_input_ohms or OPEN))


def _known(tracks: Mapping[str, TrackFindings]) -> bool:
    return bool(tracks) and all(
        np.isfinite(t.rest.value) and np.isfinite(t.full.value) and t.span.value > 0
        for t in tracks.values()
    )
