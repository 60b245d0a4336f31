"""Settings as JSON; docs/settings.schema.json describes it (JSON Schema, draft 2020-12)."""

import json
import math
from pathlib import Path

from analysis.model.recording import Array
from analysis.pedal.response import Response
from analysis.pedal.settings import Setting
from bench.files.exports.export_document import CAUTION, Sheet, What, sheet_of
from bench.files.exports.findings_json import claim_object
from bench.files.exports.units import convert, units_of
from bench.wording.reasons import in_words

SCHEMA_VERSION = 1
_COUNTS = ("counts10", "counts12")


def settings_json(what: What, path: Path | None = None) -> str:
    """Return the settings as JSON; a value the data did not suffice for is null."""
    return json.dumps(settings_object(what, path), indent=1, ensure_ascii=False) + "\n"


def settings_object(what: What, path: Path | None = None) -> dict[str, object]:
    """Return what `settings_json` writes, as plain dicts and lists."""
    sheet = sheet_of(what, path)
    return {
        "schema": SCHEMA_VERSION,
        "kind": "throttle pedal settings",
        "made_by": sheet.program,
        "recording": {"title": sheet.title, "started": sheet.started, "board": sheet.board,
                      "file": sheet.file_name, "sha256": sheet.sha256},
        "nominal_volts": sheet.nominal_volts,
        "controller_input": sheet.controller or None,
        "settings": [_one(setting, sheet) for setting in sheet.settings],
        "response": [_response(r, sheet.ohms_per_volt) for r in sheet.responses],
        "state": sheet.state,
        "claims": [claim_object(c) for c in sheet.claims],
        "warnings": list(sheet.warnings),
        "notes": list(sheet.notes),
        "caution": CAUTION,
    }


def _response(response: Response, ohms_per_volt: float | None) -> dict[str, object]:
    """Return the demand along travel, every % of it; a rheostat's in place of volts in ohms."""
    whole = slice(None, None, (len(response.travel_percent) - 1) // 100)
    ends = ("begins_percent", "ends_percent", "full_percent", "lost_percent")
    return {
        "channel": response.column,
        **{name: value if math.isfinite(value := getattr(response, name)) else None
           for name in ends},
        "travel_percent": _rounded(response.travel_percent[whole]),
        **({"volts": _rounded(response.volts[whole])} if ohms_per_volt is None else
           {"ohms": _rounded(ohms_per_volt * response.volts[whole])}),
        "demand_percent": _rounded(response.demand_percent[whole])}


def _rounded(values: Array) -> list[float]:
    return [round(float(v), 4) for v in values]


def _one(setting: Setting, sheet: Sheet) -> dict[str, object]:
    known = math.isfinite(setting.value)
    if setting.unit == "ohm":
        return {"name": setting.name, "channel": setting.channel, "unit": "ohm",
                "value": convert(setting, "ohms", sheet).rounded(0) if known else None,
                "why": in_words(setting.why, sheet.face)}
    row: dict[str, object] = {
        "name": setting.name, "channel": setting.channel,
        "value": setting.value if known else None, "unit": setting.unit,
        "why": in_words(setting.why, sheet.face)}
    if known and setting.unit == "V":
        units = [u for u in units_of(setting) if u in ("millivolts", "percent_of_supply")]
        row["rounded"] = {
            unit: convert(setting, unit, sheet).rounded() for unit in (*units, *_COUNTS)}
    return row
