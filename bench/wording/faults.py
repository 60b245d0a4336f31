"""The faults of a sweep in words: what was seen, where, how often."""

from analysis.model.finding import Reason
from bench.wording.doubts import supply_is_another
from bench.wording.face import Face, Values, Words, mv, volts
from bench.wording.limb import worked
from bench.wording.reasons import in_words

_RHEOSTAT = ("; a two-wire rheostat that reaches 0 ohm reads so too: put 470 ohm in series with it "
             "(docs/wiring.md, \"A two-wire rheostat\")")
_LOOK = "look for friction, a weak spring or a fouled cable"
_NO_READING = {
    "track": ("track {} gives no reading", ": contact lost, or beyond what the logger can read"),
    "every track": ("no track gives a reading", ""),
    "supply": ("the supply gives no reading", ": the tracks are not judged there")}


# A line for a short page, behind the name of its track: code -> words.
SHORT = {
    "dropout": "loses contact",
    "no reading": "gives no reading",
    "open or short": "reads like an open or shorted lead",
    "dead track": "stands still while the other moves",
    "late track": "follows the other late",
    "flat spot": "stands still for a part of the travel: worn or dirty track",
    "noise": "is noisy: worn track",
    "clipping": "is cut off at the end of its input's range",
    "gap": "readings are missing",
    "no return": "does not come back to rest",
    "slow return": "comes back too slowly",
    "hangs on its way": "stood still on its way back: a hand, or it hangs?",
    "not settled": "still creeps at the end of a rest",
    "foot at rest": "may have had a foot on it while at rest",
    "step": "slipped on its shaft",
    "mismatch": "differ by more than the limit",
    "same wiper": "move as one: perhaps one wiper read twice",
    "supply sag": "sags",
    "supply lost": "gives no reading for a part of the time",
}


def fault_words(said: Reason, face: Face) -> str:
    """Return what was seen of a fault, without a full stop."""
    if said.code == "supply is another":
        return supply_is_another(said.values, face)
    return in_words(said, face)


def _once_or_more(times: int) -> str:
    return "" if times == 1 else f", {times} times"


def _contact_lost(v: Values, face: Face) -> str:
    when = f"for {1000 * v['seconds']:.0f} ms at {v['travel_percent']:z.0f} % of travel"
    if v["track"] is None:
        return (f"one of the tracks loses contact {when}, and it cannot be told which: they part "
                f"by {v['depth_percent']:.0f} % of travel there; look at both")
    if v["to"] is None:
        return (f"track {v['track']} loses contact {when}: its reading leaves its course by "
                f"{v['depth_percent']:.0f} % of travel")
    reads = {"a rail": "reads 0 V or the supply", "0 V": "reads 0 V"}.get(
        v["to"], "reads the supply")
    return f"track {v['track']} loses contact {when} and {reads}"


def _at_a_rail(v: Values, face: Face) -> str:
    return (f"track {v['track']} sits at {v['rail']} for {v['seconds']:.1f} s from "
            f"{v['time_s']:.1f} s: an open or shorted lead{_RHEOSTAT if v['rheostat'] else ''}")


def _does_not_follow(v: Values, face: Face) -> str:
    where = "near a rail" if v["near_rail"] else "in mid range"
    return (f"track {v['track']} stays at {volts(v, 'volts')} ({where}) while the pedal moves: an "
            "open or shorted lead, or the wrong input")


def _clipped(v: Values, face: Face) -> str:
    return (f"track {v['track']} reads {v['counts']:g} counts, the end of what the input can read, "
            f"{v['times']} times (longest {v['longest_s']:.2f} s, at {v['travel_percent']:z.0f} % "
            "of travel): its true level is not known; change the divider or the "
            f"reference{_RHEOSTAT if v['rheostat'] else ''}")


def _sag(v: Values, face: Face) -> str:
    share = 100 * v["lowest_volts"] / v["usual_volts"]
    return (f"the supply sags to {v['lowest_volts']:.2f} V ({share:.0f} % of its usual "
            f"{v['usual_volts']:.2f} V) for {v['seconds']:.2f} s at {v['time_s']:.1f} s")


def _stands_still(v: Values, face: Face) -> str:
    return (f"track {v['track']} stands still at {volts(v, 'volts')} from {v['time_s']:.1f} to "
            f"{v['end_s']:.1f} s while track {v['beside']} moves by {100 * v['moved']:.0f} % of "
            "its travel: its wiper, its shaft or its lead does not follow; find out which before "
            "driving")


