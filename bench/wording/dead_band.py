"""The budget of a dead band in words: each line's reason, what it promises, what withdraws it."""

import math
from typing import Any

from analysis.model.finding import OHMS_PER_VOLT, Reason
from analysis.model.safe_rounding import safely_rounded
from analysis.pedal.dead_band import DeadBand
from analysis.pedal.findings import Findings
from analysis.pedal.returns import MORE_LIFT_OFFS, TELLS_APART
from bench.wording.face import Face, Values, Words, mv, mv_of, volts
from bench.wording.limb import Limb, limb_of, worked
from bench.wording.reasons import in_words

# What later returns are taken to follow.
LAWS = {
    "even": "normal scatter",
    "stick": "normal, Student 5, gamma 2 or exponential scatter",
    "wide": "these, Student 3, lognormal or Weibull 0.7 scatter",
}
HEADS = {"even": "if returns scatter evenly", "stick": "if the pedal may stick",
         "wide": "if it may stray wildly"}
# No chance is stated without it: the largest part of a dead band is often an assumption.
CONDITION = "with these readings and assumptions"


def conditions(v: Values, face: Face) -> str:
    """Return what the promise of a dead band rests on and what it does not cover.

    v: of `promise_values`.
    """
    seen = "; ".join(in_words(each, face) for each in v["not_covered"])
    return f"It takes returns to follow {LAWS[v['law']]}. Not covered: {seen}."


def two_numbers(v: Values) -> tuple[str, ...]:
    """Return the start of travel under each law, with its price, the one chosen named; or ()."""
    cases: tuple[Reason, ...] = v["cases"]
    return tuple(
        f"{HEADS[c.code]}: {_safe(v, c.values['start_of_travel_volts'])}, "
        f"{c.values['lost_travel_percent']:.1f} % of travel"
        + (" (this one is stated)" if c.code == v["law"] else "")
        for c in cases if c.code != "wide" or v["law"] == "wide")


def more_would_pay(v: Values, face: Face, of: Limb | None = None) -> str:
    """Return what more lift-offs would save, one sentence after a space, or "".

    of: what works the pedal, where v does not say.
    """
    if not v["more_lift_offs"]:
        return ""
    return (f" {v['more_lift_offs']} more {(of or worked(v)).lift_off}s, {v['more_seconds']:.0f} "
            "s: the "
            "dead band "
            f"falls from {v['lost_travel_percent']:.1f} to about "
            f"{v['more_lost_travel_percent']:.1f} % of travel{face.of(' (sweep --add-to)', '')}.")


def added_words(findings: Findings, name: str) -> str:
    """Return what to add lift-offs to, and what they would save where that is known."""
    bands = [b for b in findings.dead_bands.values() if b.more_lift_offs]
    of = limb_of(findings.recording.pedal.use)
    text = f"Only add {MORE_LIFT_OFFS} quick {of.lift_off}s to {name}"
    if not bands:
        return text
    best = max(bands, key=lambda b: b.lost_travel_percent - b.more_lost_travel_percent)
    return (f"{text} ({best.more_seconds:.0f} s): the dead band falls from "
            f"{best.lost_travel_percent:.1f} to about {best.more_lost_travel_percent:.1f} % of "
            "travel")


def _safe(v: Values, start: Any) -> str:
    """Return a start of travel rounded away from rest, of a rheostat in whole ohms."""
    return start_words(v["rest_volts"], start, v.get(OHMS_PER_VOLT))


def safe_start(band: DeadBand, start: float) -> str:
    """Return a start of travel of that band's track rounded away from its rest, with its unit."""
    return start_words(band.rest_volts, start, band.ohms_per_volt)


def start_words(rest: float, start: Any, per_volt: Any) -> str:
    """Return a start of travel rounded away from rest, with its unit; per_volt: of a rheostat."""
    if per_volt is None:
        return f"{level(rest, start)} V"
    return f"{safely_rounded(per_volt * start, 0, 'up' if start >= rest else 'down'):.0f} ohm"


def level(rest_volts: float, volts: object) -> str:
    """Return a level in whole millivolts away from rest."""
    assert isinstance(volts, float)
    side = "up" if volts >= rest_volts else "down"
    return f"{safely_rounded(volts, 3, side):.3f}"


def _creeps(v: Values, face: Face) -> str:
    return (f"rest crept up by {mv(v, 'rise_volts', 1)} over {v['returns']} returns, which "
            f"is no scatter; going on it would lift rest by {mv(v, 'carried_volts')} more: "
            "let the pedal warm up, look for a worn spring or bush and a loose stop, and "
            "sweep again; until then the promise does not hold")


