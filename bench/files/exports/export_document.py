"""What every settings exporter is given: the values, and where they come from."""

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Union

from analysis.evidence.claim import Claim
from analysis.model.pedal_kind import USES
from analysis.model.recording import DEFAULT_NOMINAL_VOLTS
from analysis.parameters import Parameters
from analysis.pedal.response import Response
from analysis.pedal.settings import Setting
from bench.version import version
from bench.wording.cautions import PROVE
from bench.wording.claims import state_line
from bench.wording.face import TERMINAL, Face, on_a_sheet
from bench.wording.reasons import in_words
from bench.wording.sweep import sentences

if TYPE_CHECKING:
    from analysis.pedal.findings import Findings

CAUTION = f"{PROVE}. Local codes and licensed practice come first."


@dataclass(frozen=True)
class Sheet:
    """Hold the recommended values with their origin.

    warnings: what has to be known before a value is entered (`Findings.warnings`); every format
        carries it. notes: what else is missing or weak. state: of the claims behind the values, in
        one line, "" for bare settings. claims: each with its own state. face: whom its reasons
        speak to.
    controller: what the values take its input to be, in words, "" for bare settings.
    responses: demand along travel for these values, by track.
    use: what the pedal is for, of USES.
    ohms_per_volt: of a rheostat, whose settings are in ohms and whose responses have so many
        of them for a volt. None for another pedal.
    nominal_volts: the supply at which the volts are stated. track_ohms: end-to-end resistance
    for controllers that read a rheostat. sha256: of the recording's file as it lies on disk, ""
    when there is none.
    """

    settings: tuple[Setting, ...]
    nominal_volts: float = DEFAULT_NOMINAL_VOLTS
    track_ohms: float = Parameters().track_ohms
    title: str = ""
    started: str = ""
    board: str = ""
    file_name: str = ""
    sha256: str = ""
    program: str = ""
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    state: str = ""
    claims: tuple[Claim, ...] = ()
    face: Face = TERMINAL
    controller: str = ""
    responses: tuple[Response, ...] = ()
    ohms_per_volt: float | None = None
    use: str = USES[0]

    def origin(self) -> tuple[tuple[str, str], ...]:
        """Return (label, text) of what is known about the origin, empty texts left out."""
        rows = (("recording", self.title), ("started", self.started), ("board", self.board),
                ("file", self.file_name), ("SHA-256", self.sha256), ("made by", self.program))
        return tuple((label, text) for label, text in rows if text)


What = Union["Findings", tuple[Setting, ...], Sheet]


def sheet_of(what: What, path: Path | None = None, face: Face = TERMINAL) -> Sheet:
    """Return the sheet of findings, of bare settings, or the sheet itself.

    path: the recording's file, for its name and checksum. Bare settings carry no supply: their
    volts are taken to be stated at 5 V. face: whom the sheet speaks to.
    """
    if isinstance(what, Sheet):
        return what
    program = f"Stillpedal {version()}"
    file_name = path.name if path else ""
    checksum = file_sha256(path) if path else ""
    if isinstance(what, tuple):
        return Sheet(what, file_name=file_name, sha256=checksum, program=program, face=face)
    recording, face = what.recording, on_a_sheet(face, file_name)
    return Sheet(
        tuple(in_its_unit(s, recording.ohms_per_volt) for s in what.settings),
        recording.nominal_volts, what.parameters.track_ohms
        if recording.rheostat is None else recording.rheostat.full_ohms, recording.title,
        recording.started, recording.board_name, file_name, checksum, program,
        sentences((note for note in what.notes if note not in what.warnings), face),
        sentences(what.warnings, face),
        state_line(what.state, what.gravest, what.claims), what.claims, face,
        "; ".join(dict.fromkeys(in_words(r.why, face) for r in what.reaches.values())),
        tuple(what.responses.values()),
        recording.ohms_per_volt, recording.pedal.use)


def in_its_unit(setting: Setting, ohms_per_volt: float | None) -> Setting:
    """Return a setting as it is told: a level of a rheostat in ohms."""
    if ohms_per_volt is None or setting.unit != "V":
        return setting
    return replace(setting, value=ohms_per_volt * setting.value, unit="ohm")


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file in lower-case hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
