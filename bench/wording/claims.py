"""The claims in words, the same on every sheet: screen, paper, file and window."""

from collections.abc import Iterable

from analysis.evidence.claim import Claim, State
from analysis.evidence.key_on import BRAKE, NO_POWER
from analysis.evidence.sweep import AGREE, CONTACT, DEAD_BAND, RETURNS, SUPPLY, SWEPT, SWITCH
from bench.wording.limb import FOOT, HAND, Limb, code_words

DO_NOT_DRIVE = "DO NOT DRIVE"
REPAIR = "REPAIR FIRST"
OPEN = "OPEN"
SOUND = "SOUND ON THE BENCH"
_LEAST_GRAVE = 3
ALONE = "one track"
_NOTHING_CHECKS = "there is one track only, and nothing checks it"
# claim -> what is said when it is contradicted, and what is still to be shown when it is open.
_WORDS = {
    SWEPT: ("the sweep shows no usable levels", "enough full travel, returns and rest"),
    CONTACT: ("a track loses contact, is unsteady or is cut off",
              "that contact holds over the whole travel"),
    RETURNS: ("the pedal does not come back as it must", "that the pedal comes back at once"),
    AGREE: ("the tracks do not agree", "that the tracks agree"),
    SUPPLY: ("the supply is not what it is said to be", "that the supply is right"),
    SWITCH: ("a switch of the pedal is wrong", "that the switches are right"),
    DEAD_BAND: ("the dead band does not hold", "that the dead band holds"),
}


def state_line(state: State, gravest: int, claims: Iterable[Claim]) -> str:
    """Return the state of a sweep in one sentence: what it is, and why."""
    claims = tuple(claims)
    if state == "bad":
        head = DO_NOT_DRIVE if gravest >= _LEAST_GRAVE else REPAIR
        broken = [_words(c, 0) for c in claims if c.state == "bad"]
        return f"{head}: {'; '.join(broken)}." if broken else f"{head}."
    if state == "open":
        # No later sweep shows that a lone track agrees with another.
        alone = [c for c in claims if c.state == "open" and ALONE in c.because]
        left = [_words(c, 1) for c in claims if c.state == "open" and c not in alone]
        told = [_NOTHING_CHECKS] * bool(alone)
        told += [f"still to be shown: {'; '.join(left)}"] * bool(left)
        return f"{OPEN}: {'; '.join(told)}."
    # A sweep on the bench knows nothing of the car, so it cannot clear a pedal for driving.
    return f"{SOUND}: every claim was seen to hold. Prove it in the car before the first drive."


def claim_lines(claims: Iterable[Claim], of: Limb = FOOT) -> tuple[str, ...]:
    """Return every claim with its state and, where it is not sound, the codes of the reasons."""
    return tuple(
        f"{c.state:<6} {_claim(c.claim, of)}"
        + (f" ({', '.join(code_words(b, of) for b in c.because)})" if c.because else "")
        for c in claims)


def _claim(claim: str, of: Limb) -> str:
    if claim == BRAKE and of is HAND:
        return "brake and throttle never come together"
    return f"no {of.power} at key-on" if claim == NO_POWER else claim


def _words(claim: Claim, which: int) -> str:
    return _WORDS[claim.claim][which] if claim.claim in _WORDS else claim.claim