def _not_together(v: Values, face: Face) -> str:
    return (f"the tracks do not move together from {v['time_s']:.1f} s on: each stands still while "
            "the other moves, and which of them follows the pedal cannot be told here; check both "
            "wipers, their shaft and their leads before driving")


def _late(v: Values, face: Face) -> str:
    how = (f"as behind a filter of {v['late_s']:.1f} s" if v["filter"] else
           f"{v['late_s']:.2f} s late")
    return (f"track {v['track']} follows track {v['beside']} {how} from {v['time_s']:.1f} s on; no "
            f"sensor tells what a {worked(v).limb} will do, so the later one is wrong: look at "
            "its input, "
            "its filter and its lead before driving")


def _missing(v: Values, face: Face) -> str:
    what, cause = _NO_READING[v["what"]]
    rows, longest = v["rows"], v["longest_s"]
    long = f"{1000 * longest:.0f} ms" if longest < 1 else f"{longest:.1f} s"
    when = (f"at {v['longest_at_s']:.1f} s ({long})" if v["times"] == 1 else
            f"{v['times']} times between {v['first_s']:.1f} and {v['last_s']:.1f} s (longest "
            f"{long}, at {v['longest_at_s']:.1f} s)")
    low, high = v["lowest_percent"], v["highest_percent"]
    where = (f"at {round((low + high) / 2)} %" if high - low < 1.0 else
             f"from {round(low)} to {round(high)} %")
    return (f"{what.format(v['track'])} in {rows} row{'s' * (rows > 1)}, {when}, {where} of "
            f"travel{cause}")


def _flat(v: Values, face: Face) -> str:
    when = f" when {v['way']}" if v["way"] else ""
    return (f"track {v['track']} stands still from {v['lowest_percent']:.0f} to "
            f"{v['highest_percent']:.0f} % of travel while track {v['other']} moves{when}: flat "
            "spot")


def _foot(v: Values, face: Face) -> str:
    return (f"the pedal stood at {v['travel_percent']:.1f} % of travel from {v['time_s']:.1f} to "
            f"{v['end_s']:.1f} s, before it first came back: was a {worked(v).limb} resting on "
            "it? If so, "
            f"sweep again with the {worked(v).limb} off; if not, it did not come back: {_LOOK}")


def _creeps(v: Values, face: Face) -> str:
    how = (f"its reading still falls by {v['percent']:.2f} % of travel in the last part of a rest"
           if v["how"] == "still falls" else
           f"it rests {v['percent']:.1f} % of travel above where it rested before the first "
           f"{worked(v).press}, "
           "and never comes back there")
    return (f"the pedal creeps back and does not settle within its rests: {how}. Its true rest is "
            f"lower than what was measured, so no start of travel is stated: {_LOOK}, and sweep "
            f"again with longer rests{face.of(' (--rest-s 6)', '')}")


def _within_a_step(v: Values, face: Face) -> str:
    return (f"tracks {v['first']} and {v['second']} differ by no more than this converter tells "
            f"apart ({mv(v, 'step_volts', 1)} a step): they may be two inputs on one "
            "wiper, and that is weak evidence. A finer converter"
            f"{face.of(' (--oversample 16)', '')} would tell; so does taking one lead off the "
            "board, key off, to see whether the other input still follows")


def _copies(v: Values, face: Face) -> str:
    return (f"tracks {v['first']} and {v['second']} are copies of each other: but for a fixed gain "
            "and offset they differ over the whole travel by no more than the converter's own "
            f"noise and rounding ({mv(v, 'rms_volts', 1)} rms), which two potentiometers "
            "never do. The two inputs read the same wiper, so nothing checks the pedal; key off, "
            "take one lead off the board and see whether the other input still follows")


