"""Whether the values on show stand in a file: known from the moment of saving to the next change.

What a file says follows from the recording, the parameters and what a log of the car gave; equal
ones give an equal file, so that a change that is taken back makes the file right again.
"""

from pathlib import Path

from PySide6.QtCore import QObject, Signal

from analysis.parameters import Parameters
from bench.services.findings import Findings


class SavedValues(QObject):
    """Know under which name the values on show were kept, and what they were then.

    path: of the file, None for none. state: "none" (nothing is open), "unsaved", "saved" or
    "changed" (since saved).
    """

    changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.path: Path | None = None
        self.state = "none"
        self._findings: Findings | None = None
        self._saved: tuple[Parameters, str] | None = None

    def note(self, path: Path, kept: Findings) -> None:
        """Note that values were kept in a file just now; kept: the findings they are of."""
        if self._findings is not None and self._findings.recording is kept.recording:
            self.path, self._saved = path, _values_of(kept)
            self.look(self._findings)

    def look(self, findings: Findings | None) -> None:
        """Look at what is on show now; another recording has nothing kept."""
        before = self._findings
        if findings is None or before is None or before.recording is not findings.recording:
            self.path = self._saved = None
        self._findings = findings
        self.state = ("none" if findings is None else "unsaved" if self._saved is None else
                      "saved" if self._saved == _values_of(findings) else "changed")
        self.changed.emit()


def _values_of(findings: Findings) -> tuple[Parameters, str]:
    return findings.parameters, repr((dict(findings.car), findings.car_said))
