"""Settings as TOML 1.0."""

import json
import math
from pathlib import Path

from bench.files.exports.export_document import What, sheet_of
from bench.wording.reasons import in_words


def toml_string(text: str) -> str:
    """Return a basic TOML string: JSON's escapes are a subset of TOML's, but for DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def settings_toml(what: What, path: Path | None = None) -> str:
    """Return one [[setting]] per value; an undetermined one has no `value` key."""
    sheet = sheet_of(what, path)
    lines = ["schema = 1", f"made_by = {toml_string(sheet.program)}",
             f"nominal_volts = {float(sheet.nominal_volts)!r}",
             f"state = {toml_string(sheet.state)}",
             f"warnings = [{', '.join(toml_string(w) for w in sheet.warnings)}]", "",
             "[recording]"]
    lines += [f"{key} = {toml_string(text)}" for key, text in (
        ("title", sheet.title), ("started", sheet.started), ("board", sheet.board),
        ("file", sheet.file_name), ("sha256", sheet.sha256))]
    for setting in sheet.settings:
        lines += ["", "[[setting]]", f"name = {toml_string(setting.name)}"]
        if setting.channel is not None:
            lines.append(f"channel = {toml_string(setting.channel)}")
        if math.isfinite(setting.value):
            lines.append(f"value = {float(setting.value)!r}")
        lines += [f"unit = {toml_string(setting.unit)}",
                  f"why = {toml_string(in_words(setting.why, sheet.face))}"]
    return "\n".join(lines) + "\n"
