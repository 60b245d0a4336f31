"""Which end of travel is rest: a vote, a doubt when the votes do not settle it, what it leans on.

Taken the wrong way round, every level that follows would move a car by itself; so a doubt
withholds the settings, and a vote without prompts or lift-offs only assumes that the recording
starts and ends at rest. Method: docs/method.md, "Travel".
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array, Mark
from analysis.signal.smoothing import running_mean

# A pedal let go falls faster than a foot presses; by less than this it says nothing.
FASTER = 1.5
FAST_S = 0.05
# Moves that cover less of the travel in FAST_S were led by the foot both ways: a lift-off of 0.2 s
# covers a quarter (common practice, no source).
LEAST_FAST = 0.25
# How far from the middle the pedal lies on average where its prompts are followed; 0.5 is all the
# way, all the time.
LEAST_FOLLOWED = 0.25
# Votes in favour, less votes against, below which the matter is not settled.
SETTLED = 2.0
# Doubts of which end is rest; every other one is of the supply.
CONTRADICTED = "rest end contradicted"
OF_THE_REST = frozenset({"rest end not known", CONTRADICTED})


@dataclass(frozen=True)
class RestEnd:
    """Hold whether rest is at the low end, None or the doubt, and what speaks for it.

    prompted: the prompts say so. fell_faster: the quickest moves go that way, which tells a pedal
    let go only where some release was quick.
    """

    low: bool
    doubt: Reason | None
    prompted: bool
    fell_faster: bool


def rest_end(together: Array, times: Array, marks: tuple[Mark, ...],
             rows_per_point: int) -> RestEnd:
    """Return which end is rest.

    together: shape (m,), all tracks turned one way, 0 to 1; times: shape (m,), seconds.
    """
    step = max(float(times[-1] - times[0]) / max(times.size - 1, 1), 1e-6)
    near = max(1, int(0.5 / step))
    start = float(np.sign(0.5 - np.median(together[:near])))
    end = float(np.sign(0.5 - np.median(together[-near:])))
    dwell = float(np.mean(together < 0.25) - np.mean(together > 0.75))
    votes = start + end + (float(np.sign(dwell)) if abs(dwell) > 0.1 else 0.0)
    faster, marked = _faster_fall(together, step), _marked(together, marks, rows_per_point)
    votes += 2.0 * faster + 3.0 * marked
    low = votes > 0 or (votes == 0 and start >= 0)
    way = 1.0 if low else -1.0
    # What the person was told to do is never outvoted in silence.
    settled = abs(votes) >= SETTLED and marked * way >= 0
    return RestEnd(low, None if settled else Reason("rest end not known"),
                   marked == way, faster == way)


def _faster_fall(together: Array, step: float) -> float:
    """Return +1 when the quickest moves go down, -1 when they go up, 0 when alike."""
    wide = max(1, round(FAST_S / step))
    if together.size <= 2 * wide:
        return 0.0
    smooth = running_mean(together, 3)
    move = smooth[wide:] - smooth[:-wide]
    fall, rise = float(-move.min()), float(move.max())
    if max(fall, rise) < LEAST_FAST:
        return 0.0
    if fall > FASTER * rise:
        return 1.0
    return -1.0 if rise > FASTER * fall else 0.0


def _marked(together: Array, marks: tuple[Mark, ...], rows_per_point: int) -> float:
    """Return +1 when the prompts `rest` and `hold` say low, -1 high, 0 without any."""
    held, rows = 0.0, 0
    for k, mark in enumerate(marks):
        if mark.text not in ("rest", "hold"):
            continue
        stop = (marks[k + 1].row if k + 1 < len(marks) else together.size * rows_per_point)
        part = together[mark.row // rows_per_point: stop // rows_per_point]
        if part.size > 1:
            # The second half of a prompt: a person may be late.
            away = float(np.sum(part[part.size // 2:] - 0.5))
            held += away if mark.text == "hold" else -away
            rows += part.size - part.size // 2
    # Prompts that nobody followed say nothing: three in four of their rows must agree.
    return float(np.sign(held)) if abs(held) > LEAST_FOLLOWED * rows else 0.0
