"""Write the JSON Schemas of findings, key-on logs, comparisons, proofs and calibrations.

Run after a change of a code.

python docs/make_schemas.py. docs/findings_json.md has the words to them.
"""

import json
from pathlib import Path
from typing import Any, get_args

from analysis.evidence.claim import State
from analysis.model.finding import CHANGE_CODES, KEY_ON_CODES, SWEEP_CODES, Subject
from analysis.model.pedal_kind import KINDS, USES
from analysis.pedal.relations import RELATIONS
from analysis.proof.opened import Verdict, WireCode
from analysis.senders.calibration import CANNOT_TELL, FAIL, PASS
from bench.files.calibration_store import READ_AS
from bench.services.proof import STEPS
from bench.wording.senders import words
from bench.wording.senders.cautions import CAUTIONS

PLACE = Path(__file__).resolve().parent
NUMBER, WHOLE, TEXT = {"type": ["number", "null"]}, {"type": "integer"}, {"type": "string"}
YES_NO, NAME = {"type": "boolean"}, {"type": ["string", "null"]}
GRAVITY = {"type": "integer", "minimum": 0, "maximum": 3}
NUMBERS = {"type": "array", "items": NUMBER}
TEXTS = {"type": "array", "items": TEXT}
FILES = {"findings": "findings.schema.json", "key-on": "key_on.schema.json",
         "comparison": "comparison.schema.json", "proofs": "proofs.schema.json",
         "calibration": "calibration.schema.json"}

Schema = dict[str, Any]


def thing(properties: Schema, optional: tuple[str, ...] = ()) -> Schema:
    """Return the schema of an object with these keys; a reader must bear further ones."""
    return {"type": "object", "required": [k for k in properties if k not in optional],
            "properties": properties}


def many(items: Schema) -> Schema:
    """Return the schema of a list."""
    return {"type": "array", "items": items}


def by_name(values: Schema) -> Schema:
    """Return the schema of an object keyed by track."""
    return {"type": "object", "additionalProperties": values}


def numbers(*names: str) -> Schema:
    """Return keys that each hold a number, null where it is not known."""
    return dict.fromkeys(names, NUMBER)


def finding(codes: tuple[str, ...]) -> Schema:
    """Return the schema of one finding with these codes."""
    return thing({
        "code": {"enum": sorted(set(codes))}, "gravity": GRAVITY,
        "subject": {"enum": list(get_args(Subject))}, "channel": TEXT, "time_s": NUMBER,
        "travel_percent": NUMBER, "values": {"type": "object"}, "causes": TEXTS, "text": TEXT},
        ("channel", "time_s", "travel_percent"))


CLAIM = thing({"claim": TEXT, "state": {"enum": list(get_args(State))}, "because": TEXTS})
SETTING = thing({"name": TEXT, "channel": NAME, "value": NUMBER, "unit": TEXT, "why": TEXT})


