"""Solve a network of resistors between fixed voltages: modified nodal analysis, dense.

Every node that is not fixed has Kirchhoff's current law as its row, every resistor Ohm's law as its
own, in the form that is exact for it: `one - other - R i = 0`. So 0 ohm is a plain wire and needs
no small stand-in (Ho, Ruehli, Brennan 1975, "The modified nodal approach to network analysis").
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array

GROUND = "0"


@dataclass(frozen=True)
class Resistor:
    """Hold a resistor between two nodes: ohms from 0 (a wire) to inf (left open), shape (...)."""

    one: str
    other: str
    ohms: Array | float


def node_volts(
    resistors: Sequence[Resistor], fixed: Mapping[str, Array | float]
) -> dict[str, Array]:
    """Return the volts of every node, each of the common shape of all ohms and fixed volts.

    fixed: nodes held at a voltage, such as a supply; `GROUND` is 0 V. A node that no resistor
    joins to a fixed one is NaN. Raises BadParameter on ohms below 0 or NaN, and where fixed nodes
    are joined by wires alone.
    """
    for resistor in resistors:
        if not np.all(np.asarray(resistor.ohms) >= 0):
            raise BadParameter(
                "resistance below 0", one=resistor.one, other=resistor.other, ohms=resistor.ohms)
    held: dict[str, Array | float] = {GROUND: 0.0, **fixed}
    shape = np.broadcast_shapes(
        *(np.shape(r.ohms) for r in resistors), *(np.shape(v) for v in held.values())
    )
    ohms = [np.broadcast_to(np.asarray(r.ohms, dtype=float), shape).reshape(-1) for r in resistors]
    wires = [bool(np.all(each == 0.0)) for each in ohms]
    open_ends = [bool(np.all(np.isinf(each))) for each in ohms]
    joined = _joined(resistors, wires, held)
    branches = [
        (joined[r.one], joined[r.other], each)
        for r, each, wire, left in zip(resistors, ohms, wires, open_ends, strict=True)
        if not wire and not left and joined[r.one] != joined[r.other]
    ]
    volts = {
        joined[n]: np.broadcast_to(np.asarray(v, dtype=float), shape).reshape(-1)
        for n, v in held.items()
    }
    reached = _reached(branches, set(volts))
    nodes = sorted(reached - set(volts))
    used = [b for b in branches if b[0] in reached]
    solved = _solve(used, volts, nodes, int(np.prod(shape, dtype=int)))
    nowhere = np.full(int(np.prod(shape, dtype=int)), np.nan)
    return {
        name: ({**volts, **solved}.get(to, nowhere)).reshape(shape) for name, to in joined.items()
    }


def _joined(
    resistors: Sequence[Resistor], wires: Sequence[bool], held: Mapping[str, Array | float]
) -> dict[str, str]:
    """Return each node's name after what plain wires join has become one; held names stay."""
    joined = {n: n for r in resistors for n in (r.one, r.other)} | {n: n for n in held}
    for resistor, wire in zip(resistors, wires, strict=True):
        one, other = joined[resistor.one], joined[resistor.other]
        if not wire or one == other:
            continue
        if one in held and other in held:
            raise BadParameter("joined by wires alone", one=one, other=other)
        kept, gone = (one, other) if one in held else (other, one)
        joined = {n: kept if to == gone else to for n, to in joined.items()}
    return joined


def _reached(branches: Sequence[tuple[str, str, Array]], start: set[str]) -> set[str]:
    reached, grown = set(start), True
    while grown:
        grown = False
        for one, other, _ in branches:
            if (one in reached) != (other in reached):
                reached |= {one, other}
                grown = True
    return reached


def _solve(
    branches: Sequence[tuple[str, str, Array]],
    volts: Mapping[str, Array],
    nodes: Sequence[str],
    count: int,
) -> dict[str, Array]:
    """Return the free nodes' volts, shape (count,) each."""
    if not nodes:
        return {}
    size = len(nodes) + len(branches)
    row = {name: k for k, name in enumerate(nodes)}
    left, right = np.zeros((count, size, size)), np.zeros((count, size))
    for k, (one, other, ohms) in enumerate(branches, len(nodes)):
        # Ohm's law over 1 + R, so that neither a wire nor an open end makes a row of zeros.
        open_end = np.isinf(ohms)
        share = 1.0 / (1.0 + np.where(open_end, 0.0, ohms))
        share[open_end] = 0.0
        left[:, k, k] = share - 1.0
        for name, sign in ((one, 1.0), (other, -1.0)):
            if name in row:
                left[:, k, row[name]] += sign * share
                left[:, row[name], k] += sign
            else:
                right[:, k] -= sign * share * volts[name]
    try:
        found = np.asarray(np.linalg.solve(left, right[..., None])[..., 0], dtype=np.float64)
    except np.linalg.LinAlgError:
        raise BadParameter("node held by nothing") from None
    return {name: found[:, k] for name, k in row.items()}
