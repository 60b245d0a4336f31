"""The state of the claims in words, the same on every sheet: screen, paper, file and window."""

from collections.abc import Iterable

from analysis.evidence.claim import Claim, State

DO_NOT_DRIVE = "DO NOT DRIVE"
REPAIR = "REPAIR FIRST"
OPEN = "OPEN"
SOUND = "SOUND ON THE BENCH"
_LEAST_GRAVE = 3


def state_line(state: State, gravest: int, claims: Iterable[Claim]) -> str:
    """Return the state of a sweep in one line: what it is, and of which claim."""
    claims = tuple(claims)
    if state == "bad":
        head = DO_NOT_DRIVE if gravest >= _LEAST_GRAVE else REPAIR
        broken = [c.claim for c in claims if c.state == "bad"]
        return f"{head}: not so: {'; '.join(broken)}." if broken else f"{head}."
    if state == "open":
        return f"{OPEN}: not shown yet: {'; '.join(c.claim for c in claims if c.state == 'open')}."
    # A sweep on the bench knows nothing of the car, so it cannot clear a pedal for driving.
    return f"{SOUND}: all that is claimed was seen. Prove it in the car before the first drive."


def claim_lines(claims: Iterable[Claim]) -> tuple[str, ...]:
    """Return every claim with its state and, where it is not sound, the codes of the reasons."""
    return tuple(f"{c.state:<6} {c.claim}"
                 + (f" ({', '.join(c.because)})" if c.because else "") for c in claims)
