"""What a key-on log shows, one sentence for each finding, keyed by its code."""

import math
from collections.abc import Mapping
from typing import Any

from analysis.key_on.results import Unread
from analysis.model.finding import Finding
from analysis.model.safe_rounding import safely_rounded
from bench.wording.beside import WORDS as BESIDE
from bench.wording.face import TERMINAL, Face, Values, Words
from bench.wording.limb import worked
from bench.wording.parameters import WORDS as PARAMETERS

CONTACTOR_WORDS = {"open": "open", "closed": "closed", None: "not stated"}
_FOUND_BY = {"mark": "the marks", "supply": "the supply", "signal": "the signal itself",
             "key channel": "it as one that is on all along"}


# Who repeats one reading: everything at once, or a track or the supply alone.
_STILL = {None: "All inputs repeat", "track": "Track {track} alone repeats",
          "supply": "The supply alone repeats"}


def log_sentence(finding: Finding, face: Face = TERMINAL) -> str:
    """Return the sentence of one finding of a key-on log for a face.

    One that is carried with the values of a sweep names its log in `values`.
    """
    carried = "at_s" in finding.values
    own = {"track": finding.values["of_track"] if carried else finding.channel,
           "time_s": finding.values["at_s"] if carried else finding.time_s}
    said = WORDS[finding.code]({**own, **finding.values}, face)
    return f"{said.rstrip('.')}." if "log" in finding.values else said


def _at_rail(v: Values, face: Face) -> str:
    what = ("its signal lead or its ground broke, or one touches the supply" if v["at_supply"] else
            "its signal lead or its feed broke, or one touches ground")
    key = "with the key on" if v["key_on"] else "with the key off"
    return (f"Do not drive: track {v['track']} stood at {_rail(v)} {_rail_times(v)} from "
            f"{v['time_s']:.3f} s {key}, {_past_limit(v)}: {what}. Find and mend that lead, and "
            "log again.")


def _dropout(v: Values, face: Face) -> str:
    return (f"Track {v['track']} touched {_rail(v)} {_rail_times(v)} from {v['time_s']:.3f} s, "
            f"{_past_limit(v)}: a contact lost for a moment; move the leads and the plug until it "
            "shows, mend it, and log again.")


def _rail(v: Values) -> str:
    return "its supply" if v["at_supply"] else "0 V"


def _past_limit(v: Values) -> str:
    limit = v["fault_limit_volts"]
    return (f"past its fault limit of {limit:.3f} V" if math.isfinite(limit) else
            "where a fault limit must stop the controller")


def _rail_times(v: Values) -> str:
    return (f"for {v['longest_s']:.3g} s" if v["times"] == 1 else
            f"{v['times']:.0f} times, for {v['longest_s']:.3g} s at most,")


def _electrical(v: Values, face: Face) -> str:
    signs = {"delay": f"{v['delay_s']:.3f} s after the key at every key-on",
             "volts": "by equal volts, as this pedal cannot move them",
             "edge": "from one reading to the next"}
    return (f"Both tracks moved {times_text(int(v['times']))} by up to "
            f"{1e3 * v['furthest_volts']:.0f} mV, first at {v['time_s']:.1f} s, "
            f"{', '.join(signs[s] for s in v['signs'])}: that is electrical, not a "
            f"{worked(v).limb}, and it "
            "is judged as such. Look for what switches then (contactor, pump, fan) and at the "
            "pedal's "
            "ground and supply leads, mend it, and log again.")


def _foot(v: Values, face: Face) -> str:
    count, limb = int(v["times"]), worked(v).limb
    many = "1 movement" if count == 1 else f"{count} movements"
    return (f"{many} of both tracks like a {limb}'s with the key on (at "
            f"{', '.join(f'{s:.1f} s' for s in v['first_at_s'])}"
            f"{' and later' if count > 5 else ''}), and nothing says that a {limb} was there: if "
            f"none was, each was {worked(v).power} without a {limb}. If one was, log again with "
            "the "
            f"{worked(v).off}, or with a mark \"{limb}\" at it or a brake or pedal switch logged")


def _holes(v: Values, face: Face) -> str:
    what = {"rows": "Rows are missing", "track": f"Track {v['track']} gave no reading",
            "supply": f"The supply of track {v['track']} gave no reading"}[v["what"]]
    return (f"{what} with the key on at {_places(v)}, for at most {v['longest_s']:.2f} s: a lift "
            f"within {'it' if v['places'] == 1 else 'one'} was not seen. That leaves the verdict "
            f"as it is, for a throttle may be wrong for {1000 * v['harmless_s']:.0f} ms before the "
            "motor's power must stop (Formula SAE rules T.4.2)")


