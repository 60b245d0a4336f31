"""The tables of a report, each from what was found."""

import math
from collections.abc import Callable

from analysis.model.estimate import Estimate
from analysis.pedal.compare import Comparison, Move
from analysis.pedal.faults import Fault
from analysis.pedal.findings import Findings
from analysis.pedal.settings import Setting
from analysis.pedal.tracks import TrackFindings
from bench.files.exports.comparison import uncertainty_told, word
from bench.files.exports.export_document import Sheet
from bench.files.exports.units import convert
from bench.plots.scale import scale_of
from bench.report.document import Block, Column, Heading, Table, Text
from bench.wording.compare import amount, before_after, label
from bench.wording.face import PAPER, REMEDIES
from bench.wording.faults import fault_words
from bench.wording.reasons import in_words
from bench.wording.settings import label as setting_label
from bench.wording.settings import reasons_once
from bench.wording.short import UNDATED
from bench.wording.sweep import sentences

_GRAVITY = {3: "do not drive", 2: "repair before driving", 1: "know of it"}
_DIGITS = {"degrees": 1, "V": 3}
MOST_FAULTS = 12


UNSEEN_SHORT = "shared short unseen"

def settings(findings: Findings, sheet: Sheet, before: Findings | None = None) -> list[Block]:
    """Return the recommended values with their reasons, or the earlier values beside them."""
    old = {(s.name, s.channel): s for s in before.settings} if before else {}
    rows: list[tuple[str, ...]] = []
    groups: list[int] = []
    last: str | None = ""
    for setting, why in zip(sheet.settings, reasons_once(sheet.settings, PAPER), strict=True):
        if setting.channel != last:
            groups.append(len(rows))
            last = setting.channel
        level, share = _value(setting, sheet)
        row = [capital(setting_label(setting)), level]
        if before is not None:
            earlier = old.get((setting.name, setting.channel))
            row.append("–" if earlier is None or not math.isfinite(earlier.value)
                       else _value(earlier, sheet)[0])
        else:
            row.append(share)
        rows.append((*row, capital(why)))
    middle = "Before" if before is not None else (
        "% of supply" if sheet.ohms_per_volt is None else "% of its ohms")
    mend = Text("These values hold for the pedal as it was swept: repair it first, sweep again, "
                "and enter the values found then.")
    return [
        Heading("Recommended settings" + (", after" if before is not None else "")),
        *([mend] if any(fault.gravity >= 2 for fault in findings.faults) else []),
        Table("Settings with their reasons",
              (Column("Setting", 0.18), Column("Value", 0.11, True), Column(middle, 0.11, True),
               Column("Why", 0.60)), tuple(rows), tuple(groups[1:])),
        Text((f"Volts at the controller's input with a supply of {sheet.nominal_volts:g} V. "
              if sheet.ohms_per_volt is None else
              f"Ohms of a two-wire rheostat of {sheet.track_ohms:g} ohm. ") + "Every "
             "value is rounded to its safe side. Enter them by the controller's own manual; a "
             "value that is not known is not to be guessed.", "small")]


def _value(setting: Setting, sheet: Sheet) -> tuple[str, str]:
    if not math.isfinite(setting.value):
        return "not known", ""
    if setting.unit == "ohm":
        return (f"{convert(setting, 'ohms', sheet).rounded(0):.0f} ohm",
                f"{convert(setting, 'percent_of_supply', sheet).rounded(1):.1f}")
    if setting.unit == "V":
        return (f"{convert(setting, 'volts', sheet).rounded(3):.3f} V",
                f"{convert(setting, 'percent_of_supply', sheet).rounded(1):.1f}")
    return f"{setting.value:g} {setting.unit}", ""


def faults(findings: Findings) -> list[Block]:
    """Return the faults, one row per kind and channel; nothing when there are none."""
    if not findings.faults:
        return []
    rows = []
    for (kind, channel), found in _grouped(findings.faults).items():
        first = found[0]
        rows.append((_named(kind, channel), _GRAVITY[first.gravity], _times(found),
                     capital(fault_words(first.why, PAPER))))
    more_kinds = len(rows) - MOST_FAULTS
    return [Heading("Faults"), Table(
        "Faults, the gravest first",
        (Column("Fault", 0.17), Column("Gravity", 0.15), Column("At, s", 0.16),
         Column("What was seen", 0.52)), tuple(rows[:MOST_FAULTS])),
        *([Text(f"{more_kinds} more kinds of fault, less grave, are listed by the program's "
                "findings.", "small")] if more_kinds > 0 else [])]


