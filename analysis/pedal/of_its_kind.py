"""What is said of a pedal carries what its words go by: ohms of a rheostat, a hand for a foot."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.model.finding import OHMS_PER_VOLT, USE, Finding, Reason, Value
from analysis.model.pedal_kind import USES
from analysis.model.recording import Recording
from analysis.parameters import Parameters
from analysis.pedal.remedies import Remedy

if TYPE_CHECKING:
    from analysis.pedal.findings import Findings


Marks = Mapping[str, Value]


def marks_of(recording: Recording) -> dict[str, Value]:
    """Return what the words of all that is said of this pedal go by, {} for a usual one."""
    per_volt, use = recording.ohms_per_volt, recording.pedal.use
    marks: dict[str, Value] = {} if per_volt is None else {OHMS_PER_VOLT: per_volt}
    return {**marks, USE: use} if use != USES[0] else marks


def marked(reason: Reason, marks: Marks) -> Reason:
    """Return a reason, and all within it, with these marks."""
    return _reason(reason, marks) if marks else reason


def marked_findings(findings: tuple[Finding, ...], marks: Marks) -> tuple[Finding, ...]:
    """Return findings with these marks."""
    return tuple(_finding(f, marks) for f in findings) if marks else findings


def of_its_kind(findings: "Findings") -> "Findings":
    """Return the findings with what their words go by among the values of every one and reason.

    That is ohms_per_volt of a rheostat, whose numbers stay on the scale of `RheostatInput`, and
    the use of one that is no throttle pedal; unchanged for another pedal.
    """
    per_volt, marks = findings.recording.ohms_per_volt, marks_of(findings.recording)
    if not marks:
        return findings
    bands = {n: replace(
        b, ohms_per_volt=per_volt, weak=None if b.weak is None else _reason(b.weak, marks),
        not_covered=tuple(_reason(r, marks) for r in b.not_covered),
        items=tuple(replace(i, why=_reason(i.why, marks)) for i in b.items))
        for n, b in findings.dead_bands.items()}
    told = {n: tuple(_remedy(r, marks) for r in several)
            for n, several in findings.remedies.items()}
    return replace(
        findings, dead_bands=bands, remedies=told,
        faults=tuple(replace(f, why=_reason(f.why, marks)) for f in findings.faults),
        settings=tuple(replace(s, why=_reason(s.why, marks)) for s in findings.settings),
        reaches={n: replace(r, why=_reason(r.why, marks))
                 for n, r in findings.reaches.items()},
        verdict=tuple(_finding(f, marks) for f in findings.verdict),
        notes=tuple(_finding(f, marks) for f in findings.notes))


def targets_on_its_scale(parameters: Parameters, ohms_per_volt: float | None) -> Parameters:
    """Return the parameters with the targets of a rheostat, given in ohms, on its scale."""
    if ohms_per_volt is None:
        return parameters
    rest, full = ({n: ohms / ohms_per_volt for n, ohms in targets.items()} for targets in
                  (parameters.target_rest_volts, parameters.target_full_volts))
    return replace(parameters, target_rest_volts=rest, target_full_volts=full)


def _reason(reason: Reason, marks: Marks) -> Reason:
    return Reason(reason.code, _values(reason.values, marks))


def _remedy(remedy: Remedy, marks: Marks) -> Remedy:
    per_volt = marks.get(OHMS_PER_VOLT)
    if remedy.unit == "V" and isinstance(per_volt, float):
        remedy = replace(remedy, amount=per_volt * remedy.amount, unit="ohm")
    return replace(remedy, why=_reason(remedy.why, marks))


def _finding(finding: Finding, marks: Marks) -> Finding:
    return replace(finding, values=_values(finding.values, marks))


def _values(values: Mapping[str, Value], marks: Marks) -> dict[str, Value]:
    return {**{name: _value(value, marks) for name, value in values.items()}, **marks}


def _value(value: Value, marks: Marks) -> Value:
    if isinstance(value, Reason):
        return _reason(value, marks)
    return tuple(_value(v, marks) for v in value) if isinstance(value, tuple) else value