def findings_schema() -> Schema:
    """Return the schema of `stillpedal findings --json`."""
    track = thing({
        **numbers("rest_volts", "rest_volts_uncertainty", "rest_scatter_volts", "noise_volts",
                  "full_volts", "full_volts_uncertainty", "span_volts", "span_volts_uncertainty",
                  "drift_volts_per_minute", "lowest_volts", "highest_volts", "step_volts",
                  "nominal_volts", "linearity_percent"),
        "direction": {"enum": ["rising", "falling"]}, "rest_levels_volts": NUMBERS,
        "rest_times_s": NUMBERS, "full_levels_volts": NUMBERS, "supply_recorded": YES_NO,
        "clipped": YES_NO, "noise_along_travel": thing({
            "travel_percent": NUMBERS, "noise_volts": NUMBERS})})
    one_pair = thing({
        "first": TEXT, "second": TEXT, "relation": {"enum": [row.name for row in RELATIONS]},
        **numbers("gain", "gain_uncertainty", "offset_volts", "offset_volts_uncertainty",
                  "mismatch_max_percent", "mismatch_at_travel_percent",
                  "mismatch_at_rest_percent", "play_percent", "play_at_travel_percent"),
        "mismatch_along_travel": thing({"travel_percent": NUMBERS, "press_percent": NUMBERS,
                                        "release_percent": NUMBERS})})
    pair = {"anyOf": [{"type": "null"}, one_pair]}
    switch = thing({"press_percent": NUMBERS, "release_percent": NUMBERS, "missed": WHOLE,
                    "closed_at_rest": YES_NO,
                    **numbers("make_percent", "latest_percent", "bounce_s")})
    band = thing({
        **numbers("rest_volts", "total_volts", "release_volts", "start_of_travel_volts",
                  "lost_travel_percent", "confidence", "risk", "key_on_hours",
                  "false_per_1000_h", "more_seconds", "more_lost_travel_percent"),
        "key_ons": WHOLE, "more_lift_offs": WHOLE, "weak": NAME,
        "weak_code": {"enum": [None, *sorted(SWEEP_CODES)]}, "law": TEXT, "not_covered": TEXTS,
        "cases": many(thing({"name": TEXT, "law": TEXT, **numbers(
            "scatter_volts", "start_of_travel_volts", "lost_travel_percent")})),
        "budget": many(thing({"name": TEXT, "volts": NUMBER, "basis": TEXT, "why": TEXT}))})
    return thing({
        "schema": {"const": 1},
        "recording": thing({
            "title": TEXT, "rows": WHOLE, "complete": YES_NO, "lost_samples": WHOLE,
            "started": TEXT, "purpose": TEXT, "board": TEXT, "seconds": NUMBER,
            "pedal_kind": {"enum": list(KINDS)}, "pedal_use": {"enum": list(USES)},
            "ohms_per_volt": NUMBER}, ("ohms_per_volt",)),
        "segments": many(thing({"kind": {"enum": ["rest", "press", "hold", "release"]},
                                "quick": YES_NO, **numbers("start_s", "end_s", "peak_percent")})),
        "tracks": by_name(track), "pair": pair, "third": many(one_pair),
        "switches": by_name(switch),
        "faults": many(thing({"kind": {"enum": sorted(SWEEP_CODES)}, "channel": NAME, **numbers(
            "time_s", "end_s", "travel_percent"), "gravity": GRAVITY, "text": TEXT})),
        "return_times": many(thing({**numbers("start_s", "seconds"), "quick": YES_NO})),
        "return_limit_s": NUMBER, "dead_bands": by_name(band),
        "remedies": by_name(many(thing({
            "kind": {"enum": ["turn", "trim resistor", "dead band"]}, "unit": TEXT, "text": TEXT,
            **numbers("amount", "rest_volts", "full_volts", "lost_travel_percent")}))),
        "settings": many(SETTING), "notes": TEXTS, "verdict": TEXTS, "warnings": TEXTS,
        "findings": many(finding((*SWEEP_CODES, *KEY_ON_CODES))), "claims": many(CLAIM),
        "state": {"enum": list(get_args(State))}})


def key_on_schema() -> Schema:
    """Return the schema of `stillpedal watch --json`."""
    return thing({
        "schema": {"const": 1},
        "recording": thing({
            "title": TEXT, "rows": WHOLE, "complete": YES_NO, "lost_samples": WHOLE,
            "started": TEXT, "purpose": TEXT, "board": TEXT,
            "contactor": {"enum": ["open", "closed", None]}, "key_on_hours": NUMBER}),
        "cycles": many(thing({"number": WHOLE, "found_by": TEXT, **numbers(
            "before_s", "on_s", "off_s"), "tracks": {"type": "object"}})),
        "presses": {"type": "array"}, "tracks": {"type": "object"}, "common": {"type": "object"},
        "verdict": thing({"applied": {"type": ["boolean", "null"]}, "text": TEXT, **numbers(
            "watched_s", "unchecked_s"), "tracks": {"type": "object"},
            "applications": {"type": "array"}}),
        "proofs": {"type": "object"}, "brake_events": {"type": "array"},
        "more_cycles": {"type": "array"}, "car_allowance_volts": NUMBER,
        "car": by_name(thing({"volts": NUMBER, "basis": TEXT})),
        "settings_issued_anew": YES_NO, "settings_passed": TEXTS, "noisy": TEXTS,
        "unread": {"type": "object"}, "forbidding": TEXTS, "settings": many(SETTING),
        "findings": many(finding(KEY_ON_CODES)), "claims": many(CLAIM), "notes": TEXTS,
        "sentences": TEXTS})


