"""Random pedals, harnesses and controllers: does the value issued keep its promise *there*?

    python tests/studies/controller_promise.py [--worlds 200] [--key-ons 100] [--seed 1]

Truth is made here: every world is solved by node conductances of its own, and no code of the
analysis has a part in it. The bench reads the returns through the board; the controller later reads
the returns of the asked key-ons through its own input, leads and pull, which lie within what the
parameters state. Sensors follow their supply or keep their volts, controllers measure by the
pedal's supply or in volts, and car's supply, board's reference and pull lie within 2 %. Held: at
most 5 % of the worlds have a key-on that reads past start of travel.
"""

import argparse
from dataclasses import replace

import numpy as np
from dead_band_promise import SUPPLY, findings_from_levels, make_pedal

from analysis.model.estimate import Estimate
from analysis.parameters import Parameters
from analysis.pedal.at_controller import at_controller, reaches
from analysis.pedal.dead_band import dead_band, supply_error
from analysis.pedal.tracks import TrackFindings

# A wire is 10 microohm here: it drops less than ROUNDING_V, and so does what it leaves to rounding.
WIRE_S, ROUNDING_V = 1e5, 1e-6


def siemens(ohms):
    """Return a conductance; a wire is finite here."""
    return WIRE_S if ohms <= 0 else 1.0 / ohms


def terminal_volts(shares, track_ohms, controller, leads, joined):
    """Return the volts at each track's pin, solved by node conductances.

    Nodes: a top and a bottom for each track (the first's where joined), its wiper, its terminal.
    """
    count = len(shares)
    size = 4 * count
    matrix, right = np.zeros((size, size)), np.zeros(size)

    def join(one, other, conductance, volts=0.0):
        if other is None:
            matrix[one, one] += conductance
            right[one] += conductance * volts
            return
        matrix[[one, other], [one, other]] += conductance
        matrix[[one, other], [other, one]] -= conductance

    load, pull, pull_volts, series, board = controller
    for n, share in enumerate(shares):
        leg = 0 if joined else n
        top, bottom, wiper, terminal = 4 * leg, 4 * leg + 1, 4 * n + 2, 4 * n + 3
        if leg == n:
            join(top, None, siemens(leads), SUPPLY)
            join(bottom, None, siemens(leads))
        else:
            join(4 * n, top, WIRE_S)
            join(4 * n + 1, bottom, WIRE_S)
        join(top, wiper, siemens(track_ohms * (1.0 - share)))
        join(wiper, bottom, siemens(track_ohms * share))
        join(wiper, terminal, siemens(leads))
        join(terminal, None, 1.0 / pull, pull_volts)
        join(terminal, None, 1.0 / board)
        join(terminal, None, 1.0 / (series + load))
    found = np.linalg.solve(matrix, right)
    return [found[4 * n + 3] * load / (series + load) for n in range(count)]


def driven_volts(shares, output_ohms, controller, leads):
    """Return the volts at the pin of each sensor that drives its output: Millman's theorem."""
    load, pull, pull_volts, series, board = controller
    ohms = output_ohms + leads
    read = []
    for share in shares:
        if ohms == 0:
            terminal = SUPPLY * share
        else:
            terminal = (SUPPLY * share / ohms + pull_volts / pull) / (
                1 / ohms + 1 / pull + 1 / board + 1 / (series + load))
        read.append(terminal * load / (series + load))
    return read


def read_there(shares, parameters, truth):
    """Return the volts at each pin of the true controller."""
    ohms, controller, leads, joined = truth
    if parameters.pedal_kind.startswith("hall"):
        return driven_volts(shares, ohms, controller, leads)
    return terminal_volts(shares, ohms, controller, leads, joined)


def read_in_car(shares, parameters, truth, car):
    """Return what the controller takes the pins for, in volts at nominal supply.

    car: its supply, the bench's error of the board's reference, volts of a pull, all over nominal.
    A sensor that keeps its volts gives those whatever the supply; all else follows the supply.
    """
    ohms, (load, pull, volts, series, board), leads, joined = truth
    supply, reference, pulls = car
    fixed = parameters.pedal_kind == "hall-fixed"
    # All volts over the car's supply, as SUPPLY is nominal in the solvers above.
    there = [s * reference / supply if fixed else s for s in shares]
    along = volts if volts == SUPPLY and pulls is None else volts * (pulls or supply) / supply
    read = read_there(there, parameters, (ohms, (load, pull, along, series, board), leads, joined))
    return read if parameters.ratiometric_controller else [supply * v for v in read]


def car_for(dice, parameters):
    """Return a car's supply, a board's reference and a pull's volts, within 2 %, often at an end.

    The pull is None where it leads to the very supply that feeds the pedal: a controller that
    measures by that supply has its pull to nominal volts there.
    """
    share = lambda: 1.0 + 0.02 * float(  # noqa: E731
        dice.choice([-1.0, 1.0, dice.uniform(-1, 1)]))
    own = parameters.controller_pull_volts != SUPPLY or (
        not parameters.ratiometric_controller and dice.random() < 0.5)
    return share(), share(), share() if own else None


