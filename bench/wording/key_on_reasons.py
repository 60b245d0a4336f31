"""Why a key-on log shows what it shows: its notes, its proof, and where a shift comes from."""

import math

from analysis.key_on.results import CommonMode
from analysis.model.recording import CONTACTOR
from bench.wording.face import TERMINAL, Face, Values, Words, listed, small
from bench.wording.limb import worked
from bench.wording.reasons import in_words

# How the direction of a track is known.
DIRECTION = {"sweep": "the sweep", "full travel": "full travel as entered",
             "release": "release and start of travel as entered",
             "start of travel": "start of travel against the rest",
             "above half the supply": "its rest lies above half the supply",
             "below half the supply": "its rest lies below half the supply"}


def common_text(common: CommonMode, face: Face = TERMINAL) -> str:
    """Return where the shift of both tracks comes from."""
    text = in_words(common.why, face)
    if common.as_measured:
        text = f"In volts as measured, not stated at nominal supply: {small(text)}"
    return f"{text} Or the supply sags: it was not logged." if common.supply_unseen else text


def _cycles(v: Values) -> str:
    return f"cycle{'s' * (len(v['cycles']) != 1)} {listed([str(n) for n in v['cycles']])}"


def _returns(v: Values, face: Face) -> str:
    if v["stand"]:
        return (f"{v['logged']} key-ons followed {_a(worked(v).press)}: as returns of the pedal "
                "as installed "
                f"they stand in the dead band for the {v['of_the_sweep']} of the sweep.")
    return (f"{v['logged']} of {v['least']} key-ons that follow {_a(worked(v).press)} are logged; "
            "from "
            "then on they stand in the dead band for the returns of the sweep.")