WORDS: dict[str, Words] = {
    "mismatch": lambda v, face: (
        f"the tracks differ by {v['percent']:.1f} % of travel at {v['travel_percent']:z.0f} % of "
        f"travel, more than the limit of {v['limit_percent']:g} %"),
    "contact lost": _contact_lost,
    "stays at a rail": _at_a_rail,
    "no reading at all": lambda v, face: (
        f"track {v['track']} gives no reading at all: an open lead, or the wrong input"),
    "wanders": lambda v, face: (
        f"track {v['track']} wanders between {volts(v, 'lowest_volts')} and "
        f"{volts(v, 'highest_volts')} whatever the pedal does: an open lead, or the wrong input"),
    "does not follow": _does_not_follow,
    "clipped": _clipped,
    "supply sag": _sag,
    "rows missing": lambda v, face: (
        f"rows are missing for {1000 * v['seconds']:.0f} ms before {v['time_s']:.2f} s"),
    "samples lost": lambda v, face: (
        f"{v['samples']} samples were lost before {v['time_s']:.2f} s"),
    "all inputs repeat": lambda v, face: (
        f"every input repeats one reading for {v['seconds']:.1f} s from {v['time_s']:.1f} s on, "
        "in spite of its noise: nothing was read then; look at the logger, and sweep again"),
    "all tracks jump": lambda v, face: (
        f"all tracks jump by {v['percent']:.0f} % of travel at once at {v['time_s']:.2f} s, faster "
        "than any pedal: rows were lost, or their plug, supply or ground let go; shake it, and "
        "sweep again"),
    "more gaps": lambda v, face: f"{v['gaps']} more gaps follow",
    "stands still": _stands_still,
    "not together": _not_together,
    "follows late": _late,
    "recorded unevenly": lambda v, face: (
        f"track {v['track']} is recorded unevenly: its blanks cannot be told from losses; log it "
        "at a rate of its own to look for them"),
    "readings missing": _missing,
    "flat spot": _flat,
    "flat at the end": lambda v, face: (
        f"track {v['track']} stands still from {v['lowest_percent']:.0f} to "
        f"{v['highest_percent']:.0f} % of travel, at the end of its range: the input is clipped, "
        "or the track ends before the pedal"),
    "noisy": lambda v, face: (
        f"track {v['track']} is noisy between {v['lowest_percent']:.0f} and "
        f"{v['highest_percent']:.0f} % of travel: {v['noise_percent']:.1f} % of travel there, "
        f"{v['usual_percent']:.2f} % elsewhere: worn track"),
    "either is noisy": lambda v, face: (
        f"near {v['travel_percent']:.0f} % of travel one of the tracks is noisy or jumps, by "
        f"{v['noise_percent']:.1f} % of travel; which of them cannot be told from both together: "
        "look at both tracks there"),
    "unsteady once": lambda v, face: (
        f"track {v['track']} is unsteady for {v['seconds']:.1f} s at {v['time_s']:.1f} s, near "
        f"{v['travel_percent']:z.0f} % of travel, by {v['noise_percent']:.1f} % of travel rms, and "
        "quiet there otherwise: look for a loose lead or plug and a wiper that lifts; nothing near "
        "the board switched just then?"),
    "either unsteady once": lambda v, face: (
        f"one of the tracks is unsteady for {v['seconds']:.1f} s at {v['time_s']:.1f} s, near "
        f"{v['travel_percent']:z.0f} % of travel, by {v['noise_percent']:.1f} % of travel rms; "
        "which of them cannot be told from both together: look at the leads and wipers of both"),
    "foot at rest": _foot,
    "stays pressed": lambda v, face: (
        f"the pedal stays at {v['travel_percent']:.1f} % of travel from {v['time_s']:.1f} to "
        f"{v['end_s']:.1f} s instead of coming back: {_LOOK}"),
    "hangs on its way": lambda v, face: (
        f"let go at {v['time_s']:.1f} s the pedal stood still at {v['travel_percent']:.0f} % of "
        f"travel before it went on{_once_or_more(v['times'])}: caught by a {worked(v).limb}, or a "
        "pedal that hangs until it is tapped; sweep again and let go of it altogether"),
    "slow return": lambda v, face: (
        f"let go at {v['time_s']:.1f} s the pedal took {v['seconds']:.2f} s to come back; 49 CFR "
        f"571.124 S5.3 allows {v['limit_s']:g} s"),
    "shifts": lambda v, face: (
        f"track {v['track']} shifts against the other by {v['percent']:.1f} % of travel at "
        f"{v['time_s']:.1f} s and stays there: look for a loose shaft or coupling (the levels are "
        "those after it)"),
    "creeps back": _creeps,
    "alike within a step": _within_a_step,
    "bend alike": lambda v, face: (
        f"tracks {v['first']} and {v['second']} bend alike over the whole travel, which two "
        "potentiometers hardly do, but their noise is not common: they may be two inputs on one "
        "wiper, and that is weak evidence. Key off, take one lead off the board and see whether "
        "the other input still follows"),
    "copies": _copies,
}
