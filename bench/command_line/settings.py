"""`stillpedal settings FILE`: print the recommended values, each with its reason."""

import argparse
import math
import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.pedal.settings import Setting
from bench.command_line.key_on_options import add_in_car, findings_from, log_words
from bench.command_line.parameter_options import add_parameters
from bench.errors import BadCall, BadFile
from bench.services.saving import read_whole

if TYPE_CHECKING:
    from analysis.pedal.findings import Findings
    from bench.services.settings import Sheet

MOST_TEMPLATE = 1_000_000
UNITS = {"volts": "V", "percent": "% of supply", "counts": "counts"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    from bench.services.settings import settings_formats

    parser.add_argument("file", metavar="FILE", help="a recorded sweep")
    shape = parser.add_mutually_exclusive_group()
    shape.add_argument("--format", choices=sorted(settings_formats()),
                       help="write them whole in this form (default: one screen, or with --out "
                       "text)")
    shape.add_argument("--json", action="store_true", help="the same as --format json")
    shape.add_argument("--template", metavar="FILE",
                       help="fill your own list; docs/templates.md says how")
    parser.add_argument("--unit", choices=sorted(UNITS),
                        help="state levels in volts, %% of supply, or counts (with --bits)")
    parser.add_argument("--bits", type=int, metavar="N",
                        help="counts of an N-bit input that reads the supply as full scale")
    parser.add_argument("--out", metavar="PATH", help="write to a file instead of the screen")
    parser.add_argument("--strict", action="store_true",
                        help="exit with 1 when something must be repaired before driving")
    parser.add_argument("--more", action="store_true",
                        help="the reason of each value as well, not only one screen")
    add_in_car(parser)
    add_parameters(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the settings; 1 with --strict when a limit is failed."""
    from bench.services.findings import fails_a_limit
    from bench.services.settings import sheet_of

    unit = _asked_unit(arguments)
    path = Path(arguments.file)
    findings = findings_from(arguments, path)
    sheet = sheet_of(findings, path)
    if arguments.template:
        from bench.services.settings import fill

        text = fill(_template(Path(arguments.template)), sheet)
    else:
        if unit is not None:
            sheet = replace(sheet, settings=tuple(
                _stated(s, unit, arguments.bits, sheet) for s in sheet.settings))
        text = _in_form(arguments, findings, sheet, path)
    if arguments.template or arguments.out or not sys.stdout.isatty():
        # On a screen they stand in the text itself.
        for warning in sheet.warnings:
            print(f"warning: {warning}", file=sys.stderr)
    if arguments.out:
        _write(arguments, text)
    else:
        sys.stdout.write(text)
    return 1 if arguments.strict and fails_a_limit(findings) else 0


def _in_form(arguments: argparse.Namespace, findings: "Findings", sheet: "Sheet",
             path: Path) -> str:
    """Return the sheet in the format that was asked for, else on one screen."""
    from bench.services.settings import brief_settings, settings_formats

    form = "json" if arguments.json else arguments.format
    if form is not None or arguments.more or arguments.out:
        return settings_formats()[form or "text"](sheet)
    bits = "" if arguments.bits is None else f" --bits {arguments.bits}"
    stated = "" if arguments.unit is None else f" --unit {arguments.unit}"
    return brief_settings(findings, sheet, path, log_words(arguments), stated + bits)


def _write(arguments: argparse.Namespace, text: str) -> None:
    """Write the sheet where --out says, never over its own template."""
    from bench.services.saving import write_output

    out = Path(arguments.out)
    if arguments.template and os.path.exists(out) and out.samefile(arguments.template):
        raise BadCall(f"{out} is your template and is not written over; choose another --out")
    write_output(out, text)
    print(f"settings written to {arguments.out}", file=sys.stderr)


def _asked_unit(arguments: argparse.Namespace) -> str | None:
    if arguments.unit == "counts" and arguments.bits is None:
        raise BadCall("--unit counts needs the width of the input; add for example --bits 10")
    if arguments.bits is not None:
        if not 1 <= arguments.bits <= 32:
            raise BadCall(f"--bits is {arguments.bits}; use 1 to 32")
        if arguments.unit not in (None, "counts"):
            raise BadCall(f"--bits goes with --unit counts, not with --unit {arguments.unit}")
        return f"counts{arguments.bits}"
    return {"volts": "volts", "percent": "percent_of_supply", None: None}[arguments.unit]


def _template(path: Path) -> str:
    """Return the text of a template of at most MOST_TEMPLATE bytes."""
    try:
        return read_whole(path, MOST_TEMPLATE).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadFile(f"template {path} is not UTF-8 text; save it as UTF-8") from None


def _stated(setting: Setting, unit: str, bits: int | None, sheet: "Sheet") -> Setting:
    """Return a level in the unit asked for, rounded to the safe side; others as they are."""
    from bench.services.settings import convert

    if setting.unit not in ("V", "ohm") or not math.isfinite(setting.value) or (
            unit == "volts" and setting.unit == "V"):
        return setting
    value = convert(setting, unit, sheet).rounded(0 if bits else 2)
    label = f"counts of {bits} bits" if bits else (
        "% of its ohms" if setting.unit == "ohm" else UNITS["percent"])
    return replace(setting, value=value, unit=label)
