"""What a person reads of senders: a file for each kind, and what all of them share.

KIND.py holds the kind's TITLE, EQUATION and WIRING, LABELS of its stated values, and WORDS, the
sentences by code; words of several kinds are in shared.py. In a sentence, {name:.3g} is a value of
the reason, and [name] a value that is stated of the sender: each face says it by its own name for
it (fields.py).
"""

from collections.abc import Mapping, Sequence
from functools import cache
from importlib import import_module
from types import ModuleType

from analysis.senders import KINDS
from bench.wording.face import Face, Values, Words

# Words of no kind in particular.
_OF_ALL = ("shared", "curve", "points", "verdict", "notes")


def title(kind: str) -> str:
    """Return what a kind of sender is, in a few words."""
    return str(_of(kind).TITLE)


def equation(kind: str) -> str:
    """Return what a kind of sender makes of what is read."""
    return str(_of(kind).EQUATION)


def wiring(kind: str) -> str:
    """Return how a kind of sender is wired to the board."""
    return str(_of(kind).WIRING)


def caution_lines(codes: Sequence[str]) -> tuple[str, ...]:
    """Return cautions as a person reads them."""
    from bench.wording.senders.cautions import CAUTIONS

    return tuple(CAUTIONS[code] for code in codes)


def labels_of_kinds() -> dict[str, str]:
    """Return the labels of the stated values that one kind alone has."""
    return {name: said for kind in KINDS
            for name, said in getattr(_of(kind), "LABELS", {}).items()}


def tables() -> list[Mapping[str, str | Words]]:
    """Return the sentences of every module, by code."""
    return [_of(name).WORDS for name in (*KINDS, *_OF_ALL)]


@cache
def words() -> dict[str, Words]:
    """Return the words of every code of a sender."""
    return {code: _spoken(said) if isinstance(said, str) else said
            for table in tables() for code, said in table.items()}


def _of(name: str) -> ModuleType:
    return import_module(f"bench.wording.senders.{name.replace(' ', '_')}")


def _spoken(sentence: str) -> Words:
    """Return what makes a sentence of its values for a face."""
    from bench.wording.senders.fields import named

    def say(values: Values, face: Face) -> str:
        return named(sentence, face).format(**values)

    return say
