"""What a claim is: about all the time and the whole travel, so it needs all of both seen.

Rules of this room:
1. First the evidence: which time, which channels, in range, against which supply. Then the state.
2. A claim is "bad" when one finding contradicts it; that outlasts anything that was not seen.
3. It is "open" when something that it speaks of was not seen. Open is never rounded to sound: it
   fails `--strict`, earns no tick, and never lowers an assumed allowance.
4. Only what is neither is "sound".
Every sheet shows the state computed here, once; no sheet has a rule of its own.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from analysis.model.finding import Finding as Finding
from analysis.model.finding import Subject as Subject

State = Literal["sound", "bad", "open"]


@dataclass(frozen=True)
class Claim:
    """Hold one claim, its state, and the codes of what made it so (none when it is sound)."""

    claim: str
    state: State
    because: tuple[str, ...] = ()


def settle(claim: str, against: Iterable[str] = (), unseen: Iterable[str] = ()) -> Claim:
    """Return the claim with its state: bad by what contradicts it, else open by what is unseen.

    against, unseen: codes; each is named once, in the order given.
    """
    contradicted = tuple(dict.fromkeys(against))
    if contradicted:
        return Claim(claim, "bad", contradicted)
    missed = tuple(dict.fromkeys(unseen))
    return Claim(claim, "open", missed) if missed else Claim(claim, "sound")


def state_of(claims: Iterable[Claim]) -> State:
    """Return the state of all claims together: bad when one is, else open when one is."""
    states = {c.state for c in claims}
    return "bad" if "bad" in states else "open" if "open" in states else "sound"
