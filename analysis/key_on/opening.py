"""What each thing found in a key-on log does: opens the verdict, hinders or withholds a bound."""

from collections.abc import Iterable

from analysis.model.finding import Finding, KeyOnCode

FOOT_NOT_STATED: KeyOnCode = "foot not stated"
# Not seen, and too short for a controller to act on: told beside the verdict.
HOLES: KeyOnCode = "short holes"
KEY_UNCLEAR: KeyOnCode = "key line unclear"
REFERENCE: KeyOnCode = "reference contradicted"
REFERENCE_SHARED: KeyOnCode = "reference contradicted, ratio stands"
SUPPLY_CLIPPED: KeyOnCode = "supply clipped"

# Code -> (in few words, what a log must have, how this one was, what may be hidden by that, what
# to do), as a Hindrance has them.
HINDERS: dict[str, tuple[str, str, str, str, str]] = {
    FOOT_NOT_STATED: (
        "foot not stated", "no movement like a foot's, or a stated one",
        "what looks like a foot's press was left out and nothing stated a foot",
        "a lift by the car may be among it",
        "log again with the foot off, or with a mark \"foot\" at each press"),
    "dropout in the car": (
        "contact lost", "a contact that holds", "a track touched a rail for a moment",
        "a lift there was not seen",
        "move the leads and the plug, mend the contact, and log again"),
    KEY_UNCLEAR: (
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
    SUPPLY_CLIPPED: (
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
        "all inputs repeated the same reading", "a lift then was not seen",
        "find why the board or the logger stood still, and log again"),
    "track not logged": (
        "a track not logged", "every track of the pedal", "a track of the sweep is not in it",
        "what the car does to that one was not seen", "log every track together"),
    "marks contradicted": (
        "marks off", "a key wire, or marks where the key was turned",
        "the marks lie seconds off what the signal shows", "the time of key-on is not known",
        "wire the key line, and log again"),
}
# These leave the verdict open where no reading asked for power: something was not seen.
OPENS = frozenset({FOOT_NOT_STATED, KEY_UNCLEAR, REFERENCE, "dropout in the car",
                   "key line still", "lead at a rail",
                   "track at a rail all along", "rest is not the sweep's", "rows lost",
                   "rate too low", "supply clipped", "track clipped", "supply not logged",
                   "marks contradicted", "readings repeat", "track not logged", "away from rest"})
# With one of these no allowance is taken from the log at all.
WITHHOLDS = frozenset({SUPPLY_CLIPPED, "lead at a rail", "track at a rail all along",
                       "rest is not the sweep's", "electrical, not a foot", "one key-on lifts"})

# In few words, for a rail or a rubric.
BRIEF = {"foot not stated": "foot not stated", "key line still": "key wire still",
         "dropout in the car": "contact lost", "lead at a rail": "a lead broke",
         "track at a rail all along": "track at a rail",
         "rest is not the sweep's": "rest is not the sweep's",
         "electrical, not a foot": "both lift by electricity",
         "one key-on lifts": "one key-on lifts", "rows lost": "rows lost",
         "rate too low": "read too seldom", "supply clipped": "supply clipped",
         "track clipped": "track clipped", "supply not logged": "supply not logged",
         "marks contradicted": "marks off", "readings repeat": "readings repeat",
         "track not logged": "a track not logged", "away from rest": "a lead floats",
         KEY_UNCLEAR: "key wire unclear", REFERENCE: "the board's supply"}


def gravest_first(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings, gravest first, otherwise in their order."""
    return tuple(sorted(found, key=lambda f: -f.gravity))


def opening(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings that leave a verdict open, gravest first."""
    return gravest_first(f for f in found if f.code in OPENS)


def passing_unseen(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings of what was not seen, too short to leave a verdict open."""
    return tuple(f for f in found if f.code == HOLES)


def withholding(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings with which no allowance is taken from the log, gravest first."""
    return gravest_first(f for f in found if f.code in WITHHOLDS and f.gravity > 1)
