"""A key-on log on one screen: would power have come, what was found, what counts, what is next.

At most 24 lines of 80 signs; `--more` tells the reasons and the tables.
"""

import math
from pathlib import Path

from analysis.evidence.key_on import key_on_claims
from analysis.key_on.results import KeyOnFindings, TrackVerdict
from bench.files.exports.export_document import Sheet
from bench.files.exports.text_layout import many, number, wrapped
from bench.files.exports.units import convert
from bench.wording.key_on import found_lines, power_line
from bench.wording.next_step import after_log
from bench.wording.parameters import options_of
from bench.wording.shell_quote import pasted

MOST_FINDINGS = 3
_NAME, _CELL = 17, 30


def brief_key_on(findings: KeyOnFindings, log: Path, sweep: Path | None,
                 contactor: str | None = None, entered: str = "") -> str:
    """Return what a tired person needs of a key-on log, on one screen.

    sweep: the file the log was judged with; contactor: as stated on the command line, not in the
    log, so that the next command states it too; entered: the words that state the values it was
    judged by, " --entered a.rest=0.75", or "".
    """
    lines = [_head(findings, log), *wrapped(power_line(findings, key_on_claims(findings)), ""), ""]
    told = found_lines(findings)
    lines += [f"{place}. {line}" for place, line in enumerate(told[:MOST_FINDINGS], start=1)]
    if len(told) > MOST_FINDINGS:
        lines.append(f"   and {len(told) - MOST_FINDINGS} more; --more tells them with reasons")
    if told:
        lines.append("")
    lines += _tracks(findings)
    command, why = after_log(findings, log, sweep, contactor, entered)
    lines += ["", f"next: {command}"]
    if why:
        lines += wrapped(why, "      ")
    judged = "" if sweep is None else f" --sweep {pasted(sweep)}"
    stated = "" if contactor is None else f" --contactor {contactor}"
    lines.append(f"more: stillpedal watch --from {pasted(log)}{judged}{stated}{entered}"
                 f"{options_of(findings.parameters)} --more")
    return "\n".join(lines) + "\n"


def _head(findings: KeyOnFindings, log: Path) -> str:
    about = f"{many(len(findings.cycles), 'key-on')}, {findings.key_on_hours * 60:.1f} min key on"
    if not findings.recording.complete:
        about += ", file cut short"
    title = findings.recording.title or log.name
    room = 78 - len(about) - 2
    return f"{title if len(title) <= room else title[:room - 3] + '...'}: {about}"


def _tracks(findings: KeyOnFindings) -> list[str]:
    """Return what each track did and what counts for it, a column for each."""
    names = list(findings.tracks)
    # Rounded to the safe side, as every sheet of the settings has them.
    sheet = Sheet(findings.settings, findings.recording.nominal_volts)
    starts = {s.channel: convert(s, "volts", sheet).rounded(3) for s in findings.settings
              if s.name == "start_of_travel"}
    judged = findings.verdict.tracks
    rows = [("", [f"track {n}" for n in names]),
            ("shift at key-on", [number(1000 * t.shift.value, 1, "mV")
                                 for t in findings.tracks.values()])]
    if judged:
        rows += [("start of travel", [_volts(judged[n].start_of_travel_volts) if n in judged
                                      else "none given" for n in names]),
                 ("room left", [_left(judged.get(n)) for n in names])]
    rows.append(("car may add", [_bound(findings, n) for n in names]))
    rows.append(("allowed for car", [_counts(findings, n) for n in names]))
    if findings.issued:
        rows.append(("start to enter", [_volts(starts.get(n, math.nan)) for n in names]))
    lines = []
    for name, cells in rows:
        lines.append(f"{name:<{_NAME}}" + "".join(f"{c:<{_CELL}}" for c in cells).rstrip())
    if findings.issued and (findings.passed or findings.forbidding
                            or findings.verdict.applied is not False):
        lines.append("do not enter these yet")
    return lines


def _volts(volts: float) -> str:
    return number(volts, 3, "V") if math.isfinite(volts) else "none"


def _left(track: TrackVerdict | None) -> str:
    if track is None or not math.isfinite(track.margin_volts):
        return "-"
    share = ("" if math.isnan(track.margin_percent) else f" = {track.margin_percent:.1f} %")
    return f"{1000 * track.margin_volts:+.0f} mV{share}"


def _bound(findings: KeyOnFindings, name: str) -> str:
    bound = findings.tracks[name].lift_bound_volts
    if not math.isfinite(bound):
        return "no bound"
    return f"at most {1000 * bound:.1f} mV ({many(findings.more_cycles[0].logged, 'key-on')})"


def _counts(findings: KeyOnFindings, name: str) -> str:
    car = findings.car.get(name)
    assumed = 1000 * findings.parameters.car_allowance_volts
    return (f"{assumed:.1f} mV (assumed)" if car is None else
            f"{1000 * car.volts:.1f} mV "
            f"({'assumed' if car.basis == 'assumed' else 'from this log'})")
