"""What a sweep shows, one sentence for each finding, keyed by its code."""

from collections.abc import Iterable
from dataclasses import replace

from analysis.model.finding import OHMS_PER_VOLT, Finding, Reason
from analysis.pedal.dead_band import CAR, NOISE, SCATTER
from bench.wording import beside as beside_words
from bench.wording.dead_band import conditions, more_would_pay, two_numbers
from bench.wording.face import (
    TERMINAL,
    Face,
    Values,
    Words,
    capital,
    listed,
    mv,
    mv_of,
    small,
    volts,
    volts_of,
)
from bench.wording.faults import fault_words
from bench.wording.key_on_allowance import allowance_line
from bench.wording.key_on_found import log_sentence
from bench.wording.limb import worked
from bench.wording.reasons import in_words

STATED = "dead band stated"
# How the sentence of a fault opens, by its gravity.
OPENINGS = {3: "Do not drive", 2: "Repair before driving", 1: "Know"}
# Where to look when one line of the budget is most of it (common practice, no source).
CURES = {SCATTER: "look for friction, a weak spring or a worn bush",
         NOISE: "find what disturbs the reading (ground, screen, a loose contact)",
         CAR: "find what lifts the reading in the car"}


def sentence(finding: Finding, face: Face = TERMINAL) -> str:
    """Return the sentence of one finding for a face."""
    if finding.code == "allowance for the car":
        return allowance_line(finding.values, face)
    if "log" in finding.values:
        return log_sentence(finding, face)
    if "fault" in finding.values:
        more = f" ({finding.times - 1} more like it)" if finding.times > 1 else ""
        said = finding.values["fault"]
        assert isinstance(said, Reason)
        return f"{OPENINGS[finding.gravity]}: {fault_words(said, face)}{more}."
    text = _of_track(finding, face)
    return f"Track {finding.channel}: {text}" if finding.code in _BY_TRACK else text


def sentences(findings: Iterable[Finding], face: Face = TERMINAL) -> tuple[str, ...]:
    """Return the sentence of each finding for a face; one that holds of several tracks, once."""
    return tuple(said for _, said in coded_sentences(findings, face))


def coded_sentences(findings: Iterable[Finding],
                    face: Face = TERMINAL) -> tuple[tuple[str, str], ...]:
    """Return what `sentences` does, each behind its code."""
    tracks: dict[str, list[str]] = {}
    codes: dict[str, str] = {}
    conditioned: dict[str, str | None] = {}
    for each in findings:
        if each.code == STATED:
            first = conditioned.setdefault(conditions(each.values, face), each.channel)
            if first != each.channel:
                each = replace(each, values={**each.values, "conditions_of": first})
        of_track = not {"fault", "log"} & set(each.values) and each.code in _BY_TRACK
        said = _of_track(each, face) if of_track else sentence(each, face)
        tracks.setdefault(said, []).extend([str(each.channel)] if of_track else [])
        codes.setdefault(said, each.code)
    return tuple((codes[said], f"{_named(names)}{said}") for said, names in tracks.items())


def _named(tracks: list[str]) -> str:
    if not tracks:
        return ""
    return f"Track{'s' * (len(tracks) > 1)} {listed(tracks)}: "


def _of_track(finding: Finding, face: Face) -> str:
    return WORDS[finding.code]({**finding.values, "channel": finding.channel}, face)


def _withdrawn(v: Values, face: Face) -> str:
    return f"{in_words(v['why'], face)}."


def _costly(v: Values, face: Face) -> str:
    if v["more_lift_offs"]:
        return (f"a dead band that stops {worked(v).creep} costs {v['lost_travel_percent']:.1f} % "
                "of travel, "
                f"more than the {v['accepted_percent']:g} % you accept, because few returns were "
                f"seen: {v['more_lift_offs']} more {worked(v).lift_off}s bring it to about "
                f"{v['then_percent']:.1f} %.")
    return (f"a dead band that stops {worked(v).creep} costs {v['lost_travel_percent']:.1f} % of "
            "travel, more "
            f"than the {v['accepted_percent']:g} % you accept{_most_of(v)}; {face.remedies}.")


def _most_of(v: Values) -> str:
    """Return what most of a dead band is for and where its cure is to be looked for."""
    largest = mv(v, "largest_volts", 1)
    if v["largest"] == CAR and v["largest_basis"] == "assumed":
        return f": {largest} of it is assumed for the car, so measure that first"
    cure = CURES.get(v["largest"])
    return "" if cure is None else (
        f": {largest} of it for {v['largest']}, so {cure} first, and sweep again")


