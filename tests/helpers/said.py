"""What is said of results in words, for tests of what a person reads."""

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import pytest

from analysis.model.finding import Finding, Reason
from analysis.senders import Diagnosis
from analysis.senders.calibration import Enough, Steady, Verdict
from bench.wording.face import TERMINAL, Face
from bench.wording.faults import fault_words
from bench.wording.reasons import in_words
from bench.wording.refusals import refused
from bench.wording.senders.verdict import verdict_line
from bench.wording.sweep import sentence

Said = Finding | Reason | Diagnosis | Enough | Verdict | Steady | str | None


def as_text(said: Said, face: Face = TERMINAL) -> str:
    """Return a finding, a reason or what a sender's check led to as it is read; "" for none."""
    if isinstance(said, Verdict):
        return verdict_line(said, face)
    if isinstance(said, Steady):
        said = said.told()
    if isinstance(said, Diagnosis | Enough):
        said = said.reason
    return sentence(said, face) if isinstance(said, Finding) else in_words(said, face)


def as_texts(found: Iterable[Said], face: Face = TERMINAL) -> list[str]:
    """Return each of them in words."""
    return [as_text(each, face) for each in found]


def fault_text(fault) -> str:
    """Return what is said of a fault."""
    return fault_words(fault.why, TERMINAL)


@contextmanager
def refuses(kind: type[Exception], words: str) -> Iterator[None]:
    """Hold that the body raises an error of that kind, and what a person is told of it."""
    with pytest.raises(kind) as caught:
        yield
    line = refused(caught.value)
    assert re.search(words, line), line
    assert "\n" not in line