def _catches(v: Values, face: Face) -> str:
    times = "once" if v["times"] == 1 else f"{v['times']} times"
    # Among so many more, few pedals that only stick are still taken for catching.
    more = ("" if v["returns"] >= TELLS_APART else
            f", or, if nothing is found to catch, add {MORE_LIFT_OFFS} {worked(v).lift_off}s"
            f"{face.of(' (sweep --add-to)', '')}: they tell a catch from a pedal that only sticks")
    return (f"the pedal came to rest {times} of {v['returns']} at a second place, "
            f"{mv(v, 'apart_volts', 1)} short of the usual one; so it may catch in up "
            f"to {100 * v['share']:.0f} % of returns: free what catches and sweep "
            f"again{more}; until then the promise does not hold")


def _off_the_others(v: Values, face: Face) -> str:
    return (f"one of {v['returns']} returns stopped {mv(v, 'short_volts', 1)} short of the "
            f"others ({v['standard_deviations']:.1f} times the scatter), which is not even "
            "scatter: free what sticks and sweep again, or take the dead band of a pedal that may "
            "stick")


def _furthest(v: Values, face: Face) -> str:
    worth = "" if v["effective"] >= v["returns"] else (
        f", as {v['effective']:.1f} independent ones because each lies near the last")
    where, whence = (" in the car", "the rest of the sweep") if v["in_car"] else ("", "the median")
    return (f"the furthest of {v['returns']} returns{where}{worth} lay "
            f"{mv(v, 'furthest_volts', 2)} from {whence}; {v['factor']:.2f} times their "
            f"scale of {mv(v, 'scale_volts', 2)} on top holds {v['key_ons']} key-ons with "
            f"{100 * v['confidence']:.1f} % confidence {HEADS[v['law']]}")


def _even(v: Values, face: Face) -> str:
    mean = v["mean_volts"]
    shift = "" if abs(mean) < 5e-6 else (
        f" and {mv_of(v, abs(mean), 2)} {'more' if mean > 0 else 'less'}, their mean "
        f"lying {'nearer to' if mean > 0 else 'further from'} {worked(v).pressed} than their "
        "median,")
    furthest = "" if v["furthest_volts"] is None else (
        f"; the furthest itself lay {mv(v, 'furthest_volts', 2)} from the median")
    return (f"{v['returns']} returns scatter by {mv(v, 'scatter_volts', 2)}; "
            f"{v['factor']:.2f} times that{shift} holds all of {v['key_ons']} later key-ons with "
            f"{100 * v['confidence']:.1f} % confidence{furthest}")


def _carried_on(v: Values, face: Face) -> str:
    return (f"rest rose by {mv(v, 'rise_volts', 2)} over {v['returns']} returns; carried "
            f"on through {v['key_ons']} more, with what the slope may be wrong by")


def _moved(v: Values, face: Face) -> str:
    return (f"the rest moved by {mv(v, 'moved_volts', 2)} during the sweep, so half of "
            "that from its middle to its end, and it may move as much again")


def _supply(v: Values, face: Face) -> str:
    ground = ("the controller does not measure against the supply it feeds" if v["recorded"] else
              "the supply was not recorded")
    if not v["recorded"] and not v["ratiometric"]:
        ground += " and the controller does not measure against it"
    return f"{ground}: {100 * v['share']:.3g} % of {volts(v, 'volts')}"


def _seen(returns: int) -> str:
    return ("one return to rest was seen" if returns == 1 else
            f"{returns} returns to rest were seen")


def _input(v: Values, face: Face) -> str:
    """Return what was taken of the controller's input, and what the stated part of it does."""
    ohms = number_of_ohms(v["least_ohms"])
    parts = [f"{ohms} to ground{'' if v['measured'] else ' or more'}"]
    pull = number_of_ohms(v["pull_ohms"])
    parts.append({
        "assumed": "no pull-up, which is an assumption", "none": "no pull-up",
        "up": f"{pull} up to {v['pull_volts']:g} V", "down": f"{pull} down to ground",
        "unknown": f"no pull, or one up to {v['pull_volts']:g} V or down to ground of {pull} or "
        "more"}[v["pull"]])
    if v["series_ohms"]:
        parts.append(f"{number_of_ohms(v['series_ohms'])} in series")
    if v["lead_ohms"]:
        parts.append(f"leads of up to {v['lead_ohms']:g} ohm")
    moved = v["there_volts"] - v["bench_volts"]
    told = "" if abs(moved) < 5e-5 else (
        f"; it moves the rest of track {v['column']} by {1000 * moved:+.0f} mV from "
        f"{volts(v, 'bench_volts')} on the bench to {volts(v, 'there_volts')}, from which the dead "
        "band counts")
    source = (f"a sensor's output of up to {v['output_ohms']:g} ohm" if v["driven"] else
              f"a track of {v['track_ohms']:g} ohm give or take {100 * v['track_tolerance']:.3g} %")
    return f"the controller's input taken as {', '.join(parts)}; {source}{told}{_board(v)}"


