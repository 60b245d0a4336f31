"""Why a key-on log's own bound counts or does not, and on what ground a bound stands."""

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.key_on.car import hindrances
from analysis.key_on.results import KeyOnFindings, Unread
from bench.wording.dead_band import ground
from bench.wording.face import TERMINAL, Face, Values, Words, capital, listed
from bench.wording.key_on_found import unread_of, unread_remedy
from bench.wording.limb import FOOT, HAND, Limb, code_words, limb_of, worked
from bench.wording.reasons import in_words

_NEXT = "log again with the contactor closed: wheels off the ground, somebody at the disconnect"
# Code -> (in few words, what a log must have, how this one was, what may be hidden by that, what
# to do), as a Hindrance has them.
HINDRANCES: dict[str, tuple[str, str, str, str, str]] = {
    "foot not stated": (
        "foot not stated", "no movement like a foot's, or a stated one",
        "what looks like a foot's press was left out and nothing stated a foot",
        "a lift by the car may be among it",
        "log again with the foot off, or with a mark \"foot\" at each press"),
    "dropout in the car": (
        "contact lost", "a contact that holds", "a track touched a rail for a moment",
        "a lift there was not seen",
        "move the leads and the plug, mend the contact, and log again"),
    "key line unclear": (
        "key wire unclear", "a key wire at two levels", "the key wire stands at no two levels",
        "the time of key-on is not known by it",
        "wire the key channel to what the key switches, and log again"),
    "key line still": (
        "key wire still", "a key wire that moves", "the key wire never moved",
        "the time of key-on is not known by it",
        "wire the key channel to what the key switches, and log again"),
    "rows lost": (
        "rows lost", "every row", "rows were lost with the key on", "a lift there was not seen",
        "find why rows are lost (cable, port, a busy laptop), and log again"),
    "rate too low": (
        "read too seldom", "ten readings a second or more", "the readings lie too far apart",
        "a lift between two of them was not seen", "log at a higher rate"),
    "supply clipped": (
        "supply clipped", "a supply within its input's range",
        "the supply reads the end of its input's range", "every level may be wrong",
        "put a divider with head-room before the supply's input, and log again"),
    "track clipped": (
        "track clipped", "tracks within their inputs' range",
        "a track reads the end of its input's range", "a lift beyond it was not seen",
        "put a divider with head-room before the track's input, and log again"),
    "away from rest": (
        "away from rest", "tracks that stay at rest or beyond",
        "a track read far from rest on the side away from pressed",
        "what it was to read then is not known", "find the lead or what pulls it, and log again"),
    "readings repeat": (
        "readings repeat", "readings that are read anew each time",
        "an input, or all of them, repeated the same reading", "a lift then was not seen",
        "find why the board or the logger stood still, and log again"),
    "track not logged": (
        "a track not logged", "every track of the pedal", "a track of the sweep is not in it",
        "what the car does to that one was not seen", "log every track together"),
    "marks contradicted": (
        "marks off", "a key wire, or marks where the key was turned",
        "the marks lie seconds off what the signal shows", "the time of key-on is not known",
        "wire the key line, and log again"),
    "power came": (
        "power came", "no reading past start of travel", "a reading passed start of travel",
        "what lifted it may lift the other track next time",
        "find what lifts the reading, mend it, and log again"),
    "contactor open": (
        "contactor open", "the contactor closed", "the contactor stayed open",
        "what it adds when it closes may not be in this log", _NEXT),
    "contactor not stated": (
        "contactor not stated", "the contactor closed",
        "the contactor was not stated to close at these key-ons",
        "what it adds when it closes may not be in this log", ""),
    "supply not logged": (
        "supply not logged", "the supply", "the supply of the tracks was not logged",
        "a sag of it at key-on may hide a lift",
        "wire the supply to an input too, and log again"),
    "readings missing": (
        "readings missing", "every reading", "readings are missing",
        "a lift there was not seen", ""),
}

