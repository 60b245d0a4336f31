"""A calibration as plain text: the growing line's end, what was found, and the verdict."""

import math

from analysis.senders.calibration import Calibration
from bench.files.calibration_store import MeterResult
from bench.files.exports.calibration import equation_text, residual_text, valid_text
from bench.files.exports.text_layout import many
from bench.wording.reasons import in_words
from bench.wording.senders import title
from bench.wording.senders.verdict import change_line, meter_text, verdict_line

NOT_JUDGED = "none: no allowed deviation was given (--tolerance), so nothing is judged"


def calibration_text(result: MeterResult, points: bool = True) -> str:
    """Return the calibration: what it comes to and what to do first, then what it stands on.

    points: with a row for each.
    """
    stored, found = result.stored, result.stored.calibration
    lines = [f"Channel {stored.channel}: {title(stored.sender.kind)}"]
    lines += [f"  !! {in_words(d.reason)}" for d in result.diagnoses if d.wrong]
    lines += [f"  VERDICT {said}" for said in map(verdict_line, result.verdicts)] or [
        f"  VERDICT {NOT_JUDGED}"]
    lines += [f"  {in_words(result.enough.reason)}", ""]
    lines += [f"  {equation_text(found)}", f"  {in_words(found.reason)}", f"  {valid_text(found)}",
              f"  meter      {found.meter.name or 'not named'}: {meter_text(found.meter)}"]
    lines += [f"  {in_words(d.reason)}" for d in result.diagnoses if not d.wrong]
    seen = found.spread
    if math.isfinite(seen.hysteresis):
        lines.append(f"  hysteresis {seen.hysteresis:.2g} {found.unit} "
                     f"({seen.hysteresis_percent:.2g} % of span)"
                     + (f", from {many(seen.pairs, 'pair')} of runs; three are asked for"
                        if seen.weak else ""))
    if math.isfinite(seen.repeatability):
        lines.append(f"  repeatability {seen.repeatability:.2g} {found.unit} "
                     f"({seen.repeatability_percent:.2g} % of span)")
    if result.change is not None:
        lines.append(f"  {change_line(result.change)} (last: {result.changed_since})")
    lines += [f"  note: {in_words(n)}" for n in result.notes]
    lines += ["", *_points(found, stored.sender.input_unit)] if points else [
        f"  {found.points.count} points; --more has each"]
    return "\n".join(lines) + "\n"


def _points(found: Calibration, input_unit: str) -> list[str]:
    lines = [f"  {'at input':>10s} {'shown':>10s} {'meter':>10s} {'meter less':>11s} "
              f"{'± 95 %':>8s}  run",
              f"  {input_unit:>10s} {found.x_unit:>10s} {found.unit:>10s} "
              f"{f'curve, {found.unit}':>11s} "
              f"{found.unit:>8s}"]
    for k in range(found.points.count):
        half = found.predict(float(found.x[k])).half_width
        lines.append(
            f"  {found.points.volts[k]:10.5g} {found.x[k]:10.5g} {found.points.meter[k]:10.6g} "
            f"{residual_text(found, float(found.residuals[k])):>11s} {half:8.2g}  "
            f"{'up' if found.points.way[k] > 0 else 'down'}")
    return lines
