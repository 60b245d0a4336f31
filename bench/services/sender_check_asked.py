"""Points that a person is asked about before they count, and those that he leaves out."""

from collections.abc import Sequence

import numpy as np

from analysis.model.finding import Reason
from analysis.senders import Diagnosis, Sender
from analysis.senders.calibration import Outlier, Points, without
from bench.errors import BadCall

WRONG_POINT = "wrong point"


def counted(points: Points, left_out: Sequence[int], confirmed: Sequence[int],
            notes: list[Reason]) -> Points:
    """Return the points without those that the person leaves out; raise BadCall on a number."""
    for name, given in (("--leave-out", left_out), ("--keep-point", confirmed)):
        for number in given:
            if not 1 <= number <= points.count:
                raise BadCall(f"{name} {number}: there are points 1 to {points.count}")
    if not left_out:
        return points
    if points.count - len(set(left_out)) < 2:
        raise BadCall(f"--leave-out leaves fewer than 2 of {points.count} points; keep more")
    notes.append(Reason("points left out as told", {
        "points": tuple((k, float(points.meter[k - 1])) for k in sorted(set(left_out)))}))
    return without(points, [k - 1 for k in left_out])


def numbers_of(points: Points, left_out: Sequence[int], sender: Sender) -> list[int]:
    """Return what the person calls the points that count, from 1, in order."""
    usable = np.isfinite(sender.shown(points.volts))
    return [k for k in range(1, points.count + 1) if k not in left_out and usable[k - 1]]


def doubted(found: Sequence[Outlier], numbers: Sequence[int],
            confirmed: Sequence[int]) -> tuple[int, ...]:
    """Return the numbers of the points that `asked` asks about."""
    return tuple(numbers[k] for s in found for k in s.places
                 if not {numbers[k] for k in s.places} <= set(confirmed))


def asked(found: Sequence[Outlier], numbers: Sequence[int], unit: str,
          confirmed: Sequence[int]) -> tuple[Diagnosis, ...]:
    """Return what to ask about points that do not belong; not again of confirmed ones.

    numbers: what the person calls the points. unit: of the quantity.
    """
    return tuple(Diagnosis(WRONG_POINT, s.reason([numbers[k] for k in s.places], unit),
                           s.expected[0]) for s in found
                 if not {numbers[k] for k in s.places} <= set(confirmed))
