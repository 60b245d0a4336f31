"""Settings as TOML 1.0."""

import math
from pathlib import Path

from bench.files.exports.export_document import What, sheet_of
from bench.files.exports.units import convert
from bench.files.recording_header import toml_text
from bench.wording.reasons import in_words


def settings_toml(what: What, path: Path | None = None) -> str:
    """Return one [[setting]] per value; an undetermined one has no `value` key."""
    sheet = sheet_of(what, path)
    lines = ["schema = 1", f"made_by = {toml_text(sheet.program)}",
             f"nominal_volts = {float(sheet.nominal_volts)!r}",
             f"state = {toml_text(sheet.state)}",
             f"warnings = [{', '.join(toml_text(w) for w in sheet.warnings)}]", "",
             "[recording]"]
    lines += [f"{key} = {toml_text(text)}" for key, text in (
        ("title", sheet.title), ("started", sheet.started), ("board", sheet.board),
        ("file", sheet.file_name), ("sha256", sheet.sha256))]
    for setting in sheet.settings:
        lines += ["", "[[setting]]", f"name = {toml_text(setting.name)}"]
        if setting.channel is not None:
            lines.append(f"channel = {toml_text(setting.channel)}")
        if math.isfinite(setting.value):
            value = (convert(setting, "", sheet).rounded() if setting.unit == "ohm" else
                     setting.value)
            lines.append(f"value = {float(value)!r}")
        lines += [f"unit = {toml_text(setting.unit)}",
                  f"why = {toml_text(in_words(setting.why, sheet.face))}"]
    return "\n".join(lines) + "\n"