def _places(v: Values) -> str:
    return f"{v['places']:.0f} place{'s' * (v['places'] != 1)}"


def _reference(v: Values, face: Face) -> str:
    board = "In the sweep the board" if v["of_the_sweep"] else "The board"
    why = ("or its internal reference was never trimmed" if v["untrimmed"] else
           "more than its internal reference can be wrong by")
    return (f"{board} measures {v['volts']:.2f} V of supply where {v['reference_volts']:g} V at "
            f"full scale are stated ({v['off_percent']:+.0f} %, {why}): every volt would be wrong "
            "by as much; measure its supply with a meter and state it, or feed it better")


def _lost(v: Values, face: Face) -> str:
    much = ("for a time that nobody knows" if v["length_unknown"] else
            f"for up to {v['longest_s']:.2f} s")
    return (f"Rows are missing with the key on at {_places(v)}, {much} (first at "
            f"{v['time_s']:.3f} s): a lift there was not seen. Find why (cable, port, a busy "
            "laptop), and log again")


def _clipped(what: str, so: str) -> Words:
    return lambda v, face: (
        f"{what} {v['track']} reads the end of its input's range for {v['seconds']:.1f} s with the "
        f"key on (first at {v['time_s']:.3f} s): that is no reading; {so}. Put a divider with "
        "head-room before the input (state it with the scale), and log again")


def _no_supply(v: Values, face: Face) -> str:
    hides = (f"within the {v['tolerance_percent']:g} % that you state for it track "
             f"{v['track']} may have passed start of travel" if v["track"] else
             "a sag of it hides a lift of as much, and nothing bounds the sag")
    return (f"The supply was not logged: {hides}. Log the supply on a third input, then judge "
            "again")


def _marks(v: Values, face: Face) -> str:
    return (f"{v['marks']} marks of the key lie up to {abs(v['off_s']):.1f} s "
            f"{'after' if v['off_s'] > 0 else 'before'} a plain step of the readings, which is "
            "used in their place: wire the key line, and log again")


def _key_unclear(v: Values, face: Face) -> str:
    return (f"The key wire {v['track']} moves between {v['low_volts']:.1f} and "
            f"{v['high_volts']:.1f} V and stands at no two levels, so the key-ons are taken from "
            f"{_FOUND_BY[v['found_by']]}: it hangs in the air or is on another wire. Connect it "
            "behind the key switch, where it is 0 V with the key off, turn the key off and on, "
            "and log again")


def _stray(v: Values, face: Face) -> str:
    numbers = v["numbers"]
    chance = 100 * v["chance_bound"]
    end = (f"that is up to {chance:.0f} % that one of the next {v['key_ons']} is, so the promise "
           f"of {100 * (1 - v['promised']):g} % is withdrawn: no bound holds for the next such one"
           if v["withdrawn"] else
           f"that is at most {chance:.2g} % for one in the next {v['key_ons']}")
    return (f"Key-on{'s' * (len(numbers) != 1)} {', '.join(map(str, numbers))} lifted track "
            f"{v['track']} by {1e3 * v['furthest_volts']:.1f} mV, where the others stayed at or "
            f"below {1e3 * v['usual_volts']:.1f} mV: {len(numbers)} of {v['of']:.0f}, so at most "
            f"{100 * v['share_bound']:.1f} % of key-ons are such ({v['share_confidence']:.0%} "
            f"confidence); {end}. Find what differed at it (contactor, pump, a loose lead), and "
            "log again.")


def _alias(v: Values, face: Face) -> str:
    shifted, swung = v["shifted"], v["swung"]
    told = " and ".join(f"{word}{'s' * (len(some) > 1)} of track{'s' * (len(some) > 1)} "
                        f"{', '.join(some)}"
                        for word, some in (("shift", shifted), ("slow swing", swung)) if some)
    return (f"The {told} {'are' if len(shifted) + len(swung) > 1 else 'is'} told on one condition: "
            f"a tone close to {v['rate_hz']:.4g} Hz, the rate of this log, or to a multiple of it, "
            f"would read the same. Log once more at another rate, such as {v['other_rate_hz']:g} "
            "Hz: what the car does to the level stays as it is, a tone does not.")


def _moved(v: Values, face: Face) -> str:
    moved = v["rest_moved_volts"]
    way = f"further {worked(v).towards if moved > 0 else worked(v).away}"
    marks = ", marks off by seconds" if v["by_mark"] else ""
    return (f"The rest of this log is not the sweep's: with the key off track {v['track']} rests "
            f"{abs(moved) * 1e3:.1f} mV {way} than there, more than its returns there differ by. "
            "No allowance is taken from this log, and the sweep's values are not for the pedal as "
            f"it sits: find out why (how it is mounted, its cable, its feed{marks}, or another "
            "pedal), sweep it again as installed, and log again.")