def faults_before_after(before: Findings, after: Findings) -> list[Block]:
    """Return the faults of both recordings side by side, one row per kind and channel.

    What was seen is left out: of these two recordings the verdict and the changes say it in
    words, and said thrice it would push the report beyond its pages.
    """
    old, new = _grouped(before.faults), _grouped(after.faults)
    keys = sorted({**new, **old}, key=lambda key: -max(
        found[0].gravity for found in (old.get(key), new.get(key)) if found))
    if not keys:
        return []
    rows = []
    for key in keys:
        gravity = max(group[key][0].gravity for group in (old, new) if key in group)
        rows.append((_named(*key), _GRAVITY[gravity], _times(old.get(key, [])),
                     _times(new.get(key, []))))
    return [Heading("Faults, before and after"), Table(
        "Faults of both sweeps, the gravest first",
        (Column("Fault", 0.19), Column("Gravity", 0.17), Column("Before, at s", 0.32),
         Column("After, at s", 0.32)), tuple(rows)),
        Text("What was seen stands in words above.", "small")]


def _grouped(found: tuple[Fault, ...]) -> dict[tuple[str, str | None], list[Fault]]:
    groups: dict[tuple[str, str | None], list[Fault]] = {}
    for fault in found:
        groups.setdefault((fault.kind, fault.channel), []).append(fault)
    return groups


def _named(kind: str, channel: str | None) -> str:
    return capital(kind) + (f", {channel}" if channel else "")


def _times(found: list[Fault]) -> str:
    if not found:
        return "–"
    if found[0].kind in UNDATED:
        return "all along"
    more = f" and {len(found) - 4} more" if len(found) > 4 else ""
    return ", ".join(f"{f.time_s:.2f}" for f in found[:4]) + more


def tracks(findings: Findings) -> Table:
    """Return what was measured of every track."""
    measured, scale = findings.tracks, scale_of(findings.recording)
    unit, small, fine = scale.unit, scale.small_unit, scale.small
    digits = 4 if unit == "V" else 1

    def row(name: str, tell: Callable[[TrackFindings], str]) -> tuple[str, ...]:
        return (name, *(tell(t) for t in measured.values()))

    rows = [
        row("Direction", lambda t: t.direction),
        row(f"Rest, {unit}", lambda t: estimated(t.rest, digits, scale.level)),
        row(f"Full travel, {unit}", lambda t: estimated(t.full, digits, scale.level)),
        row(f"Span, {unit}", lambda t: estimated(t.span, digits, scale.level)),
        row(f"Scatter of returns, {small}", lambda t: estimated(t.rest_scatter, 1, fine)),
        row(f"Noise at rest, {small} rms", lambda t: number(fine * t.noise_volts, 2)),
        row(f"Drift of rest, {small}/min",
            lambda t: estimated(t.drift_volts_per_minute, 1, fine)),
        row("Linearity, % of supply", lambda t: number(t.linearity_percent, 2)),
        row("Returns, and times held at full travel",
            lambda t: f"{t.rest_levels.size} and {t.full_levels.size}"),
    ]
    share = min(0.35, 0.7 / max(len(measured), 1))
    return Table("What was measured of each track",
                 (Column("", 0.3), *(Column(f"Track {n}", share, True) for n in measured)),
                 tuple(rows))


def unseen_short(findings: Findings) -> tuple[str, ...]:
    """Return what a pair of the same slope cannot show, for the paragraph beside the pair."""
    return sentences((f for f in findings.graded if f.code == UNSEEN_SHORT), PAPER)