def _off_at_rest(v: Values, face: Face) -> str:
    column = v["channel"]
    mend = {
        "fasten": f". Play of {v['play_percent']:.1f} % between the two explains it: fasten what "
                  "is loose and sweep again before anything is turned",
        "repair first": ": repair what is said of it above, and sweep again before anything is "
                        "turned",
        "own values": ": give each track its own start of travel, or have the sensor seen to",
        "turn or trim": f": turn or trim track {column}, or give each track its own start of "
                        f"travel; {face.remedies}"}[v["cure"]]
    return (f"Repair before driving: track {column} rests {mv(v, 'off_volts')} further "
            f"{worked(v).towards} than track {v['other']}, {v['off_percent']:.1f} % of its "
            "travel. A "
            f"controller that reads both on one scale takes that for {worked(v).a_pressed}{mend}.")


def _play(v: Values, face: Face) -> str:
    return (f"The tracks have {v['play_percent']:.1f} % of play: one follows the pedal later than "
            "the other when it turns round. Look for a loose shaft, coupling or lever.")


def _hum(v: Values, face: Face) -> str:
    return (f"most of its noise at rest is a tone of {v['hertz']:.1f} Hz and "
            f"{mv(v, 'amplitude_volts', 1)} ({in_words(v['near'], face)}). Find where it "
            "comes in (a charger or an instrument fed from the mains, a ground, an open screen) "
            "and sweep again: the dead band pays for it.")


def _stated(v: Values, face: Face) -> str:
    first = v.get("conditions_of")
    on = f"; conditions as for track {first}." if first else f". {conditions(v, face)}"
    return (f"start of travel at {volts(v, 'start_of_travel_volts')} costs "
            f"{v['lost_travel_percent']:.1f} % of travel"
            f"{''.join(f'; {t}' for t in two_numbers(v))}{on}{more_would_pay(v, face)}")


def _not_compared(v: Values, face: Face) -> str:
    both = f"Tracks {v['first']} and {v['second']} were not compared"
    if v["along"]:
        return (f"{both} along the travel: too little of it was seen on both. Sweep the whole "
                "travel slowly, both ways.")
    return (f"{both} with each other: they were never read in the same rows. Log both together, "
            "and sweep again.")


def _offset(v: Values) -> str:
    per_volt = v.get(OHMS_PER_VOLT)
    return (f"{v['offset_volts']:+z.3f} V" if per_volt is None else
            f"{per_volt * v['offset_volts']:+z.0f} ohm")


def _pair(v: Values, face: Face) -> str:
    return (f"Track {v['second']} = {v['gain']:.3f} x track {v['first']} "
            f"{_offset(v)} ({v['relation']}); the tracks differ by at most "
            f"{v['mismatch_max_percent']:.1f} % of travel, at "
            f"{v['mismatch_at_travel_percent']:z.0f} %.")


def _no_lift_off(v: Values, face: Face) -> str:
    quickest = v["quickest_s"]
    seen = "" if quickest is None else f"; the quickest return seen took {quickest:.1f} s"
    return (f"The return after a {worked(v).lift_off} is not proven: no quick "
            f"{worked(v).lift_off} was seen{seen}, and "
            f"49 CFR 571.124 S5.3 allows {v['limit_s']:g} s. Sweep again and let go at once; a "
            "pedal that then still comes back slowly must be repaired.")


def _rests(v: Values) -> str:
    return (f"at rest track {v['first']} reads {volts(v, 'first_rest_volts')} and track "
            f"{v['second']} {volts(v, 'second_rest_volts')}")


def _unusual(v: Values, face: Face) -> str:
    return (f"The two tracks are related in none of the usual ways ({_rests(v)}, gain "
            f"{v['gain']:.2f}). If the pedal's papers do not say so, one of them is off or wired "
            "wrongly: find out which before driving.")


def _apart(v: Values, face: Face) -> str:
    return (f"The tracks lie {mv(v, 'apart_volts')} apart all along ({_rests(v)}). If the "
            f"pedal's papers do not say so, track {v['nearer']} is off {worked(v).towards} and "
            "must be "
            "turned or trimmed before driving; enter a start of travel for each track, never one "
            "for both.")


