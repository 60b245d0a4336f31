"""The three ways to live with a rest as cards: what to do, its effort, its cost, what remains.

The whole of each way, with all it rests on, stands in `bench/wording/remedies.py`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.model.finding import Reason
from analysis.pedal.remedies import Remedy
from bench.wording.face import WINDOW, capital, mv_of, volts_of
from bench.wording.reasons import in_words

KINDS = ("turn", "trim resistor", "dead band")
TITLES = {"turn": "Turn the potentiometer", "trim resistor": "Trim with a resistor",
          "dead band": "Leave it, with a dead band"}
EFFORTS = {
    "turn": "pedal unplugged from the car; loosen, turn, lock, sweep again",
    "trim resistor": "pedal unplugged from the car; measure the track, solder, sweep again",
    "dead band": "no tool: the values go into the controller",
}
RECOMMENDED = "Recommended"
NOT_OFFERED = "not offered"


@dataclass(frozen=True)
class Way:
    """Hold one way for one track. do, cost, remains: "" while it is closed; why: all of it."""

    track: str
    offered: bool
    do: str
    cost: str
    remains: str
    why: str


NEAR_RAIL = "so near to a rail that a controller takes it for a broken wire: choose another target"


def ways_of(column: str, remedies: Sequence[Remedy], kind: str) -> Way:
    """Return the way of that kind for a track, of all its remedies."""
    mine = [r for r in remedies if r.kind == kind]
    offered = [r for r in mine if math.isfinite(r.amount)]
    why = "; ".join(in_words(r.why, WINDOW) for r in mine) or NOT_OFFERED
    if not offered:
        return Way(column, False, "", "", "", capital(why))
    first = offered[0]
    lost = first.lost_travel_percent
    cost = f"{lost:.1f} % of travel" if math.isfinite(lost) else "not known"
    remains = _REMAINS[kind](first)
    if first.why.values.get("near_rail"):
        remains = f"{remains}; its rest is {NEAR_RAIL}"
    return Way(column, True, _DO[kind](offered), cost, remains, capital(why))


def _turn(offered: Sequence[Remedy]) -> str:
    remedy = offered[0]
    return f"about {remedy.amount:.1f}°, until it rests at {_rest(remedy)}"


def _trim(offered: Sequence[Remedy]) -> str:
    parts = [f"{r.amount:g} Ω {_where(r)}" for r in offered]
    joined = offered[0].why.values.get("if_joined")
    # Another resistor altogether: it may not hide among the details.
    other = (f"; only with leads of its own, measure that first: {in_words(joined, WINDOW)}"
             if isinstance(joined, Reason) else "")
    return f"{' and '.join(parts)}: rest {_rest(offered[0])}{other}"


def _leave(offered: Sequence[Remedy]) -> str:
    v = offered[0].why.values
    start = v.get("start_of_travel_volts")
    return (f"start of travel {volts_of(v, start)}" if isinstance(start, float) else
            "a start of its own")


def _where(remedy: Remedy) -> str:
    series = remedy.why.values.get("in_series")
    if series is not None:
        return "in series with the rheostat" if series else "across the rheostat"
    return f"in the {remedy.why.values.get('leg', '')} leg"


def _rest(remedy: Remedy) -> str:
    return volts_of(remedy.why.values, remedy.rest_volts)


def _full(remedy: Remedy) -> str:
    return volts_of(remedy.why.values, remedy.full_volts)


def _after_turn(remedy: Remedy) -> str:
    return (f"full travel {_full(remedy)}, the span as it was{_beside(remedy)}"
            f"{_moved(remedy, 'in one housing ')}")


def _after_trim(remedy: Remedy) -> str:
    left = remedy.why.values.get("left")
    share = f"{100 * left:.0f} % of the span, " if isinstance(left, float) else ""
    return f"{share}full travel {_full(remedy)}{_beside(remedy)}{_moved(remedy, '')}"


def _moved(remedy: Remedy, where: str) -> str:
    """Return where the other tracks go with it; "" where they stay."""
    told = [f"track {m.column} rests at {m.rest_volts:.3f} V" for m in remedy.others
            if math.isfinite(m.rest_volts)]
    return f"; {where}{' and '.join(told)} then" if told else ""


def _beside(remedy: Remedy) -> str:
    other, apart = (remedy.why.values.get(name) for name in ("beside", "apart_percent"))
    return (f"; {apart:.1f} % off track {other} at full travel" if isinstance(apart, float)
            else "")


def _as_it_is(remedy: Remedy) -> str:
    off = remedy.why.values.get("off_volts")
    target = remedy.why.values.get("target_volts")
    known = isinstance(off, float) and target is not None and abs(off) >= 0.0005
    apart = (f", {mv_of(remedy.why.values, off)} off its target"
             if known and isinstance(off, float) else "")
    return f"rest stays at {_rest(remedy)}{apart}"


_DO = {"turn": _turn, "trim resistor": _trim, "dead band": _leave}
_REMAINS = {"turn": _after_turn, "trim resistor": _after_trim, "dead band": _as_it_is}