def _board(v: Values) -> str:
    """Return what the board that logs in the car does, "" where none is stated."""
    if not v["board_ohms"]:
        return ""
    return (f"; a board of {number_of_ohms(v['board_ohms'])} that logs in the car moves it by "
            f"{1000 * v['board_volts']:+.1f} mV while it hangs there, and back when it is taken "
            "off: both are allowed for")


def number_of_ohms(ohms: float) -> str:
    """Return ohms as they are said: 470 ohm, 47 kohm, 1 Mohm."""
    for scale, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if ohms >= scale:
            return f"{ohms / scale:g} {unit}"
    return f"{ohms:g} ohm"


def _rest_too_short(v: Values, face: Face) -> str:
    return (f"only {v['seconds']:.1f} s at rest were seen, too short for the electrical "
            f"noise: leave the pedal alone for {v['least_s']:g} s or more")


def _rate_too_low(v: Values, face: Face) -> str:
    return (f"{v['hertz']:.3g} readings a second are too few for the electrical noise: only "
            f"rests of {v['least_rest_s']:.3g} s or more can tell it at this rate, and "
            f"{v['seconds']:.1f} s of such were seen; log at {v['enough_hertz']:.0f} Hz or more, "
            f"or leave the pedal alone for {v['least_rest_s']:.3g} s each time")


def _beyond(v: Values, face: Face) -> str:
    passed = []
    if v["full_volts"] is not None:
        passed.append(f"its full travel of {volts(v, 'full_volts')}")
    if v["rail_volts"] is not None:
        passed.append(f"the end of its supply at {v['rail_volts']:g} V"
                      if OHMS_PER_VOLT not in v else "the end of what it can read")
    return (f"what may lift the rest comes to {mv(v, 'total_volts')}, and a start of "
            f"travel of {volts(v, 'start_of_travel_volts')} would lie at or beyond "
            f"{' and '.join(passed)}, so there is none to enter; the largest part is "
            f"{v['largest']} with {mv(v, 'largest_volts')}: find what causes it, repair it "
            "and measure again")


def _no_return(v: Values, face: Face) -> str:
    times = "once" if v["times"] == 1 else f"{v['times']} times"
    return (f"the pedal did not come back {times}, by up to {v['travel_percent']:.0f} % of travel, "
            "which no dead band covers; repair that and sweep again")


