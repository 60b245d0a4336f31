"""What is said of points as they are taken, and of those that do not belong, by code."""

from collections.abc import Mapping

from analysis.model.number_format import rounded_pair, small
from bench.wording.face import Face, Values, Words


def _steady(v: Values, face: Face) -> str:
    mean, _ = rounded_pair(v["mean"], v["uncertainty"])
    return (f"steady at {mean} {v['unit']} ± {small(v['uncertainty'], v['unit'])} (1 sigma, "
            f"{v['readings']} readings worth {v['worth']:.0f})")


def _exchanged(v: Values, face: Face) -> str:
    (first, second), (one, other) = v["points"], v["shown"]
    return (f"points {first} and {second} look swapped: the meter's {one:g} and {other:g} "
            f"{v['unit']} fit the other way round; take both again, or swap them")


def _seen(v: Values) -> str:
    said, doubt = rounded_pair(v["expected"], v["half_width"])
    percent = v["chance_percent"]
    chance = f"at most {percent:.1g} %" if percent >= 1e-4 else "below 0.0001 %"
    slip = f"; {v['slip']}: {v['meant']:g}?" if v["slip"] else ""
    return (f"the meter's {v['shown']:g} {v['unit']} is {said} ± {doubt} {v['unit']} by the other "
            f"points (by chance: {chance}){slip}")


WORDS: Mapping[str, str | Words] = {
    "steady": _steady,
    "jumps": lambda v, face: (
        f"jumps by {small(v['jump'], v['unit'], signed=True, digits=3)} within "
        f"{v['seconds']:.3g} s, more than the {small(v['limit'], v['unit'])} allowed; wait until "
        "it settles"),
    "drifts": lambda v, face: (
        f"drifts by {small(v['drift'], v['unit'], signed=True, digits=3)} in "
        f"{v['seconds']:.3g} s, more than the {small(v['limit'], v['unit'])} allowed; wait until "
        "it settles, or take a longer window"),
    "points look exchanged": _exchanged,
    "point alone at its end does not fit": lambda v, face: (
        f"point {v['point']}, alone at its end, does not fit the others: {_seen(v)}; it is wrong, "
        "or the sender bends or sticks just there: take it again, and one more near it"),
    "point does not belong": lambda v, face: (
        f"point {v['point']} does not belong: {_seen(v)}; take it again or leave it out"),
}