def comparison_schema() -> Schema:
    """Return the schema of `stillpedal compare --json`."""
    fault = thing({"kind": {"enum": sorted(SWEEP_CODES)}, "channel": NAME, "text": TEXT})
    maybe = {"type": ["boolean", "null"]}
    return thing({
        "schema": {"const": 1}, "before": TEXT, "after": TEXT, "coverage_factor": NUMBER,
        "got_worse": YES_NO, "old_settings_hold": maybe,
        "moves": many(thing({"name": TEXT, "channel": NAME, "unit": TEXT, "real": maybe,
                             "worse": maybe, **numbers("before", "after", "change",
                                                       "uncertainty")})),
        "settings": many(thing({"name": TEXT, "channel": NAME, "unit": TEXT, **numbers(
            "before", "after")})),
        "faults_new": many(fault), "faults_gone": many(fault), "sentences": TEXTS, "notes": TEXTS,
        "still_to_be_mended": TEXTS, "to_be_known": TEXTS,
        "findings": many(finding(CHANGE_CODES)), "claims": many(CLAIM),
        "later": thing({"state": {"enum": list(get_args(State))}, "claims": many(CLAIM)})})


def _proof_details() -> dict[str, Schema]:
    """Return by step what one entry of its `details` holds."""
    by_track, pair = by_name(NUMBER), {"type": "array", "items": NUMBER, "minItems": 2,
                                       "maxItems": 2}
    return {
        "wires": thing({"change": TEXT, "verdict": {"enum": list(get_args(Verdict))},
                        "code": {"enum": list(get_args(WireCode))}, "off": TEXTS,
                        "volts": by_track, "expected_volts": by_track, **numbers(
                            "beyond_s", "stopped_after_s", "resolution_s")}),
        "shake": thing({"lead": TEXT, "state": {"enum": ["loose", "holds", "not shaken"]},
                        "losses": WHOLE, "while_shaken": WHOLE, "places": TEXTS,
                        **numbers("shaken_s", "longest_s")}),
        "warm": thing({"track": TEXT, "volts_per_kelvin": {"anyOf": [
            {"type": "null"}, thing(numbers("value", "low", "high"))]},
            "rest_volts": pair, "noise_volts": pair, **numbers("lowest", "highest")}),
        "loads": thing({"load": TEXT, "state": {
            "enum": ["holds", "by word", "passes", "not shown", "not seen"]}, "shown_by": TEXTS,
                        "left_volts": by_track, **numbers(
                            "droop_volts", "ripple_hz", "ripple_volts")}),
        "drive": thing(numbers("start_s", "lift_off_s", "travel_percent", "gone_s"))}


def proofs_schema() -> Schema:
    """Return the schema of `stillpedal prove --json`."""
    details = _proof_details()
    step = thing({
        "step": {"enum": list(STEPS)}, "state": {"enum": ["proved", "failed", "open", "to do"]},
        "because": TEXTS, "file": NAME, "sha256": NAME, "when": NAME, "simulated": YES_NO,
        "details": {"type": "array"}})
    step["allOf"] = [
        {"if": {"properties": {"step": {"const": name}}},
         "then": {"properties": {"details": many(details[name]) if name in details
                                 else {"type": "array", "maxItems": 0}}}}
        for name in STEPS]
    return thing({
        "schema": {"const": 1}, "proved": YES_NO, "damaged_lines": WHOLE, "unlisted": TEXTS,
        "returns": {"anyOf": [{"type": "null"}, thing({
            "file": TEXT, "of_log": WHOLE, "cold": WHOLE, "warm": WHOLE, "least": WHOLE,
            "stand": YES_NO, "hidden_by": TEXTS, "applied": YES_NO,
            "start_of_travel_before": by_name(NUMBER), "start_of_travel_now": by_name(NUMBER)})]},
        "temperature": {"anyOf": [{"type": "null"}, thing({"file": TEXT, **numbers(
            "ppm_per_kelvin", "span_kelvin", "seen_kelvin")})]},
        "values": many(thing({"name": TEXT, "state": {"enum": [
            "as issued", "unsafe side", "safe side", "not typed", "none issued"]},
            **numbers("issued_volts", "typed_volts")})),
        "steps": many(step)})


