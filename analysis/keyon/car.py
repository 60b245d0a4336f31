"""What a log lets count for what the car adds: the measured bound, or the assumed one.

A bound below the assumed allowance counts only when the contactor closed at these key-ons: what
the car adds when it closes is not in a log in which it stays open.
"""

from collections.abc import Mapping

import numpy as np

from analysis.deadband import CarAddition
from analysis.keyon.results import KeyOnFindings, TrackKeyOn, TrackVerdict
from analysis.recording import CONTACTOR, Recording
from analysis.rounding import safely_rounded
from analysis.verdict import Sentence
from analysis.wishes import Wishes

# How a person reads it: the very words of the option and of the header.
CONTACTOR_WORDS = {"open": "open", "closed": "closed", None: "not stated"}
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


def judged_starts(findings: KeyOnFindings) -> str:
    """Return the starts of travel that readings passed, as their sheet states them."""
    return ", ".join(f"{t.column} {_as_stated(t, findings.tracks[t.column].direction)} V"
                     for t in findings.verdict.tracks.values() if t.applications)


def _as_stated(track: TrackVerdict, direction: str) -> str:
    """Return a start of travel in whole mV away from rest; as it was typed where it was typed."""
    volts = track.start_of_travel_volts
    if abs(volts - round(volts, 4)) < 1e-9 and abs(volts - round(volts, 3)) > 1e-9:
        return f"{volts:.4f}"
    return f"{safely_rounded(volts, 3, 'up' if direction == 'rising' else 'down'):.3f}"


def said_with_values(findings: KeyOnFindings, log: str) -> tuple[Sentence, ...]:
    """Return what has to be known with the values issued anew by this log; log: its name."""
    result = [Sentence(1, f"What the car adds was taken from the key-on log {log} (contactor at "
                          f"its key-ons: {CONTACTOR_WORDS[findings.contactor]}): log again after "
                          "any change to wiring, ground or pedal.")]
    if findings.verdict.applied is True:
        each = judged_starts(findings)
        result.insert(0, Sentence(1, (
            f"In {log} readings passed the start of travel of the sweep alone ({each}): power "
            "would have been applied. Take that value out where it is entered and find what lifts "
            "the reading; the values here lie beyond every reading of that log.")))
    result += [Sentence(1, note) for note in findings.notes if "than in the sweep" in note]
    return tuple(result)
