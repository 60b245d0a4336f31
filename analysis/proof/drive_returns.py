"""Key-ons of a drive as returns of the pedal as installed, by the very rule of a key-on log.

A key-on counts when it follows a press since the last one, its rest before was read, and nothing in
the log may hide a level (`analysis.key_on`: the same function says so of a key-on log). Steps
`key-ons cold` and `key-ons warm` are judged as any key-on log. While the wheels turn with the key
on the foot may be anywhere: nothing of that is taken for a rest. The key line must show the
key-ons.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.key_on.analyse import analyse_key_on
from analysis.key_on.presses import Driven
from analysis.model.errors import AnalysisError
from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.car_returns import CarReturns
from analysis.pedal.dead_band import CarAddition
from analysis.pedal.findings import Findings
from analysis.proof.steps import steps_of

NO_KEY_LINE, NOT_JUDGED, NOTHING_FOLLOWS = "no key line", "not judged", "no rest after a press"


@dataclass(frozen=True)
class DriveReturns:
    """Hold the key-ons of a drive that count as returns.

    returns: by track of the sweep, empty where none counts: hidden_by, the codes of why. cold,
    warm: how many of them came before the wheels first turned, and after. applied: readings passed
    the start of travel at a key-on that was to be at rest. adds: what these key-ons add by track,
    as a key-on log has it; empty with too few. It may raise what is reckoned with, never lower it.
    """

    returns: Mapping[str, CarReturns] = field(default_factory=dict)
    cold: int = 0
    warm: int = 0
    hidden_by: tuple[str, ...] = ()
    applied: bool = False
    adds: Mapping[str, CarAddition] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """Return how many count, on every track."""
        return self.cold + self.warm


def drive_returns(recording: Recording, parameters: Parameters, sweep: Findings) -> DriveReturns:
    """Return the returns among the key-ons of a drive's log; sweep: of the same pedal."""
    if not recording.with_role("key"):
        return DriveReturns(hidden_by=(NO_KEY_LINE,))
    steps = steps_of(recording)
    drives = tuple((s.start, s.stop) for s in steps if s.kind == "drive")
    asked = tuple((s.start, s.stop) for s in steps if s.kind in ("drive", "key-ons"))
    try:
        found = analyse_key_on(recording, parameters, (), sweep, "closed", Driven(asked, drives))
    except AnalysisError:
        return DriveReturns(hidden_by=(NOT_JUDGED,))
    applied = found.verdict.applied is True
    if any(c.found_by != "key channel" for c in found.cycles):
        return DriveReturns(hidden_by=(NO_KEY_LINE,), applied=applied)
    returns = {n: found.returns[n] for n in sweep.tracks if n in found.returns}
    if found.hidden_by:
        return DriveReturns(hidden_by=found.hidden_by, applied=applied)
    if len(returns) < len(sweep.tracks) or not all(r.levels for r in returns.values()):
        return DriveReturns(hidden_by=(NOTHING_FOLLOWS,), applied=applied)
    turned_s = float(recording.time_s[drives[0][0]]) if drives else float("inf")
    times = min((r.times_s for r in returns.values()), key=len)
    cold = sum(at < turned_s for at in times)
    return DriveReturns(returns, cold, len(times) - cold, applied=applied,
                        adds=found.car)
