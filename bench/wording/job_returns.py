"""How the key-ons of a drive count toward the dead band's promise, in words."""

from collections.abc import Sequence

from bench.wording.face import listed
from bench.wording.key_on_allowance import HINDRANCES

# Code -> why none of a drive's key-ons counts, beside the hindrances of any key-on log.
_HIDDEN = {
    "no key line": "the key line does not show them",
    "not judged": "the log cannot be judged as a key-on log",
    "file changed": "its file is gone or was changed since",
    "no rest after a press": "none follows a return with its rest read before it (the key may feed "
    "the pedal)",
    "before the sweep": "it was driven before the newest sweep",
    "simulated": "it was driven on a simulated board, which says nothing of this pedal",
    "power came": "readings passed the start of travel at a key-on",
    "lead at a rail": "a lead stood at a rail",
    "track at a rail all along": "a track stood at a rail all along",
    "rest is not the sweep's": "the pedal rests elsewhere than in the sweep",
    "another kind of pedal": "it is the log of another kind of pedal than the sweep",
    "electrical, not a foot": "something moved both tracks that was no driver",
    "one key-on lifts": "one key-on in many lifts a track"}


def hidden_words(codes: Sequence[str]) -> str:
    """Return why none of a drive's key-ons counts."""
    return listed([_HIDDEN[c] if c in _HIDDEN else HINDRANCES[c][2] for c in codes])


def counted_words(of_log: int, cold: int, warm: int, least: int, stand: bool) -> str:
    """Return how many key-ons count toward the promise without and with those of the drive."""
    count = of_log + cold + warm
    then = ("they stand in the dead band for the returns of the sweep" if stand else
            f"from {least} on they stand in the dead band for the returns of the sweep")
    return (f"key-ons that count toward the promise: {of_log} before this drive, {count} with its "
            f"{cold + warm} ({cold} cold, {warm} warm); {then}")


def not_counted_words(of_log: int, codes: Sequence[str]) -> str:
    """Return that none of a drive's key-ons counts, and why."""
    return (f"key-ons that count toward the promise: {of_log} before this drive, {of_log} with it; "
            f"none of it counts: {hidden_words(codes)}")


def starts_words(before: Sequence[tuple[str, float]], now: Sequence[tuple[str, float]]) -> str:
    """Return the starts of travel without and with the drive; (track, volts), NaN: none."""
    after = dict(now)
    return "start of travel by that: " + ", ".join(
        f"{n} {_volts(v)} before, {_volts(after[n])} now" for n, v in before)


def _volts(volts: float) -> str:
    return f"{volts:.3f} V" if volts == volts else "none"
