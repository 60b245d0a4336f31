"""What kind of pedal was recorded, and what for: asked once, kept in the recording's header.

The kind decides which faults it can have, which remedies there are and what its readings mean.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from analysis.model.recording import Recording

Array = NDArray[np.float64]
KIND_KEY, USE_KEY = "pedal_kind", "pedal_use"
# What the header of a rheostat's recording may say of how it was read, each in ohms.
RHEOSTAT_KEYS = ("rheostat_known_ohms", "rheostat_series_ohms", "rheostat_full_ohms")
# A Hall sensor's output follows its supply, or ("hall-fixed") comes from a reference of its own.
KINDS = ("potentiometer", "hall", "hall-fixed", "rheostat")
USES = ("throttle", "hand-throttle", "brake", "regeneration")
BY_HAND = USES[1]
RECORDED = "recorded"


@dataclass(frozen=True)
class PedalKind:
    """Hold the kind and the use of a pedal; stated: the header or the user says the kind."""

    kind: str = KINDS[0]
    use: str = USES[0]
    stated: bool = False

    @property
    def magnetic(self) -> bool:
        """Return whether no wiper touches anything: nothing wears, nothing is trimmed or turned."""
        return self.kind.startswith("hall")

    @property
    def ratiometric(self) -> bool:
        """Return whether its volts follow its supply."""
        return self.kind != "hall-fixed"


def kind_of(extra: Mapping[str, object]) -> PedalKind:
    """Return the kind that a header states; a word it does not know counts as none."""
    kind, use = extra.get(KIND_KEY), extra.get(USE_KEY)
    return PedalKind(
        str(kind) if kind in KINDS else KINDS[0],
        str(use) if use in USES else USES[0],
        kind in KINDS,
    )


@dataclass(frozen=True)
class RheostatInput:
    """Hold how a two-wire rheostat is read: a known resistor from the supply to the input.

    full_ohms: of the rheostat. series_ohms: put between it and ground for the sweep, which the
    controller will not see.
    """

    known_ohms: float = 4700.0
    series_ohms: float = 0.0
    full_ohms: float = 5000.0

    @property
    def span_ohms(self) -> float:
        """Return the ohms that stand for the whole nominal supply where ohms are stated as volts.

        Twice full_ohms: so neither end of its travel lies at a rail.
        """
        return 2.0 * self.full_ohms

    def stated_volts(self, volts: Array, supply: Array | float, nominal: float) -> Array:
        """Return the rheostat's ohms as volts of a scale on which span_ohms is the nominal supply.

        volts: at the input. R = known v / (supply - v) - series, from 0 to span_ohms (open).
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            ohms = self.known_ohms * volts / (supply - volts) - self.series_ohms
        ohms = np.where(volts >= supply, np.inf, ohms)
        result: Array = np.clip(ohms, 0.0, self.span_ohms) * (nominal / self.span_ohms)
        return np.where(np.isfinite(volts), result, np.nan)

    def step_volts(self, step_volts: float, supply: float, nominal: float) -> float:
        """Return what one step of the input is on that scale at full_ohms, where it is largest."""
        slope = (self.known_ohms + self.full_ohms + self.series_ohms) ** 2 / (
            self.known_ohms * supply)
        return step_volts * slope * nominal / self.span_ohms


def rheostat_of(extra: Mapping[str, object]) -> RheostatInput | None:
    """Return how a rheostat is read by a header; None for another kind of pedal."""
    if kind_of(extra).kind != "rheostat":
        return None
    usual = RheostatInput()
    said = {key.removeprefix("rheostat_"): extra.get(key) for key in RHEOSTAT_KEYS}
    return RheostatInput(**{
        name: float(value) if isinstance(value, int | float) and 0.0 <= value <= 1e9
        and (value > 0 or name == "series_ohms") else getattr(usual, name)
        for name, value in said.items()})


def with_kind(recording: "Recording", kind: str, use: str,
              rheostat: RheostatInput | None = None, known_stated: bool = False) -> "Recording":
    """Return the recording as if its header stated this; RECORDED keeps what it says.

    rheostat: of a pedal that is one. 0 ohm then reads 0 counts, which is no end of the range.
    known_stated: its known resistor is stated, so it goes before the header's even as the usual.
    """
    said: dict[str, object] = {
        key: word for key, word in ((KIND_KEY, kind), (USE_KEY, use)) if word != RECORDED}
    if kind_of({**recording.extra, **said}).kind == "rheostat" and rheostat is not None:
        usual = RheostatInput()
        said |= {f"rheostat_{name}": value for name, value in vars(rheostat).items()
                 if value != getattr(usual, name) or f"rheostat_{name}" not in recording.extra
                 or (known_stated and name == "known_ohms")}
    new = {key: word for key, word in said.items() if recording.extra.get(key) != word}
    made = replace(recording, extra={**recording.extra, **new}) if new else recording
    if made.pedal.kind != "rheostat":
        return made
    lows = {c.column for c in made.with_role("track")
            if c.unit == "counts" and c.usable_low is None}
    return made if not lows else replace(made, channels=tuple(
        replace(c, usable_low=-1.0) if c.column in lows else c for c in made.channels))
