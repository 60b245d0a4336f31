"""Where a job stands: each of its steps, whether it is proved, and the entry that says so."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from analysis.pedal.findings import Findings
from analysis.proof.limits import Limits
from analysis.proof.outcome import Outcome
from bench.files.job_record import Entry


@dataclass(frozen=True)
class Proof:
    """Hold one line of the job: its step, where it stands, and the entry that says so.

    state: "proved", "failed", "open" (done, but not all was seen) or "to do". simulated: what was
    recorded came from a simulated board. expected: volts at rest by step and track, as the network
    of pedal and input gives them; NaN: anywhere.
    """

    step: str
    state: str
    because: tuple[str, ...] = ()
    entry: Entry | None = None
    outcome: Outcome | None = None
    simulated: bool = False
    expected: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


@dataclass(frozen=True)
class MeasuredWarmth:
    """Hold the drift with temperature that a job measured: ppm of the supply per kelvin.

    file: its log. span_kelvin: over which the values reckon with it, assumed or stated.
    seen_kelvin: over which it was seen.
    """

    ppm_per_kelvin: float
    file: str
    span_kelvin: float
    seen_kelvin: float


@dataclass(frozen=True)
class CountedReturns:
    """Hold how many key-ons count as returns toward the dead band's promise.

    file: the drive's log. of_log: of the key-on log; cold, warm: of the drive, before the wheels
    first turned and after. least: from how many on they stand for those of the sweep; stand: they
    do. hidden_by: codes of why none of the drive counts. applied: readings passed the start of
    travel at a key-on of it. before, now: (track, start of travel in volts) without and with the
    drive; () where nothing changed.
    """

    file: str
    of_log: int
    cold: int
    warm: int
    least: int
    stand: bool
    hidden_by: tuple[str, ...] = ()
    applied: bool = False
    before: tuple[tuple[str, float], ...] = ()
    now: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class TypedBack:
    """Hold one value as issued, volts (NaN: none issued), and as typed back (NaN: not yet).

    state: "as issued", "unsafe side", "safe side", "not typed" or "none issued". off_volts: typed
    less issued.
    """

    name: str
    issued_volts: float
    typed_volts: float
    state: str

    @property
    def off_volts(self) -> float:
        """Return typed less issued, volts."""
        return self.typed_volts - self.issued_volts


@dataclass(frozen=True)
class Proofs:
    """Hold where a job stands: each step, the limits it is judged by, and the sweep's findings.

    unlisted: recordings that lie in the folder and of which the record says nothing. warmth: the
    measured drift that the values go by. returns: the key-ons that count toward the promise.
    values: as issued now, and as typed back.
    """

    folder: Path
    steps: tuple[Proof, ...]
    damaged: int = 0
    findings: Findings | None = None
    limits: Limits | None = None
    unlisted: tuple[str, ...] = ()
    warmth: MeasuredWarmth | None = None
    returns: CountedReturns | None = None
    values: tuple[TypedBack, ...] = ()

    @property
    def simulated(self) -> int:
        """Return how many of the proved steps were done on a simulated board."""
        return sum(p.simulated and p.state == "proved" for p in self.steps)

    @property
    def all_proved(self) -> bool:
        """Return whether every step was proved, each of them on the car."""
        return self.next_step is None and not self.simulated

    @property
    def next_step(self) -> Proof | None:
        """Return what to do next: what failed first, else what is not proved; None: all is."""
        failed = next((p for p in self.steps if p.state == "failed"), None)
        return failed or next((p for p in self.steps if p.state != "proved"), None)

    def of(self, step: str) -> Proof:
        """Return a step by its name; raise KeyError for none of these."""
        return {p.step: p for p in self.steps}[step]