def warmth_line(v: Values, face: Face = TERMINAL) -> str:
    """Return that warmth moves a track by more than the budget holds."""
    slope = (f"{v['volts'] * 1e3:+z.2f} mV" + ("" if math.isnan(v["low_volts"]) else
             f" ({v['low_volts'] * 1e3:+z.2f} to {v['high_volts'] * 1e3:+z.2f} mV at "
             f"{v['confidence']:.0%})"))
    anew = face.of(
        f"with --track-ppm {v['ppm_per_kelvin']:.0f} and the --temperature-span between coldest "
        "and hottest use",
        f"with {v['ppm_per_kelvin']:.0f} ppm per kelvin for the tracks and the span between "
        "coldest and hottest use")
    return (f"Warmth moves track {v['track']} by {slope} a degree: over {v['span_kelvin']:g} K "
            f"that is {1e3 * v['span_kelvin'] * abs(v['volts']):.1f} mV, where the dead band holds "
            f"{1e3 * v['held_volts']:.1f} mV for temperature. Find what warms it, or issue the "
            f"values anew {anew}.")


def brake_line(v: Values, face: Face = TERMINAL) -> str:
    """Return that the brake was on with the pedal pressed."""
    return (f"Brake on with the {worked(v).thing} at {v['peak_percent']:.0f} % from "
            f"{v['start_s']:.1f} s: "
            f"power is to stay off until {v['end_s']:.1f} s (25 % / 5 %, Formula SAE EV.4.7).")


def _passed(v: Values, face: Face) -> str:
    return (f"In {v['log']} readings passed the start of travel of the sweep alone "
            f"({starts_text(v['starts'])}): power would have been applied. Take that value out "
            "where it is entered and find what lifts the reading; the values here lie beyond "
            "every reading of that log.")


def _not_read(v: Values, face: Face) -> str:
    return f"In {v['log']} {unread_text(unread_of(v['unread']))}."


def unread_of(values: tuple[Any, ...]) -> dict[str, Unread]:
    """Return what was not read, of its values (column, seconds, first_s, by_supply) each."""
    return {c: Unread(seconds, first, by_supply) for c, seconds, first, by_supply in values}


def starts_text(starts: tuple[Any, ...]) -> str:
    """Return starts of travel, (column, volts, direction) each, as their sheet states them."""
    return ", ".join(f"{column} {_as_stated(volts, direction)} V"
                     for column, volts, direction in starts)


def _as_stated(volts: float, direction: str) -> str:
    """Return a start of travel in whole mV away from rest; as it was typed where it was typed."""
    if abs(volts - round(volts, 4)) < 1e-9 and abs(volts - round(volts, 3)) > 1e-9:
        return f"{volts:.4f}"
    return f"{safely_rounded(volts, 3, 'up' if direction == 'rising' else 'down'):.3f}"


def unread_text(unread: Mapping[str, Unread]) -> str:
    """Return what was not read, when first and what to do, as one part of a sentence."""
    own, other = _by_cause(unread)
    parts = [f"track {c} gave no reading for {seconds_text(u.seconds)} in all (first at "
             f"{u.first_s:.3f} s)" for c, u in own.items()]
    if other:
        worst = max(other.values(), key=lambda u: u.seconds)
        parts.append(f"the supply gave none, or next to nothing, for {seconds_text(worst.seconds)} "
                     f"in all (first at {min(u.first_s for u in other.values()):.3f} s)")
    return f"{', and '.join(parts)}; {unread_remedy(unread)}"


def unread_remedy(unread: Mapping[str, Unread]) -> str:
    """Return what to do about what was not read, as one part of a sentence."""
    own, other = _by_cause(unread)
    does = ["find the loose contact, or the range that was left"] * bool(own) + [
        "log the supply as often as the tracks, on a firm lead"] * bool(other)
    return f"{' and '.join(does)}, and log again"


def _by_cause(unread: Mapping[str, Unread]) -> tuple[dict[str, Unread], dict[str, Unread]]:
    """Return the tracks that gave no reading themselves, and those without their supply."""
    return ({c: u for c, u in unread.items() if not u.by_supply},
            {c: u for c, u in unread.items() if u.by_supply})


def seconds_text(value: float) -> str:
    """Return a length of time as text: to the millisecond only where that is most of it."""
    return f"{value:.3f} s" if value < 0.95 else f"{value:.1f} s"


def times_text(count: int) -> str:
    """Return how often, as text."""
    return "once" if count == 1 else f"{count} times"


