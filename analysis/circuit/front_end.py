"""What a board's or a controller's input reads of a pedal: tracks, leads and inputs as they are.

One supply feeds all tracks; each has a resistor in its supply and ground leg (0 ohm without one),
or all share both legs. The wiper's lead goes to one or more inputs:

    supply - lead - leg - track - leg - lead - 0 V
                            |
                          wiper - lead -+- pull to its own volts
                                        +- series - pin - ohms to ground
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.circuit.network import GROUND, Resistor, node_volts
from analysis.model.recording import Array

SUPPLY = "supply"
OPEN = float("inf")


@dataclass(frozen=True)
class Input:
    """Hold one reading input; ohms from 0 to inf, shape (...).

    to_ground_ohms: at the pin, behind series_ohms. pull_ohms: from the terminal to pull_volts
    (0 V: a pull-down), inf without one.
    """

    to_ground_ohms: Array | float = OPEN
    pull_ohms: Array | float = OPEN
    pull_volts: Array | float = 5.0
    series_ohms: Array | float = 0.0


@dataclass(frozen=True)
class Track:
    """Hold one track; ohms of shape (...).

    ohms: end to end. wiper: share of the element between its ground end and the wiper, 0 to 1,
    shape (...). inputs: those that read it. supply_leg_ohms, ground_leg_ohms: trim resistors.
    """

    ohms: Array | float
    wiper: Array | float
    inputs: tuple[Input, ...] = (Input(),)
    supply_leg_ohms: Array | float = 0.0
    ground_leg_ohms: Array | float = 0.0


@dataclass(frozen=True)
class Source:
    """Hold a sensor that drives its output, such as a Hall sensor; shape (...).

    wiper: its output without load, as a share of the supply. output_ohms: of that output.
    """

    output_ohms: Array | float
    wiper: Array | float
    inputs: tuple[Input, ...] = (Input(),)


@dataclass(frozen=True)
class FrontEnd:
    """Hold a pedal with all that reads it.

    lead_ohms: of each lead, both ends' contacts counted. shared: all tracks hang on one supply lead
    and one ground lead, each with one leg resistor, the first track's; else each has its own.
    """

    tracks: tuple[Track | Source, ...]
    supply_volts: Array | float = 5.0
    lead_ohms: Array | float = 0.0
    shared: bool = False


def readings(front_end: FrontEnd) -> list[list[Array]]:
    """Return the volts at every input's pin: by track, by input of that track, shape (...)."""
    parts: list[Resistor] = []
    fixed: dict[str, Array | float] = {SUPPLY: front_end.supply_volts}
    for number, track in enumerate(front_end.tracks):
        terminal = f"terminal {number}"
        if isinstance(track, Source):
            output = f"output {number}"
            fixed[output] = np.asarray(track.wiper) * np.asarray(front_end.supply_volts)
            parts.append(Resistor(output, terminal, _sum(front_end.lead_ohms, track.output_ohms)))
        else:
            parts += _element(front_end, number, track, terminal)
        for k, each in enumerate(track.inputs):
            pull, pin = f"pull {number} {k}", f"pin {number} {k}"
            fixed[pull] = each.pull_volts
            parts += [
                Resistor(terminal, pull, each.pull_ohms),
                Resistor(terminal, pin, each.series_ohms),
                Resistor(pin, GROUND, each.to_ground_ohms),
            ]
    volts = node_volts(parts, fixed)
    return [
        [volts[f"pin {n} {k}"] for k in range(len(track.inputs))]
        for n, track in enumerate(front_end.tracks)
    ]


def _element(front_end: FrontEnd, number: int, track: Track, terminal: str) -> list[Resistor]:
    """Return the resistors of one track, with its legs and leads unless it shares another's."""
    leg = 0 if front_end.shared else number
    top, bottom, wiper = f"top {leg}", f"bottom {leg}", f"wiper {number}"
    share = np.asarray(track.wiper, dtype=float)
    parts = [
        Resistor(top, wiper, np.asarray(track.ohms) * (1.0 - share)),
        Resistor(wiper, bottom, np.asarray(track.ohms) * share),
        Resistor(wiper, terminal, front_end.lead_ohms),
    ]
    if leg == number:
        parts += [
            Resistor(SUPPLY, top, _sum(front_end.lead_ohms, track.supply_leg_ohms)),
            Resistor(bottom, GROUND, _sum(front_end.lead_ohms, track.ground_leg_ohms)),
        ]
    return parts


@dataclass(frozen=True)
class Wipers:
    """Hold where the wipers stand: shares of their elements; off: the largest volts left over."""

    shares: tuple[Array, ...]
    off_volts: float = field(default=0.0)


def wipers_behind(front_end: FrontEnd, read: Sequence[Array | float], rounds: int = 200) -> Wipers:
    """Return where the wipers must stand for the first input of each track to read so much.

    read: volts at those pins, by track. Newton's method, the derivative taken along each track's
    own wiper: loads bend a track, they never turn it round. Shares are held within 0 to 1, so a
    reading that no wiper gives leaves `off_volts`.
    """
    supply = np.asarray(front_end.supply_volts, dtype=float)
    wanted = [np.asarray(r, dtype=float) for r in read]
    shares = [np.clip(w / supply, 0.0, 1.0) for w in wanted]
    off = 0.0
    for _ in range(rounds):
        now = _first(front_end, shares)
        errors = [w - n for w, n in zip(wanted, now, strict=True)]
        off = max(float(np.nanmax(np.abs(e))) for e in errors)
        if off < 1e-12 * float(np.max(supply)):
            break
        small = 1e-4
        forth = [np.where(s > 0.5, s - small, s + small) for s in shares]
        moved = [
            _first(front_end, [forth[k] if k == n else s for k, s in enumerate(shares)])[n]
            for n in range(len(shares))
        ]
        slopes = [(m - n) / (f - s) for m, n, f, s in zip(moved, now, forth, shares, strict=True)]
        nearer = [
            np.clip(s + e / d, 0.0, 1.0) for s, e, d in zip(shares, errors, slopes, strict=True)
        ]
        if all(
            np.allclose(a, b, rtol=0.0, atol=1e-14) for a, b in zip(nearer, shares, strict=True)
        ):
            break
        shares = nearer
    return Wipers(tuple(shares), off)


def _first(front_end: FrontEnd, shares: Sequence[Array]) -> list[Array]:
    placed = tuple(replace(t, wiper=s) for t, s in zip(front_end.tracks, shares, strict=True))
    return [each[0] for each in readings(replace(front_end, tracks=placed))]


def _sum(one: Array | float, other: Array | float) -> Array:
    both: Array = np.asarray(one, dtype=float) + np.asarray(other, dtype=float)
    return both
