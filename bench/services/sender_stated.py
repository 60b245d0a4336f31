"""A sender from what a person stated of it, word by word: NAME=VALUE."""

import re
from collections.abc import Sequence

from analysis.senders import KINDS, Sender, make_sender, stated_names
from bench.errors import BadCall, NotWritten
from bench.wording.face import TERMINAL
from bench.wording.sender_fields import not_written

_MULTIPLES = {"": 1.0, "m": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9}
_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*([mkMG]?)\Z")


def number_with_multiple(text: str, name: str) -> float:
    """Return a number such as "4.7k", "100", "1M"; raise BadCall naming what it was for."""
    match = _NUMBER.match(text.strip())
    if match is None:
        raise _not_written(name, text, "number")
    return float(match[1]) * _MULTIPLES[match[2]]


def _not_written(name: str, text: str, kind: str) -> NotWritten:
    return NotWritten(name, text, kind, not_written(name, text, kind, TERMINAL))


def sender_from(kind: str, settings: Sequence[str],
                pin_limit_volts: float | None = None) -> Sender:
    """Return the sender described by words NAME=VALUE; raise BadCall or BadParameter."""
    if kind not in KINDS:
        raise BadCall(f"no kind of sender {kind!r}; use one of {', '.join(KINDS)}")
    known = stated_names(kind)
    stated: dict[str, object] = {}
    for words in settings:
        name, equals, text = words.partition("=")
        name = name.strip()
        if not equals or name not in known:
            raise BadCall(f"--set {words!r}: a {kind} has {', '.join(known)}; write for example "
                          f"--set {next(iter(known))}=...")
        if known[name] is bool:
            if text.strip().lower() not in ("yes", "no", "true", "false"):
                raise _not_written(name, text, "yes or no")
            stated[name] = text.strip().lower() in ("yes", "true")
        elif known[name] is str:
            stated[name] = text.strip()
        elif known[name] is float:
            stated[name] = number_with_multiple(text, name)
        else:
            stated[name] = tuple(number_with_multiple(t, name) for t in text.split(",") if t)
    if pin_limit_volts is not None:
        stated["pin_limit_volts"] = pin_limit_volts
    return make_sender(kind, stated)