def _perhaps_off(v: Values, face: Face) -> str:
    law = {"opposed": "the supply less track", "half": "half of track",
           "twice": "twice track"}[v["law"]]
    towards = worked(v).towards if v["towards_pressed"] else f"away {worked(v).away}"
    meant = v["meant_volts"]
    given = f"{meant:.3f}" if OHMS_PER_VOLT not in v else f"{v[OHMS_PER_VOLT] * meant:.0f}"
    give = face.of(f" (--target-rest {v['second']}={given})", "")
    return (f"If track {v['second']} is meant to be {law} {v['first']}, as most such pedals are, "
            f"it would rest at {volts(v, 'meant_volts')}; it rests at {volts(v, 'rest_volts')}, "
            f"{mv_of(v, abs(v['off_volts']))} {towards}. Look into the pedal's papers: "
            f"if they say so, give that target{give} and turn or trim it; if not, give the rest it "
            "has.")


def _rate_too_low(v: Values, face: Face) -> str:
    rest = ("there may be more of them than are told" if v["some_told"] else
            "that no such fault is found does not mean that there is none")
    return (f"At {v['hertz']:.3g} readings a second a loss of contact shorter than "
            f"{1000 * v['apart_s']:.0f} ms can fall between two of them unseen, and one met during "
            f"a quick move may pass for the {worked(v).limb}: {rest}. Log at "
            f"{v['enough_hertz']:g} Hz or "
            "more to look for them.")


def _few_returns(v: Values, face: Face) -> str:
    returns = v["returns"]
    seen = ("No return to rest was" if returns == 0 else "Only one return to rest was"
            if returns == 1 else f"Only {returns} returns to rest were")
    return (f"{seen} seen; the scatter of returns needs at least {v['advised']}, better 10: sweep "
            f"again with more {worked(v).presses}.")


def _supply_off(v: Values, face: Face) -> str:
    usual, nominal = v["volts"], v["nominal_volts"]
    return (f"The supply read {usual:.2f} V where {nominal:g} V is meant. All levels here are "
            f"stated at {nominal:g} V: a meter on the pedal shows {usual / nominal:.3f} times as "
            "much, and a controller that does not measure the supply too reads that.")


def _seldom(v: Values, face: Face) -> str:
    return (f"Only {100 * v['share']:.0f} % of the tracks' readings have one of the supply beside "
            "them; it is taken to run straight between its own, so a dip there is not seen. Log "
            "the supply as often as the tracks.")


def _step_not_known(v: Values, face: Face) -> str:
    return (f"The converter's step of {' and '.join(v['tracks'])} is not known: the readings are "
            "volts and do not show it, so the budget allows nothing for the converter. "
            f"Import the log with {face.of('--step-volts', 'its step')}.")


def _third_track(v: Values, face: Face) -> str:
    alone = v["alone"]
    return (f"Only tracks {v['first']} and {v['second']} are compared with each other; "
            f"{', '.join(alone)} {'is' if len(alone) == 1 else 'are'} measured alone.")


def _compared(v: Values) -> str:
    return ", ".join(f"{one} and {other} by at most {worst:.1f} %"
                     for one, other, worst in v["mismatches"])


def _broken_lead(v: Values, face: Face) -> str:
    low, high = v["low_volts"], v["high_volts"]
    reads = f"{low:.2f} V" if high - low < 0.005 else f"{low:.2f} to {high:.2f} V"
    return (f"with the pull stated of the controller's input a broken signal lead reads {reads}, "
            f"which its fault limits take for {worked(v).a_pressed}. Only the other track tells: "
            "let the "
            "controller compare both, or have an input without that pull.")


def _rest_assumed(v: Values, face: Face) -> str:
    levels = listed([f"{name} {volts_of(v, level)}"
                     for name, level in zip(v["tracks"], v["levels_volts"], strict=True)])
    state = face.of("state the rest you know (--target-rest TRACK=VOLTS)",
                    "give the rest you know on the page Decide", "state the rest you know")
    return (f"Nothing here shows which end is rest: no prompts, and no {worked(v).lift_off} much "
            "quicker than the presses. Rest is taken to be where the recording starts and ends "
            f"({levels}). Were you on the pedal then, every value is upside down: see that it "
            f"reads so when let go, or sweep again with quick {worked(v).lift_off}s, or {state}.")


def _overlooked(v: Values, face: Face) -> str:
    name = v["column"]
    record = face.of(f"record it with --role {name}=track to include it in the analysis",
                     "give it the role track and sweep again to include it in the analysis")
    return (f"{name} moves with the pedal but has the role other, so nothing was measured of it: "
            f"{record}.")


