"""Where a job stands: each of its steps, whether it is proved, and the entry that says so."""

from dataclasses import dataclass
from pathlib import Path

from analysis.pedal.findings import Findings
from analysis.proof.limits import Limits
from analysis.proof.outcome import Outcome
from bench.files.job_record import Entry


@dataclass(frozen=True)
class Proof:
    """Hold one line of the job: its step, where it stands, and the entry that says so.

    state: "proved", "failed", "open" (done, but not all was seen) or "to do".
    """

    step: str
    state: str
    because: tuple[str, ...] = ()
    entry: Entry | None = None
    outcome: Outcome | None = None


@dataclass(frozen=True)
class Proofs:
    """Hold where a job stands: each step, the limits it is judged by, and the sweep's findings.

    unlisted: recordings that lie in the folder and of which the record says nothing.
    """

    folder: Path
    steps: tuple[Proof, ...]
    damaged: int = 0
    findings: Findings | None = None
    limits: Limits | None = None
    unlisted: tuple[str, ...] = ()

    @property
    def next_step(self) -> Proof | None:
        """Return what to do next: what failed first, else what is not proved; None: all is."""
        failed = next((p for p in self.steps if p.state == "failed"), None)
        return failed or next((p for p in self.steps if p.state != "proved"), None)

    def of(self, step: str) -> Proof:
        """Return a step by its name; raise KeyError for none of these."""
        return {p.step: p for p in self.steps}[step]
