"""What every page of the window says of a sweep as a whole, and of a log held against it."""

from collections.abc import Sequence

OF_THE_LOG = "What the log in the car says of these values."
WEAK = "What is missing or weak in this recording."
POWER = "power would be applied"
PASSED = "readings of the log in the car passed it"
NOISE = "noise passes the values"
NOISE_MORE = "the noise in the car would pass it"
NOT_ALL_THE_TIME = "not judged all the time"
READINGS_MISSING = "readings of the log in the car are missing"
BRAKE = "brake with pedal in the car"
BRAKE_MORE = "brake and pedal came together"
OWN_NOISE = "its own noise would pass it again and again"
SWEEP_AGAIN = "Sweep again, with a few quick lift-offs, and let go of the pedal first and last."
REPAIR_FIRST = "Repair it first, then sweep again: only another sweep proves it."
NO_PROMISE = "These values carry no promise yet: this sweep does not suffice, sweep again."


def not_proven(track: str, why: str) -> str:
    """Return that a track's start of travel is not proven, and why."""
    return f"Track {track}: not proven: {why.rstrip('.')}."


def noise_passes(track: str) -> str:
    """Return that a track's noise passes its start of travel."""
    return (f"Track {track}: the start of travel is not proven: its own noise would pass it again "
            "and again.")


def passed_issued(tracks: Sequence[str]) -> str:
    """Return that a log passed the values that were issued with it."""
    return ("Readings of the log in the car passed the start of travel issued with it for track "
            f"{', '.join(tracks)}: find what lifts them, and log again.")


def log_found(what: str) -> str:
    """Return what a log found, in short."""
    return f"the log in the car found: {what}"


def see_in_car(what: str) -> str:
    """Return what is doubtful, and the page that has it."""
    return f"{what} (page In the car)"
