"""What is missing or weak in a key-on log, as notes: nothing of it changes a verdict."""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.key_on.cycles import KeyTimes
from analysis.key_on.presses import TrackFacts
from analysis.key_on.results import KeyCycle
from analysis.model.finding import Reason
from analysis.model.recording import Recording
from analysis.pedal.car_returns import enough_in_the_car, installed
from analysis.pedal.dead_band import CarAddition
from analysis.pedal.tracks import TrackFindings


def log_notes(recording: Recording, times: KeyTimes, cycles: Sequence[KeyCycle],
              facts: Sequence[TrackFacts], gaps: int) -> list[Reason]:
    """Return the notes of a log; gaps: at how many places rows are missing."""
    notes = []
    if recording.purpose != "key-on":
        notes.append(Reason("recorded as another", {"purpose": recording.purpose}))
    if times.found_by in ("mark", "signal"):
        notes.append(Reason("key-on unsure", {
            "found_by": times.found_by, "unsure_s": times.unsure_s}))
    without = [c.number for c in cycles
               if all(np.isnan(t.before_volts) for t in c.tracks.values())]
    if without:
        notes.append(Reason("no rest before", {"cycles": tuple(without)}))
    short = [c.number for c in cycles if c.number not in without
             and all(np.isnan(t.shift.value) for t in c.tracks.values())]
    if short:
        notes.append(Reason("no shift at key-ons", {"cycles": tuple(short)}))
    if len(cycles) == 1:
        notes.append(Reason("one key-on only"))
    if gaps:
        notes.append(Reason("rows missing in the log", {"places": gaps}))
    return notes + [Reason("direction guessed", {
        "track": f.column, "rising": f.sign > 0, "known_by": f.why}) for f in facts if f.guessed]


def returns_note(swept: Mapping[str, TrackFindings],
                 car: Mapping[str, CarAddition]) -> list[Reason]:
    """Return what the returns in the car stand for beside those of the sweep, or nothing."""
    for name, addition in car.items():
        track, here = swept.get(name), addition.returns
        if track is None or here is None or not here.levels:
            continue
        return [Reason("returns in the car", {
            "logged": len(here.levels), "least": enough_in_the_car(track),
            "stand": installed(track, here) is not None,
            "of_the_sweep": int(track.rest_levels.size)})]
    return []