def _a(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeio' else 'a'} {noun}"


def _brake(v: Values, face: Face) -> str:
    return ("The brake line never changed, the track is not there, or full travel is unknown: "
            "brake and pedal together cannot be told (give the pedal's sweep, or full_travel).")


def _guessed(v: Values, face: Face) -> str:
    return (f"Track {v['track']} is taken for {'rising' if v['rising'] else 'falling'} because "
            f"{DIRECTION[v['known_by']]}; give the pedal's sweep to be sure.")


def _shifts(v: Values) -> str:
    return ", ".join(f"{n} {volts * 1e3:+z.1f} mV" for n, volts in v["shifts"])


def _several(v: Values, face: Face) -> str:
    words = " or ".join(
        f"track {column} alone" if kind == "one track" else
        {"ground offset": "a ground offset", "pedal moved": "a pedal that moved"}[kind]
        for kind, column in v["kinds"])
    return f"The shifts ({_shifts(v)}) fit {words}; log more key-ons."


def _alike(v: Values, face: Face) -> str:
    tail = (" A pedal that itself moved would look the same on tracks of equal slope."
            if v["equal_slopes"] else "")
    return f"Both tracks' volts shift alike ({_shifts(v)}): a ground offset.{tail}"


def _neither(v: Values, face: Face) -> str:
    where = ("at any key-on" if v["all_seen"] else
             "at the key-ons with a rest before them; nothing is known of the others")
    return f"Neither track moves by more than its uncertainty, or {v['most_mv']:g} mV, {where}."


def _little_rest(v: Values, face: Face) -> str:
    # Cut, not rounded: 59.96 s would read as the 60.0 s that are asked for.
    return (f"Not enough data: {math.floor(10.0 * v['seconds']) / 10.0:.1f} s of settled rest with "
            f"the key on; log at least {v['least_s']:.0f} s")


def _fitted(v: Values, face: Face) -> str:
    return (f"noise model: {v['parts']} Gaussian{'s' * (v['parts'] != 1)}, fitted to "
            f"{v['seconds']:.0f} s; largest excursion {v['furthest_sigmas']:.2g} sigma, start of "
            f"travel is {v['level_sigmas']:.3g} sigma from rest; a disturbance that never came in "
            "this log is not in it")


WORDS: dict[str, Words] = {
    # Notes.
    "recorded as another": lambda v, face: (
        f"This was recorded as a {v['purpose']}, not as a key-on log; what follows holds only if "
        f"the {worked(v).limb} was off the {worked(v).thing}."),
    "key-on unsure": lambda v, face: (
        f"Key-on was found by {v['found_by']}: its time is unsure by {v['unsure_s']:g} s; wire the "
        "key line to log it exactly."),
    "no rest before": lambda v, face: (
        f"No rest before key-on in {_cycles(v)}: no shift there; start logging with the key off "
        "and the pedal fed."),
    "no shift at key-ons": lambda v, face: (
        f"No shift in {_cycles(v)}: too little rest before key-on or settled rest after it; leave "
        "the key off, then on, for 10 s or more each."),
    "one key-on only": lambda v, face: (
        "One key-on says nothing of how the next differs; log more."),
    "rows missing in the log": lambda v, face: (
        f"Samples are missing at {v['places']} place{'s' * (v['places'] != 1)}; what happened "
        "there is not known."),
    "direction guessed": _guessed,
    "direction in the log": lambda v, face: (
        "Direction at the key-ons: " + listed([f"{state} at {times}"
                                               for state, times in v["states"]])
        + f"; moved {v['changes']} time{'s' * (v['changes'] != 1)} in this log."),
    "returns in the car": _returns,
    "brake not told": _brake,
    "contactor word unknown": lambda v, face: (
        f"The log's header says contactor = {v['word']!r}; known are {listed(CONTACTOR)}, so it is "
        "taken as not stated."),
    # Where a shift comes from.
    "one track in the log": lambda v, face: (
        "The log holds one track, so its own shift and a ground offset cannot be told apart."),
    "no shift on both tracks": lambda v, face: (
        "No shift was measured on both tracks, so there is none to share out."),
    "neither track shifts": lambda v, face: (
        "Neither track moves by more than its uncertainty, or 1 mV."),
    "shifts fit several": _several,
    "shift unequally": lambda v, face: (
        f"The tracks shift unequally ({_shifts(v)}): at most {v['shared_volts'] * 1e3:z.1f} mV is "
        "shared (ground), the rest is the tracks' own (field or wiring)."),
    "shift alike": _alike,
    "one track shifts": lambda v, face: (
        f"Only track {v['track']} shifts ({_shifts(v)}): its own wiring, or the field near it."),
    "pedal itself moved": lambda v, face: (
        f"Both tracks move in the pedal's own ratio ({_shifts(v)}): the pedal itself moved."),
    "no shift, at a rail": lambda v, face: (
        "No shift is shared by the tracks; a track stood at a rail in this log, which is told "
        "above."),
    "one key-on moved it": lambda v, face: (
        "On average neither track shifts by more than its uncertainty, or 1 mV; at key-on "
        f"{v['key_on']} track {v['track']} moved by {1e3 * v['volts']:.1f} mV."),
    "neither track moves": _neither,
    # What a proof rests on, or lacks.
    "no start to pass": lambda v, face: (
        "No start of travel was given, so there is nothing to pass"),
    "few stretches": lambda v, face: (
        f"Not enough data: {v['stretches']} of at least {v['least']} stretches of 2 s or more "
        f"without a {worked(v).limb}, a gap or a missing reading; mend what interrupts the log, "
        "or log longer"),
    "noise fits nothing": lambda v, face: (
        "Not enough data: the noise fits no mixture of Gaussian parts (its tail is "
        f"{v['tail_off']:.1f} times off); log longer, or mend what disturbs it"),
    "rest beyond start": lambda v, face: (
        f"The settled rest itself lies beyond start of travel for {v['share']:.0%} of the time, so "
        f"{worked(v).power} is applied even without noise"),
    "little settled rest": _little_rest,
    "noise below a step": lambda v, face: (
        f"Not enough data: the noise ({v['noise_volts'] * 1e3:.2f} mV) is below the converter's "
        f"step ({v['step_volts'] * 1e3:.2f} mV), so its tail cannot be seen; log with a finer "
        "converter"),
    "noise fitted": _fitted,
}
