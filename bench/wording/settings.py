"""The recommended values in words: why each lies where it does, or why there is none."""

import math
from collections.abc import Sequence
from dataclasses import replace

from analysis.model.finding import OHMS_PER_VOLT, Reason
from analysis.pedal.settings import Setting
from bench.wording.dead_band import CONDITION, HEADS, LAWS, part
from bench.wording.face import Face, Values, Words, mv, mv_of, volts
from bench.wording.limb import worked
from bench.wording.reasons import in_words

# A shorter reason than this is not worth a reference.
_WORTH_ONCE = 30


def name_of(setting: Setting) -> str:
    """Return the name a person reads where the track stands elsewhere: "start of travel"."""
    return setting.name.replace("_", " ")


def label(setting: Setting) -> str:
    """Return the name a person reads, for instance "start of travel, a"."""
    words = name_of(setting)
    return f"{words}, {setting.channel}" if setting.channel else words


def _median(v: Values, face: Face) -> str:
    count = v["returns"]
    why = f"the median of {count} {'return' if count == 1 else 'returns'} to rest"
    if math.isfinite(v["uncertainty_volts"]):
        why += f", known to {mv_of(v, 2 * v['uncertainty_volts'], 1)} either way (95 %)"
    return why


def _start(v: Values, face: Face) -> str:
    promise = "" if v["weak"] else (
        f"the promise is that of {v['promise_of']}; " if v.get("promise_of") else
        f"{CONDITION}, the chance that any of {v['key_ons']} later key-ons reads more is at most "
        f"{100 * v['risk']:.3g} % with {LAWS[v['law']]}, while no unseen catch or creep comes; ")
    return (f"{_not_proven(v, face)}rest and {mv(v, 'lift_volts', 1)} that may lift it, of "
            f"which {', '.join(map(part, v['parts']))}; {promise}"
            f"{v['lost_travel_percent']:.2f} % of travel is lost")


def _release(v: Values, face: Face) -> str:
    ends = ("" if v["weak"] else
            f"; every rest level lies {'below' if v['rises'] else 'above'} it, noise left out, so "
            f"{worked(v).power} ends")
    return (f"{_not_proven(v, face)}{mv(v, 'volts', 1)} before start of travel, so that "
            f"noise does not switch {worked(v).power} on and off{ends}")


def _not_proven(v: Values, face: Face) -> str:
    return f"NOT PROVEN: {in_words(v['weak'], face)}; " if v["weak"] else ""


def _few_presses(v: Values, face: Face) -> str:
    count = v["presses"]
    of = worked(v)
    seen = (f"no held full {of.press} was" if count == 0 else
            f"only one held full {of.press} was" if count == 1 else
            f"only {count} held full {of.presses} were")
    return f"{seen} seen; {worked(v).press_right} and hold for a second at least 3 times, better 10"


def _full(v: Values, face: Face) -> str:
    return (f"{100 * v['coverage']:g} % of {worked(v).presses} reach it with "
            f"{100 * v['confidence']:g} % "
            f"confidence {HEADS[v['law']]}: {v['presses']} full {worked(v).presses} scatter by "
            f"{mv(v, 'scatter_volts', 1)}, and noise, converter and supply may take "
            f"{mv(v, 'errors_volts', 1)}")


def _rail(v: Values, name: str = "rail_volts") -> str:
    """Return the end of what can be read; of a rheostat's ohms it stands for an open lead."""
    return f"{v[name]:g} V" if OHMS_PER_VOLT not in v else volts(v, name)


def _broken(v: Values) -> str:
    """Return what reads that end; only a short reads 0 ohm, only an open lead ohms without end."""
    if OHMS_PER_VOLT not in v:
        return "a broken wire or a short"
    return "a broken wire" if v["rail_volts"] else "a short"


def _outside(v: Values, face: Face) -> str:
    within = "0 V to the supply of" if OHMS_PER_VOLT not in v else "0 to"
    return (f"it would be {volts(v, 'volts')}, outside {within} "
            f"{_rail(v, 'supply_volts')}, where no sound reading can be: check the input's range, "
            f"its scale and what the car adds, and measure again ({in_words(v['why'], face)})")


def _near_rail(v: Values, face: Face) -> str:
    return (f"a sound pedal may read {volts(v, 'furthest_volts')}, too near to the "
            f"{_rail(v)} of {_broken(v)} (twice "
            f"{mv(v, 'gap_volts')} are needed between them); move the track away from that "
            "end or rely on the other track")