def _another_kind(v: Values, face: Face) -> str:
    kinds = PARAMETERS["pedal_kind"].options
    sweep = (f"the sweep says {kinds[v['sweep_kind']]}" if v["sweep_stated"] else
             f"the sweep says nothing and was taken for {kinds[v['sweep_kind']]}")
    return (f"This log was made of a pedal with {kinds[v['log_kind']]}, but {sweep}: it was judged "
            "as the sweep. Find out which is right"
            + face.of(" and state it (--pedal-kind)", " and state it on the page Decide", "")
            + ", or log the pedal that was swept")


WORDS: dict[str, Words] = {
    "foot not stated": _foot,
    "dropout in the car": _dropout,
    "lead at a rail": _at_rail,
    "track at a rail all along": lambda v, face: (
        f"Track {v['track']} stands at {_rail(v)} all along: a lead that is broken or touches "
        "would read so; see to it, or give the pedal's sweep if it does rest there."),
    "electrical, not a foot": _electrical,
    "key line still": lambda v, face: (
        f"The key wire {v['track']} stood at {v['level_volts']:.1f} V in all of this log, so the "
        f"key-ons are taken from {_FOUND_BY[v['found_by']]}: connect it behind the key switch, "
        "where it is 0 V with the key off, turn the key off and on, and log again"),
    "key line unclear": _key_unclear,
    "marks contradicted": _marks,
    "rows lost": _lost,
    "short holes": _holes,
    "readings repeat": lambda v, face: (
        f"{_STILL[v.get('role')].format(**v)} the same reading for up to {v['longest_s']:.2f} s "
        f"with the key on (first at {v['time_s']:.3f} s), in spite of noise at other times: "
        "nothing was read then. Find why the board or the logger stood still, and log again"),
    "rate too low": lambda v, face: (
        f"The readings are {1000 * v['step_s']:.0f} ms apart: a lift between two of them was not "
        f"seen, and a controller may act on one. Log at {v['least_rate_hz']:.0f} Hz or more"),
    "supply clipped": _clipped(
        "The supply", "the real supply may be higher, so every level is wrong by an unknown "
        "share, and a lift may be hidden"),
    "track clipped": _clipped("Track", "what lies beyond is not seen"),
    "away from rest": lambda v, face: (
        f"Track {v['track']} reads up to {1000 * v['off_volts']:.0f} mV from its rest on the side "
        f"away {worked(v).away} (first at {v['time_s']:.2f} s), where no pedal can go: a lead that "
        "floats, or something in the car that pulls it. What it was to read then is not known: "
        "find it, and log again"),
    "track not logged": lambda v, face: (
        f"Track {v['track']} of the sweep is not in this log, so nothing is known of it in the "
        "car: log every track together"),
    "supply not logged": _no_supply,
    "reference contradicted": _reference,
    "reference contradicted, ratio stands": lambda v, face: (
        f"{_reference(v, face)}. The supply was logged too, so the tracks' share of it stands"),
    "another kind of pedal": _another_kind,
    "both directions closed": BESIDE["both directions closed"],
    "supply moves a fixed sensor": lambda v, face: (
        f"The supply read {v['lowest_volts']:.2f} to {v['highest_volts']:.2f} V with the key on, "
        "and these sensors keep their volts: a controller that measures by that supply reads them "
        f"up to {v['off_percent']:.1f} % further {worked(v).towards}, more than the "
        f"{v['allowed_percent']:.3g} % that the dead band allows. Find why it moves, or state more"
        f"{face.of(' (--supply-tolerance)', '')}"),
    "supply moves the readings": lambda v, face: (
        f"The supply read {v['lowest_volts']:.2f} to {v['highest_volts']:.2f} V with the key on, "
        "and the tracks follow it: a controller that measures in volts, not by that supply, reads "
        f"them up to {v['off_percent']:.1f} % further {worked(v).towards}, more than the "
        f"{v['allowed_percent']:.3g} % that the dead band allows. Find why it moves, or state more"
        f"{face.of(' (--supply-tolerance)', '')}"),
    "rest is not the sweep's": _moved,
    "one key-on lifts": _stray,
    "shift or alias": _alias,
    # Of the log whose allowance the values carry.
    "log in the values": lambda v, face: (
        f"What the car adds was taken from the key-on log {v['log']} (contactor at its key-ons: "
        f"{CONTACTOR_WORDS[v['contactor']]}): log again after any change to wiring, ground or "
        "pedal."),
    "log too noisy": lambda v, face: (
        f"In {v['log']} the noise would pass the start of travel of the sweep alone "
        f"({starts_text(v['starts'])}): take that value out where it is entered, and find what "
        "disturbs the reading."),
    "log passed the start of travel": _passed,
    "log not read all the time": _not_read,
    "moves with warmth": warmth_line,
    "brake with pedal in the log": brake_line,
}
