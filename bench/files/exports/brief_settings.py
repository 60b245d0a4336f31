"""The values to enter on one screen: a row per value, a column per track, and what is next."""

import math
from pathlib import Path

from analysis.evidence.claim import Finding
from analysis.pedal.findings import Findings
from analysis.pedal.settings import Setting
from bench.files.exports.export_document import Sheet
from bench.files.exports.text_layout import wrapped
from bench.files.exports.units import convert
from bench.wording.next_step import after_settings, after_sweep
from bench.wording.parameters import options_of
from bench.wording.shell_quote import pasted
from bench.wording.short import short_line, shortened

MOST_WARNINGS = 3
PULLS = {"brake": "brakes from", "regeneration": "slows from"}
_PER_TRACK = ("rest", "start_of_travel", "release", "full_travel", "fault_low", "fault_high")


def brief_settings(findings: Findings, sheet: Sheet, path: Path, log: str = "",
                   unit: str = "") -> str:
    """Return the values of a sheet in at most 24 lines; `--more` has the reason of each.

    log, unit: the words that name the key-on log in the values and the unit they are stated in,
    " --key-on LOG" and " --unit counts --bits 10", or "".
    """
    channels = list(dict.fromkeys(s.channel for s in sheet.settings if s.channel))
    by_key = {(s.name, s.channel): s for s in sheet.settings}
    lines = [*wrapped(sheet.state, ""), ""]
    lines.append(f"{'':<16}" + "".join(f"{f'track {c}':<24}" for c in channels).rstrip())
    for name in _PER_TRACK:
        cells = [_cell(by_key.get((name, c)), sheet) for c in channels]
        lines.append(f"{name.replace('_', ' '):<16}" + "".join(f"{c:<24}" for c in cells).rstrip())
    pulls = {r.column: f"{r.begins_percent:.1f} % of travel" for r in sheet.responses}
    if pulls:
        lines.append(f"{PULLS.get(sheet.use, 'pulls from'):<16}"
                     + "".join(f"{pulls.get(c, '-'):<24}" for c in channels).rstrip())
    both = [s for s in sheet.settings if s.channel is None]
    if both:
        lines.append("pair: " + ", ".join(f"{s.name.replace('_', ' ')} {_cell(s, sheet)}"
                                          for s in both))
    if findings.gravest >= 2:
        lines.append("do not enter these yet")
    told: list[Finding] = shortened(findings.coded)
    lines += [f"! {short_line(f)}" for f in told[:MOST_WARNINGS]]
    if len(told) > MOST_WARNINGS:
        lines.append(f"! and {len(told) - MOST_WARNINGS} more")
    ready = findings.gravest < 2
    follow = (after_settings if ready else after_sweep)(findings, path, log)
    # Values that are not to be entered are not there to be proved.
    lines += ["", *(["Prove each value with the wheels off the ground before the first drive."]
                    if ready else []), f"next: {follow}",
              f"more: stillpedal settings {pasted(path)}{log}{unit}"
              f"{options_of(findings.parameters)} --more"]
    return "\n".join(lines) + "\n"


def _cell(setting: Setting | None, sheet: Sheet) -> str:
    """Return a value rounded to its safe side in its own unit, and its share of the supply."""
    if setting is None or not math.isfinite(setting.value):
        return "none: see --more"
    if setting.unit in ("V", "ohm"):
        share = convert(setting, "percent_of_supply", sheet).rounded(1)
        if setting.unit == "ohm":
            return f"{convert(setting, 'ohms', sheet).rounded(0):.0f} ohm  {share:.1f} %"
        return f"{convert(setting, 'volts', sheet).rounded(3):.3f} V  {share:.1f} %"
    return f"{setting.value:g} {setting.unit}"
