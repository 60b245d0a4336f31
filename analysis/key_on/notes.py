"""What is missing or weak in a key-on log, as notes: nothing of it changes a verdict."""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.key_on.cycles import KeyTimes
from analysis.key_on.presses import TrackFacts
from analysis.key_on.results import KeyCycle
from analysis.model.recording import Recording
from analysis.pedal.car_returns import enough_in_the_car, installed
from analysis.pedal.dead_band import CarAddition
from analysis.pedal.tracks import TrackFindings

BRAKE_NOT_TOLD = (
    "The brake line never changed, the track is not there, or full travel is unknown: brake and "
    "pedal together cannot be told (give the pedal's sweep, or full_travel).")


def log_notes(recording: Recording, times: KeyTimes, cycles: Sequence[KeyCycle],
              facts: Sequence[TrackFacts], gaps: int) -> list[str]:
    """Return the notes of a log; gaps: at how many places rows are missing."""
    notes = []
    if recording.purpose != "key-on":
        notes.append(f"This was recorded as a {recording.purpose}, not as a key-on log; what "
                     "follows holds only if the foot was off the pedal.")
    if times.found_by in ("mark", "signal"):
        notes.append(f"Key-on was found by {times.found_by}: its time is unsure by "
                     f"{times.unsure_s:g} s; wire the key line to log it exactly.")
    without = [c.number for c in cycles
               if all(np.isnan(t.before_volts) for t in c.tracks.values())]
    if without:
        notes.append(f"No rest before key-on in {_cycles(without)}: no shift there; start logging "
                     "with the key off and the pedal fed.")
    short = [c.number for c in cycles if c.number not in without
             and all(np.isnan(t.shift.value) for t in c.tracks.values())]
    if short:
        notes.append(f"No shift in {_cycles(short)}: too little rest before key-on or settled "
                     "rest after it; leave the key off, then on, for 10 s or more each.")
    if len(cycles) == 1:
        notes.append("One key-on says nothing of how the next differs; log more.")
    if gaps:
        notes.append(f"Samples are missing at {gaps} place{'s' * (gaps != 1)}; what happened "
                     "there is not known.")
    notes += [f"Track {fact.column} is taken for {'rising' if fact.sign > 0 else 'falling'} "
              f"because {fact.why}; give the pedal's sweep to be sure."
              for fact in facts if fact.guessed]
    return notes


def _cycles(numbers: Sequence[int]) -> str:
    first = ", ".join(map(str, numbers[:-1]))
    return f"cycles {first} and {numbers[-1]}" if first else f"cycle {numbers[-1]}"


def returns_note(swept: Mapping[str, TrackFindings], car: Mapping[str, CarAddition]) -> list[str]:
    """Return what the returns in the car stand for beside those of the sweep, or nothing."""
    for name, addition in car.items():
        track, here = swept.get(name), addition.returns
        if track is None or here is None or not here.levels:
            continue
        counted = len(here.levels)
        if installed(track, here) is not None:
            return [f"{counted} key-ons followed a press: as returns of the pedal as installed "
                    f"they stand in the dead band for the {track.rest_levels.size} of the sweep."]
        return [f"{counted} of {enough_in_the_car(track)} key-ons that follow a press are logged; "
                "from then on they stand in the dead band for the returns of the sweep."]
    return []
