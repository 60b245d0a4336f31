"""What is said of results in words, for tests of what a person reads."""

from collections.abc import Iterable

from analysis.model.finding import Finding, Reason
from bench.wording.face import TERMINAL, Face
from bench.wording.faults import fault_words
from bench.wording.reasons import in_words
from bench.wording.sweep import sentence


def as_text(said: "Finding | Reason | str | None", face: Face = TERMINAL) -> str:
    """Return a finding, a reason or a fault's words as a person reads it; "" for none."""
    return sentence(said, face) if isinstance(said, Finding) else in_words(said, face)


def as_texts(found: Iterable["Finding | Reason | str"], face: Face = TERMINAL) -> list[str]:
    """Return each of them in words."""
    return [as_text(each, face) for each in found]


def fault_text(fault) -> str:
    """Return what is said of a fault."""
    return fault_words(fault.why, TERMINAL)
