"""A sweep on one screen: its state, three findings at most, what to set or repair, what is next.

At most 24 lines of 80 signs; `--more` tells the reasons and the tables.
"""

import math
from pathlib import Path

from analysis.pedal.dead_band import stated
from analysis.pedal.findings import Findings
from analysis.pedal.remedies import Remedy
from analysis.pedal.rest_direction import OF_THE_REST
from bench.files.exports.text_layout import number, wrapped
from bench.wording.claims import state_line
from bench.wording.limb import limb_of
from bench.wording.next_step import after_sweep
from bench.wording.parameters import options_of
from bench.wording.shell_quote import pasted
from bench.wording.short import short_line, shortened

MOST_FINDINGS = 3
_REPAIRS = ("turn", "trim resistor")


def brief_findings(findings: Findings, path: Path, log: str = "") -> str:
    """Return what a tired person needs of a sweep, on one screen.

    log: the words that name the key-on log in its values, " --key-on LOG", or "".
    """
    lines = [_head(findings, path), *wrapped(
        state_line(findings.state, findings.gravest, findings.claims), ""), ""]
    told = shortened(findings.coded)
    counts = {(f.kind, f.channel): 0 for f in findings.faults}
    for fault in findings.faults:
        counts[fault.kind, fault.channel] += 1
    for place, finding in enumerate(told[:MOST_FINDINGS], start=1):
        times = counts.get((finding.code, finding.channel), 1)
        lines.append(f"{place}. {short_line(finding, times)}")
    if len(told) > MOST_FINDINGS:
        lines.append(f"   and {len(told) - MOST_FINDINGS} more; --more tells them with reasons")
    if told:
        lines.append("")
    lines += _repairs(findings)
    lines += [*_values(findings), "", f"next: {after_sweep(findings, path, log)}"]
    if findings.state == "bad" and not _only_the_rest_end(findings):
        lines.append("      after the repair: only another sweep shows that it helped")
    elif findings.state == "bad":
        of = limb_of(findings.recording.pedal.use)
        lines.append(f"      the {of.thing} let go first and last, with a few quick {of.lift_off}s")
    lines.append(f"more: stillpedal findings {pasted(path)}{log}"
                 f"{options_of(findings.parameters)} --more")
    return "\n".join(lines) + "\n"


def _head(findings: Findings, path: Path) -> str:
    recording = findings.recording
    presses = sum(s.kind == "press" for s in findings.segments)
    quick = sum(s.quick for s in findings.segments)
    title, of = recording.title or path.name, limb_of(recording.pedal.use)
    about = f"{presses} {of.presses}, {quick} let go quickly"
    if not recording.complete:
        about += ", file cut short"
    room = 78 - len(about) - 2
    return f"{title if len(title) <= room else title[:room - 3] + '...'}: {about}"


def _only_the_rest_end(findings: Findings) -> bool:
    """Return whether all that is wrong is that nobody knows which end is rest."""
    return all(f.code in ("rest end not known", "costly dead band")
               for f in findings.graded if f.gravity >= 2)


def _repairs(findings: Findings) -> list[str]:
    """Return the first open repair of each track that rests off, in one line each."""
    lines = []
    for column, several in findings.remedies.items():
        chosen = next((r for r in several if r.kind in _REPAIRS and math.isfinite(r.amount)
                       and r.amount > 0), None)
        if chosen is not None:
            lines.append(f"repair: track {column}: "
                         f"{_said(chosen, _level(findings, chosen.rest_volts))}")
    lines += [f"repair: switch {f.values['switch']}: adjust it, or its cam, so that it changes "
              "before the start of travel" for f in findings.coded if f.code == "switch too late"]
    lines += ["repair: direction switch: its leads must not touch, and it must open before it makes"
              for f in findings.coded if f.code == "both directions closed"]
    return [*lines, ""] if lines else []


def _said(remedy: Remedy, level: str) -> str:
    until = f"until it rests at {level}"
    if remedy.kind == "turn":
        what = "rheostat" if "target_ohms" in remedy.why.values else "potentiometer"
        return f"turn the {what} {remedy.amount:.1f} degrees, {until}"
    return f"trim with {remedy.amount:.0f} ohm ({until})"


def _values(findings: Findings) -> list[str]:
    """Return the levels of every track; values that may not be entered are named so."""
    tracks, bands = findings.read_there, findings.dead_bands
    sound = findings.gravest < 2
    # Two levels of which nobody knows which is which have no names.
    rest, full = (("one end", "the other end") if findings.doubt is not None
                  and findings.doubt.code in OF_THE_REST else ("rest", "full travel"))
    rows = [("", [f"track {n}" for n in tracks]),
            (rest, [_level(findings, t.rest.value) for t in tracks.values()]),
            ("start of travel", [_start(findings, n) for n in tracks]),
            (full, [_level(findings, t.full.value) for t in tracks.values()])]
    if bands and all(math.isfinite(b.lost_travel_percent) for b in bands.values()):
        rows.append(("dead band uses", [f"{b.lost_travel_percent:.1f} % of travel"
                                        for b in bands.values()]))
    lines = [f"{name:<16}" + "".join(f"{cell:<20}" for cell in cells).rstrip()
             for name, cells in rows]
    if not sound and any(math.isfinite(b.start_of_travel_volts) for b in bands.values()):
        lines.append("do not enter these yet")
    return lines


def _start(findings: Findings, name: str) -> str:
    band = findings.dead_bands.get(name)
    if band is None or not math.isfinite(band.start_of_travel_volts):
        return "not known"
    return f"{_level(findings, stated(band)[1])}{'' if band.weak is None else ' not proven'}"


def _level(findings: Findings, volts: float) -> str:
    """Return a level in volts, of a rheostat in ohms."""
    per_volt = findings.recording.ohms_per_volt
    return number(volts, 3, "V") if per_volt is None else number(per_volt * volts, 0, "ohm")
