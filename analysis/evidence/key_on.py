"""The claims that a key-on log can carry, and what each of its findings does to them."""

from typing import TYPE_CHECKING

from analysis.evidence.claim import Claim, settle

if TYPE_CHECKING:
    from analysis.key_on.results import KeyOnFindings

NO_POWER = "no power at key-on"
KNOWN = "levels known all the time"
SAME_PEDAL = "the pedal is the sweep's"
LEADS = "the leads hold in the car"
MEASURED = "what the car adds was measured"
NOISE = "noise stays below start of travel"
BRAKE = "brake and pedal never come together"

# A log in which these were found was not seen whole.
UNSEEN = frozenset({"rows lost", "rate too low", "supply clipped", "track clipped",
                     "supply not logged", "readings repeat", "track not logged",
                     "marks contradicted", "key line still", "foot not stated",
                     "dropout in the car", "away from rest", "key line unclear",
                     "reference contradicted", "supply moves a fixed sensor",
                     "supply moves the readings"})
OF_LEADS = frozenset({"away from rest", "lead at a rail", "track at a rail all along",
                    "dropout in the car"})
# A key-on unlike the others: grave when no promise holds beside it.
STRAY = "one key-on lifts"
ELSEWHERE = frozenset({"rest is not the sweep's", "another kind of pedal"})


def key_on_claims(found: "KeyOnFindings") -> tuple[Claim, ...]:
    """Return every claim of a key-on log with its state and the codes that made it so.

    Two claims need more than the log: without a sweep nobody knows whose pedal it is, and a log
    that hinders its own bound measures nothing. That on the brake only where a brake was logged.
    """
    codes = [f.code for f in found.found]
    unseen = [c for c in codes if c in UNSEEN] + ["readings missing"] * bool(found.unread)
    verdict = found.verdict
    power = settle(
        NO_POWER, ["power in the log"] * (verdict.applied is True),
        (unseen or ["not judged"]) if verdict.applied is None else ())
    grave = [f.code for f in found.found if f.gravity >= 2]
    broken = [c for c in grave if c in OF_LEADS]
    moved = [c for c in codes if c in ELSEWHERE]
    withdrawn = [c for c in grave if c == STRAY]
    measured = bool(found.car) and all(c.basis == "measured" for c in found.car.values())
    return (
        power, settle(KNOWN, (), unseen), settle(LEADS, broken, unseen),
        settle(SAME_PEDAL, moved, () if found.swept is not None else ["no sweep given"]),
        settle(MEASURED, withdrawn, () if measured else ["allowance assumed"]),
        _noise(found),
        *(() if not found.recording.with_role("brake") else
          (settle(BRAKE, ["brake with pedal"] * bool(found.brake_events)),)))


def _noise(found: "KeyOnFindings") -> Claim:
    known = bool(found.proofs) and all(p.enough for p in found.proofs.values())
    return settle(NOISE, ["noise passes start of travel"] * bool(found.noisy),
                  () if known else ["noise not known"])


def shows_no_power(claims: tuple[Claim, ...]) -> bool:
    """Return whether the log shows a pedal free of power: the claims that strictness asks for.

    Whether the allowance was measured is no condition of it: the assumed one stands then, unless a
    key-on lifts unlike the others, which no bound holds for.
    """
    asked = {NO_POWER, KNOWN, LEADS, NOISE, BRAKE}
    return all(c.state == "sound" or (c.claim == NOISE and c.state == "open")
               for c in claims if c.claim in asked) and not any(
        c.claim in (SAME_PEDAL, MEASURED) and c.state == "bad" for c in claims)
