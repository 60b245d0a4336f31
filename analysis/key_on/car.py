"""What a log lets count for what the car adds: the measured bound, or the assumed one.

A bound below the assumed allowance counts only when the contactor closed at these key-ons: what
the car adds when it closes is not in a log in which it stays open.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.opening import HINDERS, withholding
from analysis.key_on.results import TrackKeyOn, Unread
from analysis.model.finding import Reason
from analysis.model.recording import CONTACTOR, Recording
from analysis.parameters import Parameters
from analysis.pedal.car_returns import CarReturns
from analysis.pedal.dead_band import CarAddition

# Hindrances that leave the rest before key-on as it is.
_NO_MATTER_AT_REST = ("contactor open", "contactor not stated")
POWER_CAME, UNREAD = "power came", "readings missing"
CONTACTOR_OPEN, CONTACTOR_UNKNOWN = _NO_MATTER_AT_REST
SUPPLY_MISSING = "supply not logged"


def contactor_of(recording: Recording, stated: str | None = None,
                 ) -> tuple[str | None, Reason | None]:
    """Return "open", "closed" or None (not stated), and a note when the header's word is unknown.

    stated: what the user says of a log; None takes the word in its header.
    """
    word = stated if stated is not None else recording.extra.get("contactor")
    if word is None or word in CONTACTOR:
        return (None if word is None else str(word)), None
    return None, Reason("contactor word unknown", {"word": str(word)[:40]})


def hindrances(recording: Recording, contactor: str | None,
               unread: Mapping[str, Unread],
               known: Iterable[Finding] = (),
               power: bool | None = None) -> tuple[str, ...]:
    """Return the codes of why a bound below the assumed allowance does not count; empty: it does.

    known: what was found in the log. power: readings of it asked for power.
    """
    result = [code for code in dict.fromkeys(f.code for f in known) if code in HINDERS]
    return (*result, *[POWER_CAME] * bool(power),
            *[CONTACTOR_OPEN] * (contactor == "open"),
            *[CONTACTOR_UNKNOWN] * (contactor is None),
            *[SUPPLY_MISSING] * (recording.supply is None), *[UNREAD] * bool(unread))


def additions(tracks: Mapping[str, TrackKeyOn], parameters: Parameters,
              hindered: tuple[str, ...],
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
    sure = not hiding(hindered, known)
    return {name: replace(_addition(track, parameters, hindered, key_ons),
                          returns=(returns or {}).get(name) if sure else None)
            for name, track in tracks.items()}


def hiding(hindered: tuple[str, ...], known: Iterable[Finding] = ()) -> tuple[str, ...]:
    """Return the codes of what may hide a rest before key-on: then no return of the log counts.

    hindered: as of `hindrances`. The contactor does not matter to the rest before key-on.
    """
    return tuple(dict.fromkeys((*(f.code for f in withholding(known)),
                                *(h for h in hindered if h not in _NO_MATTER_AT_REST))))


def _addition(track: TrackKeyOn, parameters: Parameters,
              hindered: tuple[str, ...], key_ons: int) -> CarAddition:
    lift, assumed = track.lift_bound_volts, parameters.car_allowance_volts
    if not hindered or lift >= assumed:
        return CarAddition(lift, track.lift_basis, "measured", key_ons)
    return CarAddition(assumed, Reason("car hindered", {
        "hindered": hindered, "bound_volts": lift}), "assumed")
