"""What the user may say about a log, and what was found in it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from analysis.model.pedal_kind import KIND_KEY, USE_KEY

ROLES = ("a", "b", "supply", "key", "brake", "switch")


@dataclass(frozen=True)
class ImportOptions:
    """Hold what the user says about a log; None or "" leaves it to be found.

    columns: role (of ROLES) -> name of the column, or its number from
        1. time, mark: the same for times and for texts that become marks.
    supply_volts: nominal supply. rate_hz: rows a second, for a log without times.
    time_unit: s, ms, us, min, h or days. unit: "V", "mV" or "counts" of the value columns whose
        heading says none. units: role -> one of these, whatever its heading says.
    full_scale, reference_volts: for counts. step_volts: one converter step, for volts.
    scale: volts at the sensor per volt in the log. more: further files of the same log. pedal_kind,
    pedal_use: of the pedal, None where nobody said. rheostat: how one is read, by key of the
    header.
    """

    columns: dict[str, str] = field(default_factory=dict)
    time: str | None = None
    mark: str | None = None
    supply_volts: float | None = None
    rate_hz: float | None = None
    time_unit: str | None = None
    unit: str | None = None
    units: dict[str, str] = field(default_factory=dict)
    full_scale: float | None = None
    reference_volts: float | None = None
    step_volts: float | None = None
    scale: float = 1.0
    delimiter: str | None = None
    decimal: str | None = None
    encoding: str | None = None
    title: str = ""
    more: tuple[Path, ...] = ()
    pedal_kind: str | None = None
    pedal_use: str | None = None
    rheostat: Mapping[str, float] = field(default_factory=dict)

    @property
    def stated(self) -> dict[str, object]:
        """Return what the header is to say of the pedal."""
        said = {KIND_KEY: self.pedal_kind, USE_KEY: self.pedal_use}
        return {**{key: word for key, word in said.items() if word is not None}, **self.rheostat}


@dataclass(frozen=True)
class ImportPreview:
    """Hold what was found in a log before anything is written.

    names, units: of its columns. rows: the first ones, as text. preamble: lines above the table.
    time, roles: columns as they would be used (role -> name). time_unit, units_taken (role ->
    "V", "mV" or "counts"): as they would be taken. notes: what was assumed. question: what
    must still be said, one line, or None. understood, not_understood: the two closing lines.
    """

    encoding: str
    delimiter: str
    decimal: str
    names: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    row_count: int
    preamble: tuple[str, ...]
    left_out: tuple[tuple[int, str], ...]
    time: str | None
    roles: dict[str, str]
    time_unit: str
    units_taken: dict[str, str]
    notes: tuple[str, ...]
    question: str | None
    understood: str = ""
    not_understood: str = ""
    time_place: int | None = None
    places: dict[str, int] = field(default_factory=dict)
    asked: str | None = None
    said: tuple[str, ...] = ()