def calibration_schema() -> Schema:
    """Return the schema of a calibration: what `meter --json` prints and `calibrations` keeps.

    A point has `volts` at the input, or `hertz` where a speed is read as a frequency.
    """
    code = {"code": {"enum": sorted(words())}, "values": {"type": "object"}}
    of_point = {"shown": NUMBER, "shown_uncertainty": NUMBER, "meter": NUMBER,
                "run": {"enum": ["up", "down"]}, "residual": NUMBER}
    point = {"anyOf": [thing({unit: NUMBER, f"{unit}_uncertainty": NUMBER, **of_point})
                       for unit in READ_AS.values()]}
    forms = ("line", "polynomial", "kinked", "beta", "steinhart-hart", "table")
    curve = thing({
        "form": {"enum": list(forms)}, "coefficients": NUMBERS, "uncertainties": NUMBERS,
        "covariance": many(NUMBERS), "covariance_between_points": many(NUMBERS), "freedom": WHOLE,
        "from_scatter": YES_NO, "degree": WHOLE, "knots_x": NUMBERS, "knots_y": NUMBERS,
        "knots_u": NUMBERS,
        **numbers("chi_squared", "chi_limit", "centre", "scale", "scatter", "shift")})
    verdict = thing({"what": {"enum": ["as found", "as calibrated"]}, "text": TEXT,
                     "result": {"enum": [PASS, FAIL, CANNOT_TELL]},
                     "why": {"anyOf": [{"type": "null"}, thing(code)]},
                     **numbers("at", "deviation", "half_width", "tolerance")})
    change = thing({"since": TEXT, "real": YES_NO, "text": TEXT, "at_volts": NUMBER,
                    "at_hertz": NUMBER, **numbers("difference", "half_width")},
                   ("at_volts", "at_hertz"))
    of_result = {
        "predictions": many(thing(numbers("shown", "value", "uncertainty", "low", "high"))),
        "diagnoses": many(thing({"name": TEXT, "value": NUMBER, "wrong": YES_NO, "text": TEXT,
                                 **code})),
        "verdicts": many(verdict),
        "enough_points": thing({"enough": YES_NO, "text": TEXT, **code}),
        "change": {"anyOf": [{"type": "null"}, change]}, "cautions": TEXTS, "notes": TEXTS,
        "caution_codes": many({"enum": sorted(CAUTIONS)}), "note_codes": many(thing(code))}
    return thing({
        "schema": {"const": 1}, "kind": TEXT, "channel": TEXT, "date": TEXT, "made_by": TEXT,
        "board": TEXT, "source": TEXT, "source_sha256": TEXT, "note": TEXT,
        "meter": thing({"name": TEXT, "text": TEXT, **numbers(
            "percent_of_reading", "absolute", "digits", "resolution")}),
        "sender": thing({"kind": TEXT, "equation": TEXT, "stated": {"type": "object"}}),
        "unit": TEXT, "x_unit": TEXT, "range": thing(numbers("low", "high")),
        "points": many(point), "curve": curve, "reason": TEXT,
        "tried": many(thing({"form": TEXT, **numbers("chi_squared", "chi_limit")})),
        "hysteresis": thing({"pairs": WHOLE, **numbers("value", "percent_of_span", "at")}),
        "repeatability": thing(numbers("value", "percent_of_span")), **of_result},
        tuple(of_result))


def schemas() -> dict[str, str]:
    """Return the text of every schema file by its name."""
    made = {"findings": findings_schema(), "key-on": key_on_schema(),
            "comparison": comparison_schema(), "proofs": proofs_schema(),
            "calibration": calibration_schema()}
    return {FILES[name]: json.dumps({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Stillpedal: {name}, schema 1", **schema}, indent=1) + "\n"
        for name, schema in made.items()}


if __name__ == "__main__":
    for name, text in schemas().items():
        (PLACE / name).write_text(text, encoding="utf-8")
