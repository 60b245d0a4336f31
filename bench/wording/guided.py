"""What the person at the pedal is told while a guided sweep runs, keyed by code."""

from bench.wording.face import Face, Values, Words
from bench.wording.limb import FOOT, Limb, worked


def guide_words(code: str, values: Values, face: Face) -> str:
    """Return the sentence of a code for a face, without a full stop."""
    return _WORDS[code](values, face)


def counted(seen: tuple[int, int], wanted: tuple[int, int], of: Limb = FOOT) -> tuple[str, ...]:
    """Return what counts of slow presses and of lift-offs, each of so many wanted."""
    return tuple(f"{there} of {asked} {what}" for there, asked, what in zip(
        seen, wanted, (of.presses, f"{of.lift_off}s"), strict=True) if asked)


def usable(seen: tuple[int, int], wanted: tuple[int, int], still: tuple[str, ...] = (),
           of: Limb = FOOT) -> str:
    """Return what can be used of a sweep that is over; still: tracks that never moved."""
    stood = f", track {', '.join(still)} stood still" if still else ""
    return f"{', '.join(counted(seen, wanted, of))} usable{stood}"


def _ends(face: Face) -> str:
    return face.of(" (Ctrl-C ends)", "")


def _more(v: Values, face: Face) -> str:
    short, torn = v["short"], v["torn"]
    what = (f"{worked(v).times(short)} did not reach the stop" if short else
            f"readings are missing in {torn} of them" if torn else
            f"after {v['left_pressed']} of them the {worked(v).thing} was not back")
    return f"{what}: {v['more']} more"


_WORDS: dict[str, Words] = {
    "press unseen": lambda v, face: (
        f"no {worked(v).press} was seen: " + (
            "press the pedal all the way down now" if worked(v).by_foot else
            "turn the throttle all the way now")),
    "press still unseen": lambda v, face: (
        f"still no {worked(v).press} was seen; if you are {worked(v).pressing} it, check which "
        "inputs the tracks are on and "
        f"that the pedal's supply is on{_ends(face)}"),
    "not back": lambda v, face: (
        f"the {worked(v).thing} is not back at rest: take the {worked(v).limb} right off it"),
    "more presses": _more,
    "one track still": lambda v, face: (
        f"only one track moves: track {', '.join(v['tracks'])} stands still; check that track's "
        f"three wires{_ends(face)}"),
}
