"""Settings as a sheet of plain text, to be read or printed."""

import math
import textwrap
from pathlib import Path

from bench.files.exports.export_document import CAUTION, What, sheet_of
from bench.files.exports.units import convert, units_of
from bench.wording.face import capital
from bench.wording.response import response_lines
from bench.wording.settings import label, reasons_once

WIDTH = 78


def settings_text(what: What, path: Path | None = None) -> str:
    """Return the settings one per line, each with its reason below it."""
    sheet = sheet_of(what, path)
    lines = ["Recommended settings", "=" * len("Recommended settings"), ""]
    origin = sheet.origin()
    lines += [f"{name + ':':<11} {text}" for name, text in origin] + [""] * bool(origin)
    where = "the controller's input" if sheet.controller else "the sensor"
    scale = (f"Volts are at {where} with a supply of {sheet.nominal_volts:g} V; % is of that "
             "supply, counts are for a 10-bit input on it. Every value is rounded safely.")
    if sheet.ohms_per_volt is not None:
        scale = (f"Values are in ohms of a rheostat of {sheet.track_ohms:g} ohm; % is of that. "
                 "Every value is rounded safely.")
    elif sheet.controller:
        scale += f" {capital(sheet.controller)}."
    lines += [*textwrap.wrap(scale, WIDTH), ""]
    if sheet.state:
        lines += [*textwrap.wrap(sheet.state, WIDTH), ""]
    for warning in sheet.warnings:
        lines += [*textwrap.wrap(f"! {warning}", WIDTH, subsequent_indent="  "), ""]
    wide = max((len(label(s)) for s in sheet.settings), default=0)
    for setting, why in zip(sheet.settings, reasons_once(sheet.settings, sheet.face), strict=True):
        if not math.isfinite(setting.value):
            value = "not determined"
        elif setting.unit == "ohm":
            share = convert(setting, "percent_of_supply", sheet).rounded(1)
            value = f"{convert(setting, 'ohms', sheet).rounded(0):7.0f} ohm {share:5.1f} %"
        elif "percent_of_supply" in units_of(setting):
            volts = convert(setting, "volts", sheet).rounded(3)
            share = convert(setting, "percent_of_supply", sheet).rounded(1)
            counts = convert(setting, "counts10", sheet).rounded(0)
            value = f"{volts:7.3f} V   {share:5.1f} %   {counts:5.0f} counts"
        elif units_of(setting):
            value = f"{convert(setting, '', sheet).rounded(3):7g} {setting.unit}"
        else:
            value = f"{setting.value:7g} {setting.unit}"
        lines.append(f"{label(setting):<{wide}}  {value}")
        lines += textwrap.wrap(why, WIDTH, initial_indent="    ",
                               subsequent_indent="    ")
    for text in response_lines(sheet.responses, sheet.use, sheet.ohms_per_volt):
        lines += [text] if len(text) <= WIDTH else textwrap.wrap(text, WIDTH)
    for note in sheet.notes:
        lines += ["", *textwrap.wrap(f"Note: {note}", WIDTH)]
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines) + "\n"
