"""What a log lets count for what the car adds: the measured bound, or the assumed one.

A bound below the assumed allowance counts only when the contactor closed at these key-ons: what
the car adds when it closes is not in a log in which it stays open.
"""

from collections.abc import Mapping

import numpy as np

from analysis.deadband import CarAddition
from analysis.keyon.results import TrackKeyOn
from analysis.recording import CONTACTOR, Recording
from analysis.wishes import Wishes

# How a person reads it.
CONTACTOR_WORDS = {"open": "stays open", "closed": "closes", None: "not stated"}
NEXT = ("log again with the contactor closed: wheels off the ground, somebody at the disconnect")


def contactor_of(recording: Recording, stated: str | None = None) -> tuple[str | None, str | None]:
    """Return "open", "closed" or None (not stated), and a note when the header's word is unknown.

    stated: what the user says of a log; None takes the word in its header.
    """
    word = stated if stated is not None else recording.extra.get("contactor")
    if word is None or word in CONTACTOR:
        return (None if word is None else str(word)), None
    return None, (f"The log's header says contactor = {str(word)[:40]!r}; known are "
                  f"{' and '.join(CONTACTOR)}, so it is taken as not stated.")


def additions(tracks: Mapping[str, TrackKeyOn], wishes: Wishes,
              contactor: str | None) -> dict[str, CarAddition]:
    """Return what counts as the car's part for each track; empty when a bound is missing.

    Closed: the measured bound. Otherwise the larger of it and the assumed allowance, to either of
    which the way belongs by which the pedal rests further towards pressed than in the sweep.
    """
    if not all(np.isfinite(t.lift_bound_volts) for t in tracks.values()):
        return {}
    return {name: _addition(track, wishes, contactor) for name, track in tracks.items()}


def _addition(track: TrackKeyOn, wishes: Wishes, contactor: str | None) -> CarAddition:
    moved = max(track.rest_moved_volts, 0.0) if np.isfinite(track.rest_moved_volts) else 0.0
    lift, assumed = track.lift_bound_volts - moved, wishes.car_allowance_volts
    if contactor == "closed" or lift >= assumed:
        return CarAddition(track.lift_bound_volts, track.lift_basis)
    why = (f"an allowance until a log with the contactor closed measures it; the contactor "
           f"{'stayed open' if contactor == 'open' else 'was not stated'} where this log's "
           f"bound was {lift * 1e3:.1f} mV")
    if moved > 0:
        why += moved_text(moved)
    return CarAddition(assumed + moved, why, "assumed")


def moved_text(moved: float) -> str:
    """Return the words for a rest that lies `moved` volts further towards pressed than swept."""
    return (f"; and {moved * 1e3:.1f} mV by which the pedal rests further towards pressed here, "
            "key off, than in the sweep")
