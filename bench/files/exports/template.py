"""The user's own template: plain placeholders in any text, filled with the settings.

A placeholder is `{NAME}`, `{NAME.CHANNEL}`, `{NAME.CHANNEL.UNIT}`, each with an optional
`:FORMAT`; `{{` and `}}` are braces. Nothing is evaluated: names are looked up in one table, the
format is at most `[+][0][width][.decimals](f|d)`. docs/templates.md lists them all.
"""

import difflib
import math
import re
from pathlib import Path

from analysis.pedal.settings import Setting
from bench.errors import BadCall
from bench.files.exports.export_document import Sheet, What, sheet_of
from bench.files.exports.units import convert, units_of
from bench.wording.reasons import in_words

# Settings that only two tracks have.
PAIR_SETTINGS = ("mismatch_limit", "mismatch_time")
# Wide enough for any form; a bound keeps a slip of the pen from filling the disk.
MOST_WIDTH = 200
MOST_DECIMALS = 9
_FORMAT = re.compile(r"([+]?)(0?)([0-9]{0,3})(?:\.([0-9]{1,2}))?([fd]?)")
_PIECES = re.compile(r"\{\{|\}\}|\{([^{}]*)\}|[{}]")


def fill(template: str, what: What, path: Path | None = None) -> str:
    """Return the template with every placeholder filled.

    Raises BadCall, with line and column, on a placeholder that is unknown (similar ones are
    named), on a format that is not understood, on a lone brace, and on a value that the data
    did not suffice for: a gap in a controller's list is never filled with a guess.
    """
    sheet = sheet_of(what, path)
    by_key = {_key(s): s for s in sheet.settings}
    facts = _facts(sheet)

    def replace(match: re.Match[str]) -> str:
        piece = match[0]
        if piece in ("{{", "}}"):
            return piece[0]
        where = _place(template, match.start())
        if match[1] is None:
            raise BadCall(f"template {where}: a lone {piece!r}; write {piece * 2!r} for the sign "
                          "itself")
        inside = match[1]
        if "\n" in inside or "\r" in inside:
            raise BadCall(f"template {where}: a '{{' is not closed on its line; write '{{{{' for "
                          "the sign itself")
        try:
            return _one(inside, by_key, facts, sheet)
        except BadCall as error:
            raise BadCall(f"template {where}: {error}") from None

    return _PIECES.sub(replace, template)


def _key(setting: Setting) -> str:
    return f"{setting.name}.{setting.channel}" if setting.channel else setting.name


def _facts(sheet: Sheet) -> dict[str, str | float]:
    return {
        "title": sheet.title, "started": sheet.started, "board": sheet.board,
        "file": sheet.file_name, "sha256": sheet.sha256, "made_by": sheet.program,
        "state": sheet.state,
        "warnings": " ".join(f"{w.rstrip('.')}." for w in sheet.warnings),
        "supply": float(sheet.nominal_volts),
        "track_ohms": float(sheet.track_ohms)}


def _one(inside: str, by_key: dict[str, Setting], facts: dict[str, str | float],
         sheet: Sheet) -> str:
    name, form = _split(inside, by_key, facts)
    if name in facts:
        fact = facts[name]
        return _text(fact, form) if isinstance(fact, str) else _number(fact, form, name)
    setting, unit = _find(name, by_key)
    if setting is None:
        _refuse_pair(name, by_key)
        known = [*facts, *by_key, *(f"{k}.{u.replace('N', '10')}" for k, s in by_key.items()
                                    for u in units_of(s))]
        close = difflib.get_close_matches(name, known, n=3, cutoff=0.5)
        advice = f"did you mean {' or '.join('{' + c + '}' for c in close)}?" if close else (
            "docs/templates.md lists them all")
        raise BadCall(f"unknown placeholder {{{name}}}; {advice}")
    if unit == "why":
        return _text(in_words(setting.why, sheet.face), form)
    if unit == "unit":
        return _text(setting.unit, form)
    converted = convert(setting, unit, sheet)
    decimals = _decimals(form, converted.decimals, inside)
    return _number(converted.rounded(decimals), form, inside, decimals)


def _refuse_pair(name: str, by_key: dict[str, Setting]) -> None:
    """Say what is missing when a placeholder of the pair stands for no setting."""
    if name.partition(".")[0] not in PAIR_SETTINGS:
        return
    tracks = {s.channel for s in by_key.values() if s.channel}
    if any(s.channel is None for s in by_key.values()):
        return
    why = ("there is no second track in this recording" if len(tracks) == 1 else
           "the tracks of this recording make no pair")
    raise BadCall(f"{{{name}}} is of a pair, and {why}; leave it out of the list, or sweep both "
                  "tracks")


def _split(inside: str, by_key: dict[str, Setting],
           facts: dict[str, str | float]) -> tuple[str, str]:
    """Split name from format; a channel's own name may hold a colon, so try it whole first."""
    whole = inside.strip()
    if whole in facts or _find(whole, by_key)[0] is not None:
        return whole, ""
    name, colon, form = whole.rpartition(":")
    return (name.strip(), form.strip()) if colon else (whole, "")


def _find(name: str, by_key: dict[str, Setting]) -> tuple[Setting | None, str]:
    if name in by_key:
        return by_key[name], ""
    key, _, unit = name.rpartition(".")
    setting = by_key.get(key)
    if setting is None:
        return None, ""
    known = unit in (*units_of(setting), "why", "unit") or re.fullmatch(r"counts[0-9]+", unit)
    return (setting, unit) if known else (None, "")


def _parsed(form: str, inside: str) -> tuple[str, str, int, int | None, str]:
    match = _FORMAT.fullmatch(form)
    if match is None:
        raise BadCall(f"format {form!r} in {{{inside}}} is not understood; write for example "
                      "':.2f', ':d' or ':6.1f'")
    sign, zero, width, decimals, kind = match.groups()
    if int(width or 0) > MOST_WIDTH or int(decimals or 0) > MOST_DECIMALS:
        raise BadCall(f"format {form!r} in {{{inside}}} asks for too much; use a width up to "
                      f"{MOST_WIDTH} and up to {MOST_DECIMALS} decimals")
    if kind == "d" and decimals is not None:
        raise BadCall(f"format {form!r} in {{{inside}}}: 'd' has no decimals; write "
                      f"':.{decimals}f'")
    return sign, zero, int(width or 0), None if decimals is None else int(decimals), kind


def _decimals(form: str, usual: int, inside: str) -> int:
    *_, decimals, kind = _parsed(form, inside)
    if kind == "d":
        return 0
    return usual if decimals is None else decimals


def _number(value: float, form: str, inside: str, usual: int = 3) -> str:
    if not math.isfinite(value):
        raise BadCall(f"{{{inside}}} has no value")
    sign, zero, width, decimals, kind = _parsed(form, inside)
    places = 0 if kind == "d" else usual if decimals is None else decimals
    return format(value, f"{sign}{zero}{width or ''}.{places}f")


def _text(text: str, form: str) -> str:
    match = re.fullmatch(r"([0-9]{0,3})", form)
    if match is None or int(form or 0) > MOST_WIDTH:
        raise BadCall(f"format {form!r} is for a text; write only a width up to {MOST_WIDTH}, or "
                      "none")
    return text.ljust(int(form or 0))


def _place(template: str, start: int) -> str:
    line = template.count("\n", 0, start) + 1
    column = start - template.rfind("\n", 0, start)
    return f"line {line}, column {column}"
