"""Findings as JSON, schema 1 (docs/findings_json.md); NaN and endless values become null."""

import json
import math
from typing import Any

import numpy as np

from analysis.evidence.claim import Claim
from analysis.model.estimate import Estimate
from analysis.model.finding import Finding
from analysis.pedal.dead_band import DeadBand
from analysis.pedal.findings import Findings
from analysis.pedal.pair import PairFindings
from analysis.pedal.settings import Setting
from analysis.pedal.switch import SwitchFindings
from analysis.pedal.tracks import TrackFindings
from bench.files.exports.reasons import plain_value
from bench.wording.dead_band import LAWS
from bench.wording.face import TERMINAL
from bench.wording.faults import fault_words
from bench.wording.reasons import in_words
from bench.wording.sweep import sentence, sentences

SCHEMA_VERSION = 1


def findings_json(findings: Findings) -> str:
    """Return the findings as one JSON document."""
    return json.dumps(findings_object(findings), indent=1, ensure_ascii=False) + "\n"


def findings_object(findings: Findings) -> dict[str, Any]:
    """Return what `findings_json` writes, as plain dicts, lists, numbers and texts."""
    recording = findings.recording
    result = {
        "schema": SCHEMA_VERSION,
        "recording": {
            "title": recording.title, "rows": recording.rows, "complete": recording.complete,
            "lost_samples": recording.lost_samples, "started": recording.started,
            "purpose": recording.purpose, "board": recording.board_name,
            "pedal_kind": recording.pedal.kind, "pedal_use": recording.pedal.use,
            "ohms_per_volt": recording.ohms_per_volt,
            "seconds": float(recording.time_s[-1] - recording.time_s[0])},
        "segments": [
            {"kind": s.kind, "start_s": s.start_s, "end_s": s.end_s, "quick": s.quick,
             "peak_percent": s.peak_percent} for s in findings.segments],
        "tracks": {name: _track(track) for name, track in findings.tracks.items()},
        "pair": None if findings.pair is None else _pair(findings.pair),
        "third": [_pair(each) for each in findings.third],
        "switches": {name: _switch(switch) for name, switch in findings.switches.items()},
        "faults": [
            {"kind": f.kind, "channel": f.channel, "time_s": f.time_s, "end_s": f.end_s,
             "travel_percent": f.travel_percent, "gravity": f.gravity,
             "text": fault_words(f.why, TERMINAL)}
            for f in findings.faults],
        "return_times": [
            {"start_s": r.start_s, "seconds": r.seconds, "quick": r.quick}
            for r in findings.return_times],
        "return_limit_s": findings.return_limit_s,
        "dead_bands": {name: _dead_band(b) for name, b in findings.dead_bands.items()},
        "remedies": {
            name: [{"kind": r.kind, "amount": r.amount, "unit": r.unit,
                    "rest_volts": r.rest_volts, "full_volts": r.full_volts,
                    "lost_travel_percent": r.lost_travel_percent, "text": in_words(r.why)}
                   for r in several]
            for name, several in findings.remedies.items()},
        "settings": [setting_object(s) for s in findings.settings],
        "notes": list(sentences(findings.notes)),
        "verdict": list(sentences(findings.verdict)),
        "warnings": list(sentences(findings.warnings)),
        "findings": [finding_object(f) for f in findings.coded],
        "claims": [claim_object(c) for c in findings.claims],
        "state": findings.state,
    }
    plain: dict[str, Any] = finite(result)
    return plain


def finding_object(finding: Finding, text: str | None = None) -> dict[str, Any]:
    """Return one finding as FORMATS.md has it: what has no place or channel is left out.

    text: its sentence, where it is no finding of a sweep or a log.
    """
    result: dict[str, Any] = {"code": finding.code, "gravity": finding.gravity,
                              "subject": finding.subject}
    if finding.channel is not None:
        result["channel"] = finding.channel
    for name in ("time_s", "travel_percent"):
        if math.isfinite(getattr(finding, name)):
            result[name] = getattr(finding, name)
    values = {name: plain_value(value) for name, value in finding.values.items()
              if name not in ("fault", "why")}
    made: dict[str, Any] = finite({**result, "values": values, "causes": list(finding.causes),
                   "text": sentence(finding) if text is None else text})
    return made


