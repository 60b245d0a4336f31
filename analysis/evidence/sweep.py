"""The claims that a sweep can carry, and what each of its findings does to them.

By the table of analysis/model/codes.py: a code that is grave contradicts its claims, one that is
told with less gravity leaves them open.
"""

from collections.abc import Iterable

from analysis.evidence.claim import Claim, State, settle, state_of
from analysis.model.codes import AGREE as AGREE
from analysis.model.codes import CLAIMS as CLAIMS
from analysis.model.codes import CONTACT as CONTACT
from analysis.model.codes import DEAD_BAND as DEAD_BAND
from analysis.model.codes import RETURNS as RETURNS
from analysis.model.codes import SUPPLY as SUPPLY
from analysis.model.codes import SWEEP, Code
from analysis.model.codes import SWEPT as SWEPT
from analysis.model.codes import SWITCH as SWITCH
from analysis.model.finding import Finding, Subject

# What speaks of each claim when it is grave, or leaves it open when it is not.
SPEAKS_OF: dict[Code, tuple[str, ...]] = {
    code: row.claims for code, row in SWEEP.items() if row.claims}
# Grave, yet only for want of readings: they leave a claim open and contradict none.
UNSEEN = frozenset({"not enough", "few returns", "few rest readings", "short rest",
                    "noise not measured", "not compared", "supply clipped"})
# A promise is withdrawn for want of readings unless one of these is what withdrew it.
WITHDRAWN_BY = frozenset({"no return", "step", "not settled", "clipping", "dead track",
                          "late track", "doubt", "rest end not known", "foot at rest"})
# Told so that it is known, without taking anything back: readings lost where others stand for
# them are told as a fault where they matter ("gap", "no reading").
HARMLESS_WHEN_SLIGHT = frozenset({"samples lost", "cut short", "no held full press", "noise",
                                  "flat spot", "play", "supply off nominal", "supply sag"})
PAIR = frozenset({"mismatch", "play", "not compared", "same wiper", "unusual relation",
                  "apart all along", "pair measured", "perhaps off at rest", "one track",
                  "third track alone", "third track compared", "odd track",
                  "no two tracks agree"})
# Told of the pair where it cannot be said of which track.
UNNAMED = frozenset({"dropout", "noise", "dead track", "flat spot"})
OF_THE_LOG = frozenset({"cut short", "samples lost", "gap", "rate too low", "log in the values",
                        "log too noisy", "log passed the start of travel",
                        "log not read all the time", "allowance for the car"})
OF_THE_SUPPLY = frozenset({"supply sag", "supply off nominal", "supply clipped",
                           "supply not recorded", "supply read seldom"})


def sweep_claims(said: Iterable[Finding]) -> tuple[Claim, ...]:
    """Return the state of every claim of a sweep, from all that its findings say.

    That on switches only where the sweep has one.
    """
    said = tuple(said)
    codes = {s.code for s in said}
    against: dict[str, list[str]] = {c: [] for c in CLAIMS}
    unseen: dict[str, list[str]] = {c: [] for c in CLAIMS}
    for found in sorted(said, key=lambda s: -s.gravity):
        code = found.code
        if found.gravity < 2 and (found.gravity < 1 or code in HARMLESS_WHEN_SLIGHT):
            continue
        open_only = (found.gravity < 2 or code in UNSEEN
                     or (code == "promise withdrawn" and not codes & WITHDRAWN_BY))
        for claim in SPEAKS_OF.get(code, ()):
            (unseen if open_only else against)[claim].append(code)
    there = [c for c in CLAIMS
             if c != SWITCH or any(SWITCH in SPEAKS_OF.get(code, ()) for code in codes)]
    return tuple(settle(c, against[c], unseen[c]) for c in there)


def sweep_state(claims: Iterable[Claim], said: Iterable[Finding]) -> State:
    """Return the state of the whole sweep; a grave sentence without a row still makes it bad."""
    stray = any(s.gravity >= 2 and s.code not in SPEAKS_OF for s in said)
    return "bad" if stray else state_of(claims)


def sweep_findings(said: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return what was said, gravest first."""
    return tuple(sorted(said, key=lambda f: -f.gravity))


def subject_of(code: Code, channel: str | None) -> Subject:
    """Return what a finding of a sweep speaks of."""
    if code in OF_THE_SUPPLY:
        return "supply"
    if channel is not None:
        return "track"
    if code in PAIR or code in UNNAMED:
        return "pair"
    return "log" if code in OF_THE_LOG else "pedal"