WORDS: dict[str, Words] = {
    **beside_words.WORDS,
    "doubt": lambda v, face: f"Do not drive: {small(in_words(v['why'], face))}",
    "rest end not known": lambda v, face: (
        f"Do not drive: {small(in_words(v['why'], face))}"),
    "rest end assumed": _rest_assumed,
    "not enough": lambda v, face: in_words(v["why"], face),
    "promise withdrawn": _withdrawn,
    "return off the others": _withdrawn,
    "rest creeps": _withdrawn,
    "catches at rest": _withdrawn,
    "costly dead band": _costly,
    "off at rest": _off_at_rest,
    "play": _play,
    "nothing allowed for the car": lambda v, face: (
        "nothing is allowed for what the car adds at key-on, as you asked: until a key-on log "
        "shows that it adds nothing, its start of travel may be passed."),
    "hum": _hum,
    "short of the stop": lambda v, face: f"Sweep again: {in_words(v['why'], face)}.",
    STATED: _stated,
    "not compared": _not_compared,
    "pair measured": _pair,
    "shared short unseen": lambda v, face: (
        "A short between tracks of the same slope cannot be seen by their difference: power off, a "
        "meter between the signal leads shows it (near 0 ohm)."),
    "no lift-off": _no_lift_off,
    "unusual relation": _unusual,
    "apart all along": _apart,
    "perhaps off at rest": _perhaps_off,
    "cut short": lambda v, face: "The file was cut short; every whole row was used.",
    "samples lost": lambda v, face: f"{v['samples']} samples were lost while recording.",
    "rate too low": _rate_too_low,
    "few returns": _few_returns,
    "few rest readings": _withdrawn,
    "short rest": lambda v, face: (
        f"The pedal was seen at rest for {v['seconds']:.1f} s; the electrical noise needs at least "
        f"{v['least_s']:g} s: leave it alone longer."),
    "supply not recorded": lambda v, face: (
        "The supply was not recorded: " + (
            "volts are as measured" if OHMS_PER_VOLT not in v else
            "the ohms are worked out with its nominal volts")
        + ", and the budget carries the supply's tolerance. Record it on a third input to take "
        "that out."),
    "supply off nominal": _supply_off,
    "supply clipped": lambda v, face: in_words(v["why"], face),
    "reference contradicted": lambda v, face: f"{capital(in_words(v['why'], face))}.",
    "supply read seldom": _seldom,
    "step not known": _step_not_known,
    "step estimated": lambda v, face: (
        f"one converter step of {mv(v, 'step_volts', 2)} was estimated from the grid its "
        "readings lie on."),
    "one track": lambda v, face: (
        "Only one track follows the pedal: nothing checks it, and the mismatch cannot be known."),
    "third track alone": _third_track,
    "overlooked track": _overlooked,
    "third track compared": lambda v, face: (
        f"The three tracks agree: {_compared(v)} of travel (limit {v['limit_percent']:g} %)."),
    "odd track": lambda v, face: (
        f"Repair before driving: of three tracks {v['odd']} is the odd one; the other two agree "
        f"within {v['limit_percent']:g} % of travel and both contradict it: {_compared(v)} of "
        "travel."),
    "no two tracks agree": lambda v, face: (
        "Repair before driving: the three tracks disagree, and which of them is wrong cannot be "
        f"told: {_compared(v)} of travel (limit {v['limit_percent']:g} %)."
        + ("" if v["copies"] is None else
           f" {listed(v['copies'])} agree, but they are one wiper read twice, and so one "
           "witness.")),
    "broken lead unseen": _broken_lead,
    "stated in ohms": lambda v, face: (
        f"A two-wire rheostat of {v['full_ohms']:g} ohm, read through {v['known_ohms']:g} ohm"
        + (f" with {v['series_ohms']:g} ohm in series" if v["series_ohms"] else "")
        + ": all its levels are in ohms."),
    "known resistor assumed": lambda v, face: (
        f"The known resistor was not stated: {v['known_ohms']:g} ohm is assumed, and every value "
        "in ohms scales with it. Measure it"
        + face.of(" and state it with --rheostat-known-ohms",
                  " and enter it among the parameters on the page Decide", "") + "."),
    "no held full press": lambda v, face: (
        f"no held full {worked(v).press} was seen; its full travel is taken from the peaks."),
    "noise not measured": lambda v, face: "too little rest to measure its noise.",
}
# Their sentences open with the track.
_BY_TRACK = frozenset({
    "promise withdrawn", "return off the others", "rest creeps", "catches at rest",
    "costly dead band", "nothing allowed for the car", "hum",
    STATED, "broken lead unseen", "step estimated", "no held full press", "noise not measured"})