WORDS: dict[str, Words] = {
    "as told": lambda v, face: str(v["words"]),
    "rest creeps": _creeps,
    "catches at rest": _catches,
    "return off the others": _off_the_others,
    "furthest return": _furthest,
    "even scatter": _even,
    "middle of returns": lambda v, face: (
        f"the middle of {v['returns']} returns is itself uncertain: {v['times_scatter']:.2f} times "
        "the scatter"),
    "no drift": lambda v, face: f"no drift beyond chance in {v['returns']} returns",
    "rise carried on": _carried_on,
    "rest moved": _moved,
    "catch never seen": lambda v, face: (
        f"a catch never seen, which may still come once in {v['returns']} returns"),
    "later creep": lambda v, face: "a creep of rest that begins later",
    "pedal that sticks": lambda v, face: "a pedal that sticks",
    "wilder scatter": lambda v, face: "wilder scatter (Student 3, lognormal)",
    "key-ons would tell": lambda v, face: (
        f"key-ons logged in the car would tell ({v['key_ons']} of them without any law)"),
    "supply recorded": lambda v, face: (
        "the ratio to the supply was recorded and the controller is taken to measure against the "
        "supply it feeds"),
    "sensor keeps its volts": lambda v, face: (
        f"{100 * v['share']:.3g} % of {volts(v, 'volts')}: the sensor has a reference of its own, "
        "so no ratio takes out what the board measured it by" + (
            ", and the controller measures by a supply that it does not follow"
            if v["ratiometric"] else "; the controller measures as it does, in volts")),
    "supply may differ": _supply,
    "noise at rest": lambda v, face: (
        f"{mv(v, 'rms_volts', 2)} rms at rest; crossed at most {v['crossings']:.2g} times "
        f"in {v['key_on_hours']:g} key-on hours"),
    "temperature": lambda v, face: (
        f"{v['ppm_per_kelvin']:g} ppm/K of {v['volts']:g} V over {v['kelvin']:g} K"),
    "temperature measured": lambda v, face: (
        f"{v['ppm_per_kelvin']:g} ppm/K of {v['volts']:g} V as measured in {v['log']} from "
        f"{v['lowest']:.0f} to {v['highest']:.0f} °C, over {v['kelvin']:g} K, "
        f"{'a stated' if v['span_stated'] else 'an assumed'} span"),
    "supply of a rheostat": lambda v, face: (
        f"its ohms are worked out with the nominal supply; one that is {100 * v['share']:.3g} % "
        f"off moves {volts(v, 'volts')} by {mv(v, 'off_volts', 2)}"),
    "converter": lambda v, face: f"{v['steps']:g} x the step of {mv(v, 'step_volts', 2)}",
    "controller's input": _input,
    "leads of a rheostat": lambda v, face: (
        f"two leads of up to {v['lead_ohms']:g} ohm each, for a controller that reads ohms"),
    "input in the log": lambda v, face: (
        "the returns were logged in the car, read with the controller's input on the lead"),
    "margin": lambda v, face: "asked for" if v["volts"] else "none asked for",
    "allowance for the car": lambda v, face: (
        "an allowance until a key-on log in the car measures it"),
    "few returns": lambda v, face: (
        f"only {_seen(v['returns'])}, {v['advised']} are advised, 10 better"),
    "too few returns": lambda v, face: (
        f"only {_seen(v['returns'])}, so no dead band can be stated; record at least "
        f"{v['advised']}, better 10"),
    "no dead band": lambda v, face: f"{in_words(v['why'], face)}, so no dead band can be stated",
    "reaches full travel": lambda v, face: (
        "what can lift the rest reading reaches full travel, so no dead band helps this track; "
        "find what moves its rest"),
    "clipped at rest": lambda v, face: (
        "the reading is clipped at rest, so what lifts it there cannot be seen; bring rest away "
        "from the end of the input's range"),
    "rest too short": _rest_too_short,
    "rate too low for noise": _rate_too_low,
    "noise unseen": lambda v, face: (
        "the readings at rest do not differ at all and their step is not known, so there may be "
        "noise that nobody sees: log with a finer step, or state "
        f"it{face.of(' (--step-volts)', '')}"),
    "start beyond full travel": _beyond,
    "no return": _no_return,
    "tracks part": lambda v, face: (
        f"the tracks do not move together from {v['time_s']:.1f} s on, so nothing says which of "
        "them shows the pedal's rest; repair that and sweep again"),
    "passed at rest": lambda v, face: (
        f"at {v['time_s']:.1f} s, with the pedal at rest, it read {volts(v, 'volts')}, beyond the "
        f"start of travel that the rest of the sweep gives ({volts(v, 'start_volts')}); find what "
        "lifted it and sweep again"),
    "track slipped": lambda v, face: (
        f"the track slipped at {v['time_s']:.1f} s, so its rest is not settled; fasten it and "
        "sweep again"),
    "step not known": lambda v, face: (
        "the step of the converter is not known, so nothing is allowed for it; import the log "
        f"with {face.of('--step-volts', 'its step')}, or ask for a margin"),
}


def ground(basis: str, key_ons: int) -> str:
    """Return on what ground a part of the budget stands; a bound is called one.

    key_ons: of how many a measured part is a bound, 0 for what is none.
    """
    if basis != "measured" or not key_ons:
        return basis
    return f"a bound from {key_ons} key-on{'s' * (key_ons != 1)}"


def part(reason: Reason) -> str:
    """Return one part of the budget with its size and ground."""
    v = reason.values
    assert isinstance(v["volts"], float)
    assert isinstance(v["key_ons"], int)
    return f"{v['name']} {mv(v, 'volts', 1)} ({ground(str(v['basis']), v['key_ons'])})"


def known(value: object) -> bool:
    """Return whether a value is a number that is known."""
    return isinstance(value, float) and math.isfinite(value)
