"""What a log lets count for what the car adds: the measured bound, or the assumed one.

A bound below the assumed allowance counts only when the contactor closed at these key-ons: what
the car adds when it closes is not in a log in which it stays open.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.coverage_gaps import unread_remedy
from analysis.key_on.opening import HINDERS, withholding
from analysis.key_on.results import KeyOnFindings, TrackKeyOn, TrackVerdict, Unread
from analysis.model.recording import CONTACTOR, Recording
from analysis.model.safe_rounding import safely_rounded
from analysis.parameters import Parameters
from analysis.pedal.car_returns import CarReturns
from analysis.pedal.dead_band import CarAddition

# How a person reads it: the very words of the option and of the header.
CONTACTOR_WORDS = {"open": "open", "closed": "closed", None: "not stated"}
NEXT = "log again with the contactor closed: wheels off the ground, somebody at the disconnect"
# Hindrances that leave the rest before key-on as it is.
_NO_MATTER_AT_REST = ("contactor open", "contactor not stated")
EVERY_READING = "every reading"
STATE = (f"if the contactor closed at these key-ons, state it (--contactor closed, or on the page "
         f"In the car); else {NEXT}")


def contactor_of(recording: Recording, stated: str | None = None) -> tuple[str | None, str | None]:
    """Return "open", "closed" or None (not stated), and a note when the header's word is unknown.

    stated: what the user says of a log; None takes the word in its header.
    """
    word = stated if stated is not None else recording.extra.get("contactor")
    if word is None or word in CONTACTOR:
        return (None if word is None else str(word)), None
    return None, (f"The log's header says contactor = {str(word)[:40]!r}; known are "
                  f"{' and '.join(CONTACTOR)}, so it is taken as not stated.")


@dataclass(frozen=True)
class Hindrance:
    """Hold what keeps a log's own bound from counting where it is below the assumed allowance.

    brief: in few words; needed: what a log must have; here: how this one was; so: what may be
    hidden by that; then: what to do.
    """

    brief: str
    needed: str
    here: str
    so: str
    then: str


def hindrances(recording: Recording, contactor: str | None,
               unread: Mapping[str, Unread],
               known: Iterable[Finding] = (),
               power: bool | None = None) -> tuple[Hindrance, ...]:
    """Return why a bound below the assumed allowance does not count; empty when it does.

    known: what was found in the log. power: readings of it asked for power.
    """
    found = [Hindrance(*HINDERS[code])
             for code in dict.fromkeys(f.code for f in known) if code in HINDERS]
    if power:
        found.append(Hindrance("power came", "no reading past start of travel",
                               "a reading passed start of travel",
                               "what lifted it may lift the other track next time",
                               "find what lifts the reading, mend it, and log again"))
    if contactor == "open":
        found.append(Hindrance("contactor open", "the contactor closed",
                               "the contactor stayed open",
                               "what it adds when it closes may not be in this log", NEXT))
    elif contactor is None:
        found.append(Hindrance("contactor not stated", "the contactor closed",
                               "the contactor was not stated to close at these key-ons",
                               "what it adds when it closes may not be in this log", STATE))
    if recording.supply is None:
        found.append(Hindrance("supply not logged", "the supply",
                               "the supply of the tracks was not logged",
                               "a sag of it at key-on may hide a lift",
                               "wire the supply to an input too, and log again"))
    if unread:
        found.append(Hindrance("readings missing", EVERY_READING, "readings are missing",
                               "a lift there was not seen",
                               unread_remedy(unread)))
    return tuple(found)


def additions(tracks: Mapping[str, TrackKeyOn], parameters: Parameters,
              hindered: tuple[Hindrance, ...],
              known: Iterable[Finding] = (), key_ons: int = 0,
              returns: Mapping[str, CarReturns] | None = None) -> dict[str, CarAddition]:
    """Return what counts as the car's part for each track; empty when a bound is missing.

    Not hindered: the measured bound. Otherwise the larger of it and the assumed allowance.
    known: what was found in the log; some of it lets no allowance be taken from it at all
    (analysis.key_on.opening): then empty too. key_ons: how many the bounds are of. returns: of
    the pedal as installed, by track; the contactor does not matter to them, whatever else hinders
    does.
    """
    if withholding(known) or not all(np.isfinite(t.lift_bound_volts) for t in tracks.values()):
        return {}
    sure = all(h.brief in _NO_MATTER_AT_REST for h in hindered)
    return {name: replace(_addition(track, parameters, hindered, key_ons),
                          returns=(returns or {}).get(name) if sure else None)
            for name, track in tracks.items()}


def _addition(track: TrackKeyOn, parameters: Parameters,
              hindered: tuple[Hindrance, ...], key_ons: int) -> CarAddition:
    lift, assumed = track.lift_bound_volts, parameters.car_allowance_volts
    if not hindered or lift >= assumed:
        return CarAddition(lift, track.lift_basis, "measured", key_ons)
    why = (f"an allowance until a log with {listed([h.needed for h in hindered])} measures it; "
           f"{listed([h.here for h in hindered])}, where this log's bound was {lift * 1e3:.1f} mV")
    return CarAddition(assumed, why, "assumed")


def listed(words: list[str]) -> str:
    """Return words as a list in a sentence."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def judged_starts(findings: KeyOnFindings) -> str:
    """Return the starts of travel that readings passed, as their sheet states them."""
    return start_of(findings, tuple(t.column for t in findings.verdict.tracks.values()
                                    if t.applications))


def start_of(findings: KeyOnFindings, columns: tuple[str, ...]) -> str:
    """Return the starts of travel that these tracks were judged by, as their sheet states them."""
    return ", ".join(f"{c} {_as_stated(findings.verdict.tracks[c], findings.tracks[c].direction)} V"
                     for c in columns)


def _as_stated(track: TrackVerdict, direction: str) -> str:
    """Return a start of travel in whole mV away from rest; as it was typed where it was typed."""
    volts = track.start_of_travel_volts
    if abs(volts - round(volts, 4)) < 1e-9 and abs(volts - round(volts, 3)) > 1e-9:
        return f"{volts:.4f}"
    return f"{safely_rounded(volts, 3, 'up' if direction == 'rising' else 'down'):.3f}"