# Those of a hand throttle that differ.
HINDRANCES_BY_HAND: dict[str, tuple[str, str, str, str, str]] = {
    "foot not stated": (
        "hand not stated", "no movement like a hand's, or a stated one",
        "what looks like a hand's opening was left out and nothing stated a hand",
        "a lift by the car may be among it",
        "log again with the hand off, or with a mark \"hand\" at each opening"),
    "away from rest": (
        "away from rest", "tracks that stay at rest or beyond",
        "a track read far from rest on the side away from full travel",
        "what it was to read then is not known", "find the lead or what pulls it, and log again"),
}
# In few words, for a rail or a rubric.
BRIEF = {"foot not stated": "foot not stated", "key line still": "key wire still",
         "dropout in the car": "contact lost", "lead at a rail": "a lead broke",
         "track at a rail all along": "track at a rail",
         "rest is not the sweep's": "rest is not the sweep's",
         "another kind of pedal": "another kind of pedal",
         "supply moves a fixed sensor": "supply moves", "supply moves the readings": "supply moves",
         "both directions closed": "both directions closed",
         "electrical, not a foot": "both lift by electricity",
         "one key-on lifts": "one key-on lifts", "rows lost": "rows lost",
         "rate too low": "read too seldom", "supply clipped": "supply clipped",
         "track clipped": "track clipped", "supply not logged": "supply not logged",
         "marks contradicted": "marks off", "readings repeat": "readings repeat",
         "track not logged": "a track not logged", "away from rest": "a lead floats",
         "key line unclear": "key wire unclear", "reference contradicted": "the board's supply"}


@dataclass(frozen=True)
class Hindrance:
    """Hold in words what keeps a log's own bound from counting below the assumed allowance.

    brief: in few words; needed: what a log must have; here: how this one was; so: what may be
    hidden by that; then: what to do.
    """

    brief: str
    needed: str
    here: str
    so: str
    then: str


def _row(code: str, of: Limb) -> tuple[str, str, str, str, str]:
    return HINDRANCES_BY_HAND.get(code, HINDRANCES[code]) if of is HAND else HINDRANCES[code]


def brief_reason(code: str, of: Limb) -> str:
    """Return a code of a log's finding in few words; one without words of its own as it is."""
    return BRIEF.get(code, code) if code_words(code, of) == code else code_words(code, of)


def hindrance(code: str, unread: Mapping[str, Unread], face: Face = TERMINAL,
              of: Limb = FOOT) -> Hindrance:
    """Return a hindrance in words; unread: what this log did not read. of: what works the pedal."""
    brief, needed, here, so, then = _row(code, of)
    if code == "readings missing":
        then = unread_remedy(unread)
    if code == "contactor not stated":
        # A sheet that the window saves and one that a command prints say the same here.
        how = face.of("as closed", "on the page In the car", "as closed")
        then = f"if the contactor closed at these key-ons, state it {how}; else {_NEXT}"
    return Hindrance(brief, needed, here, so, then)


def hindrances_of(findings: KeyOnFindings, face: Face = TERMINAL) -> list[Hindrance]:
    """Return all that hinders the bound of a log, in words."""
    of = limb_of(findings.recording.pedal.use)
    return [hindrance(code, findings.unread, face, of) for code in hindrances(
        findings.recording, findings.contactor, findings.unread, findings.found,
        findings.verdict.applied)]