def world(dice):
    """Return what is stated of a controller, and one that is so: (parameters, truth)."""
    pull = str(dice.choice(["assumed", "none", "up", "down", "unknown"]))
    least = float(np.exp(dice.uniform(np.log(15e3), np.log(300e3))))
    measured = bool(dice.random() < 0.3)
    pull_ohms = float(np.exp(dice.uniform(np.log(10e3), np.log(200e3))))
    lead = float(dice.choice([0.0, 5.0]))
    kind = str(dice.choice(["potentiometer", "potentiometer", "hall", "hall-fixed"]))
    output = float(dice.choice([10.0, 100.0, 1000.0]))
    board = float(dice.choice([0.0, 430e3, 880e3]))
    parameters = Parameters(
        car_board_ohms=board,
        pedal_kind=kind, sensor_output_ohms=output,
        ratiometric_controller=bool(dice.random() < 0.6), supply_tolerance=0.02,
        track_ohms=float(dice.choice([1e3, 5e3, 10e3])),
        controller_pull=pull,
        controller_pull_ohms=pull_ohms,
        controller_pull_volts=float(dice.choice([3.3, 5.0])),
        controller_input_ohms=least,
        controller_input_measured=measured,
        controller_series_ohms=float(dice.choice([0.0, 1000.0])) if measured else 0.0,
        lead_ohms=lead,
        pedal_leads=str(dice.choice(["unknown", "own", "joined"])),
        car_allowance_volts=0.0,
        converter_error_steps=0.0,
        track_ppm_per_kelvin=0.0,
    )
    end = lambda: float(dice.choice([-1.0, 1.0, dice.uniform(-1, 1)]))  # noqa: E731
    near = lambda: 1.0 + 0.05 * end()  # noqa: E731
    really = pull if pull != "unknown" else str(dice.choice(["none", "up", "down"]))
    ohms = (
        np.inf
        if really in ("assumed", "none")
        else pull_ohms * near()
        if pull != "unknown"
        else pull_ohms * float(dice.choice([1.0, 3.0]))
    )
    volts = parameters.controller_pull_volts if really == "up" else 0.0
    load = least * near() if measured else least * float(dice.choice([1.0, 2.0, 100.0]))
    joined = (
        parameters.pedal_leads == "joined"
        if parameters.pedal_leads != "unknown"
        else bool(dice.random() < 0.5)
    )
    track = (output * dice.random() if kind.startswith("hall") else
             parameters.track_ohms * (1.0 + 0.2 * end()))
    return parameters, (
        track,
        # The board that logs in the car hangs there, or was taken off again.
        (load, ohms, volts, parameters.controller_series_ohms,
         board if board and dice.random() < 0.5 else np.inf),
        lead * float(dice.choice([0.0, 1.0, dice.random()])),
        joined,
    )


def tracks_of(dice) -> tuple[list, dict[str, TrackFindings]]:
    """Return one or two pedals' truth and what the bench found of their tracks."""
    pedals = []
    for _ in range(int(dice.integers(1, 3))):
        made = make_pedal(dice, "normal")
        pedals.append(replace(made, drift=0.0))
    if len(pedals) > 1 and pedals[0].sign != pedals[1].sign and dice.random() < 0.5:
        pedals[1] = replace(pedals[1], rest=SUPPLY - pedals[0].rest, span=pedals[0].span)
    found = {}
    for name, pedal in zip("ab", pedals, strict=False):
        track = findings_from_levels(pedal, dice, 20)
        full = pedal.rest + pedal.sign * pedal.span
        found[name] = replace(track, column=name, full=Estimate(full, 0.001))
    return pedals, found


def kept(dice, key_ons):
    """Return for one world whether every later key-on of every track stayed at rest, and the cost.

    cost: the largest line of the input, volts.
    """
    pedals, tracks = tracks_of(dice)
    parameters, truth = world(dice)
    there, reach = at_controller(tracks, parameters), reaches(tracks, parameters)
    bands = {n: dead_band(t, parameters, None, reach[n]) for n, t in there.items()}
    held, car = True, car_for(dice, parameters)
    for _ in range(key_ons):
        rests = [p.rest + p.sign * p.scatter * dice.standard_normal() for p in pedals]
        shares = [min(max(v / SUPPLY, 0.0), 1.0) for v in rests]
        read = read_in_car(shares, parameters, truth, car)
        for pedal, volts, band in zip(pedals, read, bands.values(), strict=True):
            held &= bool(pedal.sign * (band.start_of_travel_volts - volts) > 0)
    return held, max(float(np.max(r.towards)) for r in reach.values())


def furthest_beyond(worlds, seed):
    """Return how far any controller reads a rest past what is stated for it, volts; below 0: never.

    Without scatter or noise, so that nothing hides a wrong line of the input.
    """
    dice, worst = np.random.default_rng(seed), -np.inf
    for _ in range(worlds):
        pedals, tracks = tracks_of(dice)
        parameters, truth = world(dice)
        there, reach = at_controller(tracks, parameters), reaches(tracks, parameters)
        read = read_in_car([t.rest.value / SUPPLY for t in tracks.values()], parameters, truth,
                           car_for(dice, parameters))
        for pedal, volts, name in zip(pedals, read, tracks, strict=True):
            track = there[name]
            allowed = reach[name].adds(0.0) + supply_error(track, parameters, track.rest.value)[0]
            worst = max(worst, pedal.sign * (volts - track.rest.value) - allowed)
    return float(worst)


def share_kept(worlds, key_ons, seed):
    """Return the share of worlds whose promise was kept."""
    dice = np.random.default_rng(seed)
    return float(np.mean([kept(dice, key_ons)[0] for _ in range(worlds)]))


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--worlds", type=int, default=200)
    asked.add_argument("--key-ons", type=int, default=100)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    share = share_kept(given.worlds, given.key_ons, given.seed)
    told = "held" if share >= 0.95 else "BROKEN"
    print(
        f"{given.worlds} worlds, {given.key_ons} key-ons each: promise kept at the controller in "
        f"{100 * share:.1f} %: {told}"
    )
    beyond = furthest_beyond(given.worlds, given.seed)
    print(
        f"furthest past the line of the input, without scatter: {1000 * beyond:.4f} mV: "
        f"{'held' if beyond <= ROUNDING_V else 'BROKEN'}"
    )
    raise SystemExit(told != "held" or beyond > ROUNDING_V)


if __name__ == "__main__":
    main()
