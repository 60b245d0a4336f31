"""A rheostat's levels are ohms: whatever is said of it carries what one volt of its scale is."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.model.finding import OHMS_PER_VOLT, Finding, Reason, Value
from analysis.parameters import Parameters
from analysis.pedal.remedies import Remedy

if TYPE_CHECKING:
    from analysis.pedal.findings import Findings


def in_ohms(findings: "Findings") -> "Findings":
    """Return the findings with ohms_per_volt among the values of every finding and reason.

    Unchanged for another pedal. The numbers themselves stay on the scale of `RheostatInput`.
    """
    per_volt = findings.recording.ohms_per_volt
    if per_volt is None:
        return findings
    bands = {n: replace(
        b, ohms_per_volt=per_volt, weak=None if b.weak is None else _reason(b.weak, per_volt),
        not_covered=tuple(_reason(r, per_volt) for r in b.not_covered),
        items=tuple(replace(i, why=_reason(i.why, per_volt)) for i in b.items))
        for n, b in findings.dead_bands.items()}
    told = {n: tuple(_remedy(r, per_volt) for r in several)
            for n, several in findings.remedies.items()}
    return replace(
        findings, dead_bands=bands, remedies=told,
        faults=tuple(replace(f, why=_reason(f.why, per_volt)) for f in findings.faults),
        settings=tuple(replace(s, why=_reason(s.why, per_volt)) for s in findings.settings),
        reaches={n: replace(r, why=_reason(r.why, per_volt))
                 for n, r in findings.reaches.items()},
        verdict=tuple(_finding(f, per_volt) for f in findings.verdict),
        notes=tuple(_finding(f, per_volt) for f in findings.notes))


def targets_on_its_scale(parameters: Parameters, ohms_per_volt: float | None) -> Parameters:
    """Return the parameters with the targets of a rheostat, given in ohms, on its scale."""
    if ohms_per_volt is None:
        return parameters
    rest, full = ({n: ohms / ohms_per_volt for n, ohms in targets.items()} for targets in
                  (parameters.target_rest_volts, parameters.target_full_volts))
    return replace(parameters, target_rest_volts=rest, target_full_volts=full)


def _reason(reason: Reason, per_volt: float) -> Reason:
    return Reason(reason.code, _values(reason.values, per_volt))


def _remedy(remedy: Remedy, per_volt: float) -> Remedy:
    if remedy.unit == "V":
        remedy = replace(remedy, amount=per_volt * remedy.amount, unit="ohm")
    return replace(remedy, why=_reason(remedy.why, per_volt))


def _finding(finding: Finding, per_volt: float) -> Finding:
    return replace(finding, values=_values(finding.values, per_volt))


def _values(values: Mapping[str, Value], per_volt: float) -> dict[str, Value]:
    return {**{name: _value(value, per_volt) for name, value in values.items()},
            OHMS_PER_VOLT: per_volt}


def _value(value: Value, per_volt: float) -> Value:
    if isinstance(value, Reason):
        return _reason(value, per_volt)
    return tuple(_value(v, per_volt) for v in value) if isinstance(value, tuple) else value
