"""What is said of results in words, for tests of what a person reads."""

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import pytest

from analysis.model.finding import Finding, Reason
from bench.wording.face import TERMINAL, Face
from bench.wording.faults import fault_words
from bench.wording.reasons import in_words
from bench.wording.refusals import refused
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


@contextmanager
def refuses(kind: type[Exception], words: str) -> Iterator[None]:
    """Hold that the body raises an error of that kind, and what a person is told of it."""
    with pytest.raises(kind) as caught:
        yield
    line = refused(caught.value)
    assert re.search(words, line), line
    assert "\n" not in line
