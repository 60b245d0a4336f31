"""The controller as stated, and every corner of what is not known of it, its harness and the pedal.

A node's voltage only rises or only falls with any one resistance or source, so the extremes of a
box of them lie at its corners. Method: docs/method_circuit.md.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from analysis.circuit.front_end import OPEN, Input
from analysis.parameters import Parameters

# Ohms to ground from which on an input counts as open.
NO_LOAD_OHMS = 1e9


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


def stated_controller(parameters: Parameters) -> Controller:
    """Return the controller as stated: what is only bounded counts as absent."""
    p = parameters
    load = p.controller_input_ohms if p.controller_input_measured else OPEN
    ohms = 0.0 if drives_its_output(p) else p.track_ohms
    return Controller(
        ohms, _input(p, load, *_pulls(p)[0]), 0.0, p.pedal_leads == "joined", drives_its_output(p)
    )


def possible_controllers(parameters: Parameters, nominal_volts: float) -> Iterator[Controller]:
    """Yield every corner of what is not known of track, harness and controller.

    nominal_volts: of the pedal's supply, at which all volts are stated.
    """
    p = parameters
    tracks = _source_ohms(p)
    spread = _sides(p.controller_tolerance)
    loads = (
        [in_circuit(p.controller_input_ohms * (1.0 + s * p.controller_tolerance)) for s in spread]
        if p.controller_input_measured
        else [in_circuit(p.controller_input_ohms), OPEN]
    )
    leads = sorted({0.0, p.lead_ohms})
    # Only the drop along a lead tells shared leads from own ones.
    shared = (
        [p.pedal_leads == "joined"]
        if p.pedal_leads != "unknown" or len(leads) == 1
        else [False, True]
    )
    # A pull that may be absent is of its resistance or more.
    nearest = spread if p.controller_pull in ("up", "down") else (0.0,)
    pulls = [
        (ohms * (1.0 + s * p.controller_tolerance), volts)
        for ohms, leads_to in _pulls(p)
        for s in nearest
        for volts in _pull_volts(p, leads_to, nominal_volts)
    ]
    # While it logs in the car, and when it was taken off.
    boards = sorted({OPEN, in_circuit(p.car_board_ohms or OPEN)})
    for ohms, load, pull, lead, share, board in product(
            tracks, loads, pulls, leads, shared, boards):
        yield Controller(ohms, _input(p, load, *pull), lead, share, drives_its_output(p), board)


def with_board(controller: Controller, parameters: Parameters) -> Controller:
    """Return the controller with the board that logs in the car hanging beside it."""
    return replace(controller, board_ohms=in_circuit(parameters.car_board_ohms or OPEN))


def drives_its_output(p: Parameters) -> bool:
    """Return whether the sensor drives its output, so that no track is bent."""
    return p.pedal_kind.startswith("hall")


def _source_ohms(p: Parameters) -> list[float]:
    """Return every resistance that a track, or the output of a sensor, may have."""
    if drives_its_output(p):
        return sorted({0.0, p.sensor_output_ohms})
    return [
        p.track_ohms * (1.0 + s * p.track_ohms_tolerance) for s in _sides(p.track_ohms_tolerance)
    ]


def read_without_lead(parameters: Parameters,
                      nominal_volts: float) -> tuple[float, float] | None:
    """Return the lowest and highest volts that a stated pull puts on a pin whose lead is broken.

    nominal_volts: of the pedal's supply. None where nothing stated pulls: then it reads 0 V through
    its load, or wanders.
    """
    read = [
        i.pull_volts * i.to_ground_ohms / (i.pull_ohms + i.series_ohms + i.to_ground_ohms)
        if np.isfinite(i.to_ground_ohms)
        else i.pull_volts
        for i in (case.input for case in possible_controllers(parameters, nominal_volts))
        if np.isfinite(i.pull_ohms)
    ]
    return (min(map(float, read)), max(map(float, read))) if read else None


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


def _pull_volts(p: Parameters, volts: float, nominal_volts: float) -> tuple[float, ...]:
    """Return what volts, stated as at nominal supply, a pull may lead to: lowest and highest.

    A pull to the pedal's own supply follows it, and so does the scale of a controller that measures
    by it. Any other part of the two may lie apart by the supply's tolerance.
    """
    off = p.supply_tolerance
    if volts == 0.0 or off == 0.0:
        return (volts,)
    if not p.ratiometric_controller:
        return volts * (1.0 - off), volts * (1.0 + off)
    if volts == nominal_volts:
        return (volts,)
    return volts * (1.0 - off) / (1.0 + off), volts * (1.0 + off) / (1.0 - off)


def _input(p: Parameters, load: float, pull_ohms: float, pull_volts: float) -> Input:
    return Input(in_circuit(load), pull_ohms, pull_volts, p.controller_series_ohms)


def in_circuit(ohms: float) -> float:
    """Return ohms to ground as the network takes them: no load at all from NO_LOAD_OHMS on."""
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