def _mismatch(v: Values, face: Face) -> str:
    rule = (f"the Formula SAE rules T.4.2 allow {v['rule_percent']:g} % for at most "
            f"{1000 * v['rule_s']:g} ms")
    ground = f"the tracks differ by at most {v['seen_percent']:.1f} % of travel as measured, " + (
        f"{v['need_percent']:.1f} % with twice its standard uncertainty"
        if math.isfinite(v["uncertainty_percent"]) else "its uncertainty unknown")
    if v["need_percent"] <= v["limit_percent"]:
        return (f"{ground}, which leaves {v['limit_percent'] - v['need_percent']:.1f} % to the "
                f"limit asked for; {rule}")
    return (f"{ground}, more than the {v['limit_percent']:g} % asked for: repair the pair before "
            f"driving rather than widen the limit; {rule}")


def _mismatch_time(v: Values, face: Face) -> str:
    allowed = ("as the Formula SAE rules T.4.2 ask" if v["seconds"] == v["rule_s"] else
               f"asked for; the Formula SAE rules T.4.2 allow at most {1000 * v['rule_s']:g} ms")
    return f"power must stop when the mismatch lasts {1000 * v['seconds']:g} ms, {allowed}"


def reasons_once(settings: Sequence[Setting], face: Face) -> tuple[str, ...]:
    """Return the reason of each setting for one sheet; what rows share is told at the first.

    A later row says which row has it: why a value is not proven, what is promised, or all of it.
    """
    told: dict[str, str] = {}
    result = []
    for setting in settings:
        why = setting.why
        if isinstance(why, Reason):
            why = replace(why, values=_shared_told(why.values, label(setting), told, face))
        said = in_words(why, face)
        first = told.setdefault(said, label(setting))
        result.append(said if first == label(setting) or len(said) < _WORTH_ONCE else
                      f"as {first}")
    return tuple(result)


def _shared_told(v: Values, label: str, told: dict[str, str], face: Face) -> Values:
    """Return the values with what an earlier row told of them replaced by that row's name."""
    if v.get("weak"):
        first = told.setdefault(in_words(v["weak"], face), label)
        return v if first == label else {**v, "weak": Reason("as told", {"words": f"as {first}"})}
    if "law" in v and "risk" in v:
        first = told.setdefault(f"{v['law']} {v['risk']} {v['key_ons']}", label)
        return v if first == label else {**v, "promise_of": first}
    return v


WORDS: dict[str, Words] = {
    "entered": lambda v, face: "entered by you",
    "median of returns": _median,
    "rest and its lift": _start,
    "hysteresis": _release,
    "no data for a dead band": lambda v, face: "the data do not suffice for a dead band",
    "no data for fault limits": lambda v, face: (
        "the data do not suffice to know how far a sound pedal reads"),
    "few full presses": _few_presses,
    "short of the stop": lambda v, face: (
        f"the held {worked(v).presses} ended between {volts(v, 'lowest_volts')} and "
        f"{volts(v, 'highest_volts')}, and a stop is met alike each time: they did not all reach "
        "it, and full travel is no more than what was reached; "
        f"{worked(v).press_right} to the stop and "
        "sweep again"),
    "too little rest": lambda v, face: (
        "too little rest was seen to know the noise; leave the pedal alone longer"),
    "presses scatter": lambda v, face: (
        f"full {worked(v).presses} scatter so much ({mv(v, 'scatter_volts')}) that the level all "
        "of "
        f"them reach lies within the dead band; {worked(v).press_right} each time and sweep again"),
    "full presses": _full,
    "outside the supply": _outside,
    "clipped at the rail": lambda v, face: (
        "the track is clipped at the end of the input's range, so a broken wire at "
        f"{_rail(v)} looks like a sound pedal; scale the input so that the whole travel "
        "is seen"),
    "too near the rail": _near_rail,
    "half way to the rail": lambda v, face: (
        f"half way between {volts(v, 'furthest_volts')}, the furthest a sound pedal reads, and the "
        f"{_rail(v)} of {_broken(v)}: {mv(v, 'room_volts')} from "
        "both"),
    "mismatch not measured": lambda v, face: (
        "the mismatch of the tracks could not be measured; sweep the whole travel slowly, both "
        "ways"),
    "mismatch limit": _mismatch,
    "mismatch time": _mismatch_time,
}
