"""What kind of pedal was recorded, and what for: asked once, kept in the recording's header.

The kind decides which faults it can have, which remedies there are and what its readings mean.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.recording import Recording

KIND_KEY, USE_KEY = "pedal_kind", "pedal_use"
# A Hall sensor's output follows its supply, or ("hall-fixed") comes from a reference of its own.
KINDS = ("potentiometer", "hall", "hall-fixed", "rheostat")
USES = ("throttle", "hand-throttle", "brake", "regeneration")
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


def with_kind(recording: "Recording", kind: str, use: str) -> "Recording":
    """Return the recording as if its header stated this; RECORDED keeps what it says."""
    said = {KIND_KEY: kind, USE_KEY: use}
    new = {
        key: word
        for key, word in said.items()
        if word != RECORDED and recording.extra.get(key) != word
    }
    return replace(recording, extra={**recording.extra, **new}) if new else recording