def pair_line(findings: Findings) -> list[Block]:
    """Return the pair and the return times in one paragraph."""
    pair = findings.pair
    times = [r.seconds for r in findings.return_times if r.quick and math.isfinite(r.seconds)]
    said = []
    if pair is not None:
        scale, offset = scale_of(findings.recording), pair.offset_volts.value
        told = (f"{offset:+.4f} V" if scale.unit == "V" else
                f"{scale.level * offset:+.0f} {scale.unit}")
        said.append(
            f"Track {pair.second} = ({estimated(pair.gain, 4)}) × track {pair.first} "
            f"{told}: {pair.relation}. Largest mismatch "
            f"{estimated(pair.mismatch_max_percent, 2)} % of travel, at "
            f"{pair.mismatch_at_travel_percent:z.0f} %; play between the tracks "
            f"{estimated(pair.play_percent, 2)} % of travel.")
    said += unseen_short(findings)
    if not findings.faults and findings.sound:
        said.append("No faults were found.")
    if times:
        said.append(f"Slowest of {len(times)} returns when let go: {max(times):.2f} s; "
                    f"allowed {findings.return_limit_s:g} s.")
    return [Text(" ".join(said))] if said else []


def moves(comparison: Comparison) -> Table:
    """Return every quantity before and after, with its change and uncertainty."""
    rows = tuple(
        (capital(label(m)), *before_after(m),
         amount(m.change, m.unit, signed=True), _uncertainty(m), word(m))
        for m in comparison.moves)
    return Table(
        "What was measured, before and after",
        (Column("", 0.34), Column("Before", 0.15, True), Column("After", 0.15, True),
         Column("Change", 0.15, True), Column("Std. uncertainty", 0.13, True),
         Column("", 0.08)), rows,
        strong=tuple(i for i, m in enumerate(comparison.moves) if m.real))


def _uncertainty(move: Move) -> str:
    return uncertainty_told(move) if math.isfinite(move.uncertainty) else "–"


def remedies(findings: Findings, columns: list[str]) -> list[Block]:
    """Return the ways to repair rest; those that are closed in one sentence below."""
    rows: list[tuple[str, ...]] = []
    groups: list[int] = []
    closed: dict[str, list[str]] = {}
    scale = scale_of(findings.recording)
    for column in columns:
        groups.append(len(rows))
        for remedy in findings.remedies.get(column, ()):
            if math.isfinite(remedy.amount):
                rows.append((
                    f"{capital(remedy.kind)}, {column}",
                    f"{remedy.amount:.{_DIGITS.get(remedy.unit, 0)}f} {remedy.unit}",
                    number(scale.level * remedy.rest_volts, scale.digits),
                    number(remedy.lost_travel_percent, 1),
                    capital(in_words(remedy.why, PAPER))))
            else:
                closed.setdefault(in_words(remedy.why, PAPER), []).append(
                    f"{remedy.kind} of {column}")
    if not rows and not closed:
        return []
    # What cannot be done takes one sentence per reason, not a row per track.
    closed_text = " ".join(f"{capital(listed(ways))}: {why}." for why, ways in closed.items())
    return [Heading(REMEDIES), *([Table(
        "Remedies with their amounts",
        (Column("Remedy", 0.16), Column("Amount", 0.13, True),
         Column(f"Rest, {scale.unit}", 0.08, True), Column("Costs, %", 0.08, True),
         Column("What to do", 0.55)), tuple(rows),
        tuple(g for g in groups[1:] if g < len(rows)))] if rows else []),
        *([Text(closed_text, "small")] if closed_text else [])]


def listed(words: list[str]) -> str:
    """Return words as "a, b and c"."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def capital(text: str) -> str:
    """Return a text with a capital first letter."""
    return text[:1].upper() + text[1:]


def number(value: float, digits: int) -> str:
    """Return a number with true minus, or a dash."""
    return f"{value:.{digits}f}".replace("-", "−") if math.isfinite(value) else "–"


def estimated(estimate: Estimate, digits: int, times: float = 1.0) -> str:
    """Return a value ± one uncertainty (see Estimate) where it is known."""
    if not math.isfinite(estimate.value):
        return "–"
    value = number(times * estimate.value, digits)
    if not math.isfinite(estimate.uncertainty):
        return value
    return f"{value} ± {number(times * estimate.uncertainty, digits)}"
