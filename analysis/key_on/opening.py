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
REST_MOVED: KeyOnCode = "rest is not the sweep's"

# With one of these a bound below the assumed allowance does not count.
HINDERS = frozenset({FOOT_NOT_STATED, KEY_UNCLEAR, SUPPLY_CLIPPED, "dropout in the car",
                     "key line still", "rows lost", "rate too low", "track clipped",
                     "away from rest", "readings repeat", "track not logged",
                     "marks contradicted"})
# These leave the verdict open where no reading asked for power: something was not seen.
OPENS = frozenset({FOOT_NOT_STATED, KEY_UNCLEAR, REFERENCE, "dropout in the car",
                   "key line still", "lead at a rail",
                   "track at a rail all along", "rest is not the sweep's", "rows lost",
                   "rate too low", "supply clipped", "track clipped", "supply not logged",
                   "marks contradicted", "readings repeat", "track not logged", "away from rest",
                   "another kind of pedal", "supply moves a fixed sensor",
                   "supply moves the readings", "both directions closed"})
# With one of these no allowance is taken from the log at all.
WITHHOLDS = frozenset({SUPPLY_CLIPPED, "lead at a rail", "track at a rail all along",
                       "rest is not the sweep's", "electrical, not a foot", "one key-on lifts",
                       "another kind of pedal"})


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
