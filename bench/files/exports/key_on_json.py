"""A key-on log's findings as JSON, schema 1 (docs/method_keyon.md); unknown numbers are null."""

import json
from dataclasses import asdict
from typing import Any

from analysis.evidence.key_on import key_on_claims
from analysis.key_on.results import KeyCycle, KeyOnFindings, TrackKeyOn
from bench.files.exports.findings_json import claim_object, finding_object, finite, setting_object
from bench.wording.key_on_found import log_sentence
from bench.wording.key_on_reasons import DIRECTION, common_text
from bench.wording.key_on_sentences import log_sentences
from bench.wording.key_on_verdict import verdict_text
from bench.wording.reasons import in_words
from bench.wording.sweep import sentences as told

SCHEMA_VERSION = 1


def key_on_json(findings: KeyOnFindings) -> str:
    """Return the findings as one JSON document."""
    return json.dumps(key_on_object(findings), indent=1, ensure_ascii=False) + "\n"


def key_on_object(findings: KeyOnFindings) -> dict[str, Any]:
    """Return what `key_on_json` writes, as plain dicts, lists, numbers and texts."""
    recording, verdict = findings.recording, findings.verdict
    result = {
        "schema": SCHEMA_VERSION,
        "recording": {
            "title": recording.title, "rows": recording.rows, "complete": recording.complete,
            "lost_samples": recording.lost_samples, "started": recording.started,
            "purpose": recording.purpose, "board": recording.board_name,
            "contactor": findings.contactor, "key_on_hours": findings.key_on_hours},
        "cycles": [_cycle(c) for c in findings.cycles],
        "presses": [asdict(p) for p in findings.presses],
        "tracks": {name: _track(t) for name, t in findings.tracks.items()},
        "common": _common(findings),
        "verdict": {
            "applied": verdict.applied, "text": verdict_text(findings),
            "watched_s": verdict.watched_s,
            "unchecked_s": verdict.unchecked_s,
            "tracks": {name: asdict(t) for name, t in verdict.tracks.items()},
            "applications": [{**asdict(a), "seconds": a.seconds} for a in verdict.applications]},
        "proofs": {name: {**asdict(p), "why": in_words(p.why)}
                   for name, p in findings.proofs.items()},
        "brake_events": [asdict(e) for e in findings.brake_events],
        "more_cycles": [{**asdict(m), "missing": m.missing} for m in findings.more_cycles],
        "car_allowance_volts": max(
            (c.volts for c in findings.car.values()), default=None),
        "car": {name: {**asdict(c), "why": in_words(c.why)}
                for name, c in findings.car.items()},
        "settings_issued_anew": findings.issued,
        "settings_passed": list(findings.passed), "noisy": list(findings.noisy),
        "unread": {c: asdict(u) for c, u in findings.unread.items()},
        "forbidding": list(told(findings.forbidding)),
        "settings": [setting_object(s) for s in findings.settings],
        "found": [finding_object(f, log_sentence(f)) for f in findings.found],
        "findings": [finding_object(f, log_sentence(f)) for f in findings.found],
        "claims": [claim_object(c) for c in key_on_claims(findings)],
        "notes": [in_words(note) for note in findings.notes],
        "sentences": [*told(findings.forbidding), *log_sentences(findings)],
    }
    plain: dict[str, Any] = finite(result)
    return plain


def _common(findings: KeyOnFindings) -> dict[str, Any]:
    common = findings.common
    return {"kind": common.kind, "column": common.column,
            "common_volts": asdict(common.common_volts), "own_volts": dict(common.own_volts),
            "text": common_text(common)}


def _cycle(cycle: KeyCycle) -> dict[str, Any]:
    return {
        "number": cycle.number, "found_by": cycle.found_by, "before_s": cycle.before_s,
        "on_s": cycle.on_s, "off_s": cycle.off_s,
        "supply_before_volts": cycle.supply_before_volts,
        "supply_after_volts": cycle.supply_after_volts,
        "supply_lowest_volts": cycle.supply_lowest_volts,
        "tracks": {name: asdict(t) for name, t in cycle.tracks.items()}}


def _track(track: TrackKeyOn) -> dict[str, Any]:
    plain = {name: value for name, value in vars(track).items()
             if name not in ("spectrum", "tones", "shift", "drift_volts_per_minute",
                             "per_degree", "follow")}
    return {
        **plain, "lift_basis": in_words(track.lift_basis),
        "direction_why": DIRECTION[track.direction_why],
        "shift": asdict(track.shift),
        "drift_volts_per_minute": asdict(track.drift_volts_per_minute),
        "per_degree": None if track.per_degree is None else asdict(track.per_degree),
        "follow": asdict(track.follow),
        "tones": [{"hertz": t.hertz, "amplitude_volts": t.amplitude_volts, "before": t.before,
                   "name": in_words(t.source), "aliases_hz": t.aliases_hz}
                  for t in track.tones],
        "spectrum": {"hertz": track.spectrum.hertz.tolist(),
                     "before_volts_per_root_hertz": track.spectrum.before.tolist(),
                     "after_volts_per_root_hertz": track.spectrum.after.tolist()},
    }
