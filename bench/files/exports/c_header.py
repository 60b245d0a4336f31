"""Settings as a C header of macros; plain ISO C90, no types and no includes.

Volts stand as a floating constant, and as whole millivolts and counts for firmware without
floating point. Every whole number is rounded to its safe side.
"""

import math
import re
import unicodedata
from pathlib import Path

from analysis.pedal.settings import Setting
from bench.files.exports.export_document import CAUTION, Sheet, What, sheet_of
from bench.files.exports.units import convert
from bench.wording.reasons import in_words

# Power is asked for by these.
_NEEDED = frozenset({"start_of_travel", "release", "full_travel"})
_LONGEST_TEXT = 480
# unit asked for -> (ending of the macro, whole number)
_FORMS = {
    "V": {"volts": ("V", False), "millivolts": ("MV", True), "counts10": ("COUNTS10", True),
          "counts12": ("COUNTS12", True)},
    "ohm": {"ohms": ("OHMS", True), "ohms_from_top": ("OHMS_FROM_TOP", True)},
    "%": {"percent": ("PERCENT", False), "permille": ("PERMILLE", True)},
    "s": {"seconds": ("S", False), "milliseconds": ("MS", True)},
}


def identifiers(channels: list[str]) -> dict[str, str]:
    """Return a valid, unique part of a C identifier for every channel name, A-Z 0-9 _.

    Letters with accents lose them; anything else becomes one underscore. Two channels that
    would come out alike get a number. C90 6.1.2 (ISO/IEC 9899).
    """
    result: dict[str, str] = {}
    taken: set[str] = set()
    for channel in channels:
        plain = unicodedata.normalize("NFKD", channel).encode("ascii", "ignore").decode()
        base = re.sub(r"[^A-Z0-9]+", "_", plain.upper()).strip("_") or "CHANNEL"
        name, number = base, 2
        while name in taken:
            name, number = f"{base}_{number}", number + 1
        taken.add(name)
        result[channel] = name
    return result


def comment(text: str) -> str:
    """Return text that cannot end a C comment, nor join or replace anything in it.

    Only printable ASCII stays; `*/`, `/*`, backslashes and trigraphs are broken up.
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "replace").decode()
    plain = re.sub(r"[^ -~]", " ", plain).replace("\\", "/")
    plain = re.sub(r"\?(?=\?)", "? ", plain)
    return re.sub(r"\*(?=/)|/(?=\*)", lambda m: m[0] + " ", plain)


def settings_c_header(what: What, path: Path | None = None) -> str:
    """Return the header; an undetermined value has a comment and no macro.

    Without a start of travel, a release or a full travel it does not compile, and says why, unless
    PEDAL_ACCEPT_UNDETERMINED is defined: an undefined macro counts as 0 in a condition.
    """
    sheet = sheet_of(what, path)
    channels = list(dict.fromkeys(s.channel for s in sheet.settings if s.channel))
    names = identifiers(channels)
    lines = ["#ifndef PEDAL_SETTINGS_H", "#define PEDAL_SETTINGS_H", ""]
    lines += [f"/* {comment(f'{label}: {text}')} */" for label, text in sheet.origin()]
    if sheet.state:
        lines.append(f"/* {comment(sheet.state)} */")
    lines += [f"/* {comment(f'WARNING: {warning}')} */" for warning in sheet.warnings]
    scale = (f"Volts at the sensor, supply {sheet.nominal_volts:g} V; counts of n bits have 2^n "
             "at the supply.")
    if sheet.ohms_per_volt is not None:
        scale = f"Ohms of a two-wire rheostat of {sheet.track_ohms:g} ohm."
    lines += [f"/* {comment(CAUTION)} */", f"/* {comment(scale)} */", "",
              f"#define PEDAL_SUPPLY_MV {round(sheet.nominal_volts * 1000)}L"]
    missing = [s for s in sheet.settings if s.name in _NEEDED and not math.isfinite(s.value)]
    if missing:
        lines += ["", "#ifndef PEDAL_ACCEPT_UNDETERMINED"]
        for s in missing:
            why = in_words(s.why, sheet.face)
            lines.append(f'#error "{_quotable(f"{s.channel}, {s.name}: not determined: {why}")}"')
        lines.append("#endif")
    for setting in sheet.settings:
        lines += ["", *_macros(setting, names, sheet)]
    return "\n".join([*lines, "", "#endif", ""])


def _quotable(text: str) -> str:
    """Return text for a string in one line of source: C90 5.2.4.1 lets a line have 509 signs."""
    plain = comment(text).replace('"', "'")
    return plain if len(plain) <= _LONGEST_TEXT else f"{plain[:_LONGEST_TEXT - 4]} ..."


def _macros(setting: Setting, names: dict[str, str], sheet: Sheet) -> list[str]:
    name = re.sub(r"[^A-Z0-9]+", "_", setting.name.upper())
    stem = f"PEDAL_{names[setting.channel]}_{name}" if setting.channel else f"PEDAL_{name}"
    who = f"{setting.channel}, " if setting.channel else ""
    head = f"/* {comment(f'{who}{setting.name}: {in_words(setting.why, sheet.face)}')} */"
    if not math.isfinite(setting.value):
        return [head, f"/* {stem}: not determined */"]
    lines = [head]
    values = [(ending, f"{convert(setting, unit, sheet).rounded(0):.0f}L" if whole
               else f"{convert(setting, unit, sheet).rounded(3):.3f}")
              for unit, (ending, whole) in _FORMS.get(setting.unit, {}).items()]
    if not values:
        # A level that was already restated in a unit of the user's choice.
        ending = re.sub(r"[^A-Z0-9]+", "_", setting.unit.replace("%", "percent").upper())
        values = [(ending.strip("_"), f"{setting.value:.10g}")]
    for ending, value in values:
        # A minus would bind wrongly inside the user's expression.
        lines.append(f"#define {stem}_{ending} {f'({value})' if value.startswith('-') else value}")
    return lines