def claim_object(claim: Claim) -> dict[str, Any]:
    """Return one claim as FORMATS.md has it."""
    return {"claim": claim.claim, "state": claim.state, "because": list(claim.because)}


def setting_object(setting: Setting) -> dict[str, Any]:
    """Return one setting as FORMATS.md has it."""
    return {"name": setting.name, "channel": setting.channel, "value": setting.value,
            "unit": setting.unit, "why": in_words(setting.why)}


def _track(track: TrackFindings) -> dict[str, Any]:
    return {
        **_estimate("rest_volts", track.rest),
        **_estimate("rest_scatter_volts", track.rest_scatter),
        "noise_volts": track.noise_volts,
        **_estimate("full_volts", track.full),
        **_estimate("span_volts", track.span),
        "direction": track.direction,
        "rest_levels_volts": track.rest_levels.tolist(),
        "rest_times_s": track.rest_times_s.tolist(),
        "full_levels_volts": track.full_levels.tolist(),
        **_estimate("drift_volts_per_minute", track.drift_volts_per_minute),
        "lowest_volts": track.lowest_volts, "highest_volts": track.highest_volts,
        "step_volts": track.step_volts or None, "nominal_volts": track.nominal_volts,
        "supply_recorded": track.supply_recorded, "clipped": track.clipped,
        "linearity_percent": track.linearity_percent,
        "noise_along_travel": {"travel_percent": track.noise_map_percent.tolist(),
                               "noise_volts": track.noise_map_volts.tolist()},
    }


def _switch(switch: SwitchFindings) -> dict[str, Any]:
    return {"press_percent": switch.press_percent.tolist(),
            "release_percent": switch.release_percent.tolist(),
            "make_percent": switch.make_percent, "latest_percent": switch.latest_percent,
            "bounce_s": switch.bounce_s, "closed_at_rest": switch.closed_at_rest,
            "missed": switch.missed}


def _pair(pair: PairFindings) -> dict[str, Any]:
    return {
        "first": pair.first, "second": pair.second, "relation": pair.relation,
        **_estimate("gain", pair.gain), **_estimate("offset_volts", pair.offset_volts),
        **_estimate("mismatch_max_percent", pair.mismatch_max_percent),
        "mismatch_at_travel_percent": pair.mismatch_at_travel_percent,
        "mismatch_at_rest_percent": pair.mismatch_at_rest_percent,
        **_estimate("play_percent", pair.play_percent),
        "play_at_travel_percent": pair.play_at_travel_percent,
        "mismatch_along_travel": {
            "travel_percent": pair.travel_percent.tolist(),
            "press_percent": pair.mismatch_press_percent.tolist(),
            "release_percent": pair.mismatch_release_percent.tolist()},
    }


def _dead_band(band: DeadBand) -> dict[str, Any]:
    return {
        "rest_volts": band.rest_volts, "total_volts": band.total_volts,
        "release_volts": band.release_volts,
        "start_of_travel_volts": band.start_of_travel_volts,
        "lost_travel_percent": band.lost_travel_percent, "confidence": band.confidence,
        "risk": band.risk, "key_ons": band.key_ons, "key_on_hours": band.key_on_hours,
        "false_per_1000_h": band.false_per_1000_h, "weak": in_words(band.weak) or None,
        "weak_code": None if band.weak is None else band.weak_code,
        "law": band.law, "not_covered": [in_words(each) for each in band.not_covered],
        "more_lift_offs": band.more_lift_offs, "more_seconds": band.more_seconds,
        "more_lost_travel_percent": band.more_lost_travel_percent,
        "cases": [{"name": c.name, "law": LAWS[c.name], "scatter_volts": c.volts,
                   "start_of_travel_volts": c.start_of_travel_volts,
                   "lost_travel_percent": c.lost_travel_percent} for c in band.cases],
        "budget": [{"name": i.name, "volts": i.volts, "basis": i.basis, "why": in_words(i.why)}
                   for i in band.items]}


def _estimate(name: str, estimate: Estimate) -> dict[str, float]:
    return {name: estimate.value, f"{name}_uncertainty": estimate.uncertainty}


def finite(value: Any) -> Any:
    """Return `value` with every number JSON cannot hold replaced by None."""
    if isinstance(value, dict):
        return {key: finite(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [finite(inner) for inner in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
