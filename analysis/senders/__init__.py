"""Kinds of sender: stated values, equation, wiring, cautions, and the classic mistakes.

Method and formulas: docs/method_senders.md; how to wire them: docs/senders.md.
"""

import dataclasses
import typing
from collections.abc import Iterator
from importlib import import_module
from pkgutil import iter_modules

from analysis.model.errors import BadParameter
from analysis.senders.charge_port import Pilot, Proximity, pilot_offer, pilot_state
from analysis.senders.divider import Divider
from analysis.senders.gauge import Gauge
from analysis.senders.generic import LoopSender, VoltSender
from analysis.senders.hall import Hall
from analysis.senders.isolated import Isolated
from analysis.senders.platinum import Platinum
from analysis.senders.rheostat import Rheostat
from analysis.senders.sender import TOUCH_VOLTS, Diagnosis, Sender
from analysis.senders.shunt import Shunt
from analysis.senders.speed import Speed
from analysis.senders.thermistor import Thermistor, fit_beta

# In the order in which they are offered; a kind not named here follows by its module's name.
_IN_ORDER = (Divider, Isolated, Shunt, Hall, Thermistor, Platinum, Rheostat, Gauge, Proximity,
             Pilot, Speed, VoltSender, LoopSender)


def _kinds() -> Iterator[type[Sender]]:
    """Yield the kinds of every module of this package, the unspecific one last."""
    yield from _IN_ORDER
    for module in iter_modules(__path__):
        for made in vars(import_module(f"{__name__}.{module.name}")).values():
            if (isinstance(made, type) and issubclass(made, Sender) and "kind" in vars(made)
                    and made not in (*_IN_ORDER, Sender)):
                yield made
    yield Sender


KINDS: dict[str, type[Sender]] = {kind.kind: kind for kind in _kinds()}

__all__ = [
    "KINDS", "TOUCH_VOLTS", "Diagnosis", "Divider", "Gauge", "Hall", "Isolated", "LoopSender",
    "Pilot", "Platinum", "Proximity", "Rheostat", "Sender", "Shunt", "Speed", "Thermistor",
    "VoltSender", "fit_beta", "make_sender", "pilot_offer", "pilot_state", "stated_names",
]


def stated_names(kind: str) -> dict[str, type]:
    """Return name -> type of the values that a kind of sender is described by."""
    cls = _kind(kind)
    hints = typing.get_type_hints(cls)
    return {f.name: hints[f.name] for f in dataclasses.fields(cls)}


def make_sender(kind: str, stated: dict[str, object]) -> Sender:
    """Return the sender of that kind; raise BadParameter with what is unknown or out of range."""
    known = stated_names(kind)
    for name in stated:
        if name not in known:
            raise BadParameter("no such stated value", kind=kind, stated=name, known=tuple(known))
    values: dict[str, typing.Any] = {
        k: tuple(v) if isinstance(v, list) else v for k, v in stated.items()}
    return _kind(kind)(**values)


def _kind(kind: str) -> type[Sender]:
    if kind not in KINDS:
        raise BadParameter("no such sender", kind=kind, kinds=tuple(KINDS))
    return KINDS[kind]
