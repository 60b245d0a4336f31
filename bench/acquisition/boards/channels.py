"""What each channel is: from the board's hello, from what is known, from the user's options.

The user's word goes before what is known, and that before the board's own word.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.model.errors import BadRecording
from analysis.model.recording import DEFAULT_NOMINAL_VOLTS, ROLES, Channel
from bench.acquisition.wire import Hello
from bench.errors import BadCall, OtherInputs, ScaleUnknown
from bench.wording.refusals import refused

# Names that say a role by themselves; the first two channels without one are the tracks.
_SAID_BY_NAME = {
    "supply": "supply", "vcc": "supply", "vdd": "supply", "ref": "supply", "5v": "supply",
    "key": "key", "ign": "key", "brake": "brake", "temp": "temperature",
    "temperature": "temperature", "position": "position", "volts": "voltage",
    "voltage": "voltage", "amps": "current", "current": "current",
}


@dataclass(frozen=True)
class ChannelOptions:
    """Hold what the user says of the channels; None or empty where nothing was said.

    columns: names in the board's order. roles, scale, offset_volts: by column.
    full_scale, reference_volts: for boards that do not say. supply_volts: nominal.
    step_volts: one step of the converter at the pin, for boards that print volts.
    """

    columns: tuple[str, ...] | None = None
    roles: Mapping[str, str] = field(default_factory=dict)
    full_scale: float | None = None
    reference_volts: float | None = None
    scale: Mapping[str, float] = field(default_factory=dict)
    offset_volts: Mapping[str, float] = field(default_factory=dict)
    supply_volts: float | None = None
    step_volts: float | None = None

    def __post_init__(self) -> None:
        for column, role in self.roles.items():
            if role not in ROLES:
                raise BadCall(f"role {role!r} of column {column!r}; use one of {', '.join(ROLES)}")


def channels_of(hello: Hello, known: tuple[Channel, ...] | None,
                options: ChannelOptions) -> tuple[Channel, ...]:
    """Return the channels of a board, readings of shape (0,), in its order.

    Raise BoardTrouble when the board does not say its scale and nobody else does, BadCall when
    the user names columns that are not there.
    """
    if known is not None and len(known) != len(hello.columns):
        known = None
    if hello.volts and options.full_scale is not None:
        raise BadCall(f"the board prints volts, such as 0.752, so --full-scale "
                      f"{options.full_scale:g} does not belong to it; leave it out")
    columns = _columns_of(hello, known, options)
    roles = roles_of(columns, hello, known, options)
    channels = []
    for k, column in enumerate(columns):
        base = known[k] if known else _unknown(hello, column, roles[k], options)
        nominal = base.nominal_volts
        if roles[k] == "supply":
            nominal = options.supply_volts or nominal or DEFAULT_NOMINAL_VOLTS
        try:
            channels.append(replace(
                base, column=column, role=roles[k],
                full_scale=options.full_scale or base.full_scale,
                reference_volts=None if base.unit == "V" else
                options.reference_volts or base.reference_volts,
                scale=options.scale.get(column, base.scale),
                offset_volts=options.offset_volts.get(column, base.offset_volts),
                nominal_volts=nominal))
        except BadRecording as error:
            raise BadCall(refused(error)) from None
    return tuple(channels)


def _columns_of(hello: Hello, known: tuple[Channel, ...] | None,
                options: ChannelOptions) -> tuple[str, ...]:
    """Return the names of the columns; raise BadCall when the user names others than there are."""
    columns = tuple(c.column for c in known) if known else hello.columns
    if options.columns is not None:
        if len(options.columns) != len(columns):
            raise OtherInputs(f"--columns names {len(options.columns)} columns, the board sends "
                              f"{len(columns)} ({', '.join(columns)}); name each of them")
        columns = options.columns
    for option, named in (("--role", options.roles), ("--scale", options.scale),
                          ("--offset", options.offset_volts)):
        for column in named:
            if column not in columns:
                raise BadCall(f"{option} names column {column!r}; the board sends "
                              f"{', '.join(columns)}")
    return columns


def _unknown(hello: Hello, column: str, role: str, options: ChannelOptions) -> Channel:
    """Return a channel of which the board's words and the user's are all that is known."""
    if hello.volts:
        return Channel(column, role, np.empty(0), "V", reading_step=options.step_volts)
    full_scale = options.full_scale or hello.full_scale
    reference = options.reference_volts or hello.reference_volts
    if full_scale is None or reference is None:
        raise ScaleUnknown(
            "the board does not say what its readings mean; add --full-scale (1024 for "
            "10 bits) and --reference-volts (often 5.0 or 3.3)")
    return Channel(column, role, np.empty(0), "counts", float(full_scale), reference,
                   usable_low=hello.usable_low, usable_high=hello.usable_high)


def roles_of(columns: tuple[str, ...], hello: Hello, known: tuple[Channel, ...] | None,
             options: ChannelOptions) -> list[str]:
    """Return each column's role: as wished, else as known, said by the board, or by its name."""
    roles: list[str] = []
    for k, column in enumerate(columns):
        if column in options.roles:
            roles.append(options.roles[column])
        elif known:
            roles.append(known[k].role)
        elif hello.roles:
            roles.append(hello.roles[k])
        else:
            roles.append(_SAID_BY_NAME.get(column.lower(), ""))
    for k, role in enumerate(roles):
        if not role:
            # Once the user names tracks, the others are not guessed to be tracks as well.
            named = "track" in options.roles.values()
            roles[k] = "other" if named or roles.count("track") >= 2 else "track"
    return roles