def allowance_line(v: Values, face: Face = TERMINAL) -> str:
    """Return what counts for what the car adds, on what ground, and what to do next."""
    assumed = f"{v['assumed_volts'] * 1e3:.1f} mV"
    counted = f"{v['key_ons']} key-on{'s' * (v['key_ons'] != 1)}"
    if v["car"] and not v["hindered"]:
        each = ", ".join(f"{n} at most {volts * 1e3:.1f} mV" for n, volts, *_ in v["car"])
        return (f"Measured allowance for the car, contactor closed: {each}, a bound from "
                f"{counted}, instead of the assumed {assumed}; {_after(v)}.")
    if v["car"]:
        each = ", ".join(f"{n} {volts * 1e3:.1f} mV ({ground(*basis)})"
                         for n, volts, *basis in v["car"])
        unread = unread_of(v["unread"])
        rows = [hindrance(code, unread, face, worked(v)) for code in v["hindered"]]
        reasons = capital(listed([f"{h.here}, so {h.so}" for h in rows]))
        return (f"{reasons}: the larger of the measured and the assumed allowance of {assumed} "
                f"counts, from {counted}: {each}; {_after(v)}. Next: {rows[0].then}.")
    if v["withheld"]:
        beyond = (f"; and the assumed {assumed} do not hold either: a reading lifted by "
                  f"{v['furthest_volts'] * 1e3:.1f} mV"
                  if v["furthest_volts"] > v["assumed_volts"] else f"; the assumed {assumed} stay")
        of = f", track {v['withheld_track']}" if v["withheld_track"] else ""
        return f"No allowance is taken from this log ({v['withheld']}{of}){beyond}."
    basis = "no track was logged" if v["basis"] is None else in_words(v["basis"], face)
    return f"The assumed allowance stays: {basis}."


def _after(v: Values) -> str:
    if not v["issued"]:
        return ("no settings are issued anew: the sweep comes first" if v["swept"] else
                "give the pedal's sweep to have the settings issued anew with that")
    starts = ", ".join(f"{n} {volts:.3f} V" for n, volts in v["starts"])
    none = (f", and there is no start of travel for track {v['without_start']}"
            if v["without_start"] else "")
    at = f", start of travel {starts}" if starts else ""
    return f"the settings are issued anew with that{at}{none}"


def what_to_do(code: str, of: Limb = FOOT) -> str:
    """Return what to do about a finding that hides a part of a log, or nothing."""
    return _row(code, of)[4] if code in HINDRANCES else ""


def _hindered(v: Values, face: Face) -> str:
    rows = [_row(code, worked(v)) for code in v["hindered"]]
    return (f"an allowance until a log with {listed([needed for _, needed, *_ in rows])} measures "
            f"it; {listed([here for _, _, here, *_ in rows])}, where this log's bound was "
            f"{v['bound_volts'] * 1e3:.1f} mV")


def _few(v: Values, face: Face) -> str:
    few = ("no key-on with a rest before it was", "one key-on with a rest before it was",
           "two key-ons with a rest before them were")[v["logged"]]
    seen = f"; seen: {_largest(v['largest_volts'])}" if v["logged"] else ""
    return f"{few} logged, too few for a bound; log at least {v['least']}{seen}"


def _bound(v: Values, face: Face) -> str:
    text = (f"{v['logged']} key-ons, {_largest(v['largest_volts'])}; bound for the next "
            f"{v['key_ons']} at {100 * v['confidence']:g}% confidence")
    text += (f", with noise over {v['hours']:g} key-on hours" if v["noise_known"] else
             f"; the noise over {v['hours']:g} key-on hours is not in it (too little settled rest "
             "to know it)")
    if "room_volts" in v:
        text += (f"; no reading lies beyond the end of the supply, {v['room_volts'] * 1e3:.0f} mV "
                 "away")
    return text


def _largest(volts: float) -> str:
    """Return the largest lift as words; readings that all stayed short of rest lift nothing."""
    if volts < 0:
        return f"no lift (always {-volts * 1e3:.1f} mV short of the rest before, or more)"
    return f"largest lift {volts * 1e3:.1f} mV"


def _two_kinds(v: Values, face: Face) -> str:
    return (f"no bound: {v['unlike']} of {v['of']} key-ons lifted unlike the others "
            f"({1e3 * v['furthest_volts']:.1f} mV against at most {1e3 * v['usual_volts']:.1f} "
            f"mV), so at most {100 * v['share_bound']:.1f} % of key-ons are such, too many for the "
            f"next {v['key_ons']}")


# Reasons behind what counts for the car.
WORDS: dict[str, Words] = {
    "car hindered": _hindered,
    "few key-ons": _few,
    "bound of key-ons": _bound,
    "key-ons of two kinds": _two_kinds,
}
