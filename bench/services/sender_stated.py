"""A sender from what a person stated of it, word by word: NAME=VALUE."""

from collections.abc import Sequence

from analysis.senders import KINDS, Sender, make_sender, stated_names
from bench.errors import BadCall
from bench.services.typed_numbers import number_with_multiple, refused_text


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
                raise refused_text(name, text, "yes or no")
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
