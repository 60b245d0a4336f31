"""What stands on a calibration's page, in which order."""

import math
from typing import Any

import pyqtgraph as pg

from analysis.senders.calibration import FAIL, PASS, Calibration
from bench.files.calibration_store import MeterResult
from bench.files.exports.calibration import equation_text, residual_text, valid_text
from bench.files.exports.text_layout import many
from bench.plots import PAPER, svg_of
from bench.plots.calibration import draw_points, draw_residuals
from bench.report.document import (
    Block,
    Box,
    Column,
    Document,
    Facts,
    Figure,
    Figures,
    Heading,
    Points,
    Table,
    Text,
)
from bench.report.tables import capital
from bench.wording.face import PAPER as ON_PAPER
from bench.wording.reasons import in_words
from bench.wording.senders import caution_lines, equation, title
from bench.wording.senders.verdict import change_line, meter_text, verdict_line

# Size of a figure's document in pixels.
SIZE = (470, 320)
_TONES = {PASS: "clear", FAIL: "stop"}
METHOD = (
    "Line with uncertainty in both variables: ISO/TS 28037:2010, clauses 6 and 7.",
    "Intervals are for 95 %; the meter's limits count as uniform (JCGM 100:2008, 4.3.7; JCGM "
    "101:2008).",
    "Verdicts count the uncertainty (JCGM 106:2012).",
    "This page is as good as the meter it was made with and is no certificate of an accredited "
    "laboratory.",
)


def calibration(result: MeterResult) -> Document:
    """Return the page on a channel's calibration; draws its figures."""
    stored, found = result.stored, result.stored.calibration
    facts = (
        ("Channel", stored.channel), ("Sender", title(stored.sender.kind)), ("Date", stored.date),
        ("Meter", f"{found.meter.name or 'not named'}: {meter_text(found.meter)}"),
        ("Board", stored.board), ("Points from", stored.source),
        ("SHA-256", stored.source_sha256), ("Note", stored.note), ("Made by", stored.made_by))
    stated = "; ".join(f"{k} = {_short(v)}" for k, v in stored.sender.stated().items())
    blocks: list[Block] = [Facts(tuple((label, text) for label, text in facts if text))]
    if result.cautions:
        blocks.append(Box("Caution", caution_lines(result.cautions), "caution"))
    blocks += [
        Heading("Result"),
        *(Box(_sentence(in_words(d.reason, ON_PAPER)), (), "mend") for d in result.diagnoses
          if d.wrong),
        *(Box(_sentence(verdict_line(v, ON_PAPER)), (), _TONES.get(v.result, "mend"))
          for v in result.verdicts),
        Text(_sentence(in_words(result.enough.reason, ON_PAPER))),
        Text(equation_text(found), "lead"),
        Text(f"{_sentence(in_words(found.reason, ON_PAPER))} {_sentence(valid_text(found))}")]
    if result.change is not None:
        moved = _sentence(change_line(result.change))
        blocks.append(Text(f"{moved} (last: {result.changed_since})"))
    blocks += [
        Heading("Stated values"), Text(stated),
        *(Text(_sentence(in_words(d.reason, ON_PAPER))) for d in result.diagnoses if not d.wrong),
        Heading("Points"), _figures(found), _points(found, stored.sender.input_unit),
        _spread(found), *_covariance(found)]
    if result.notes:
        blocks += [Heading("Notes"), Points(tuple(
            _sentence(in_words(n, ON_PAPER)) for n in result.notes))]
    blocks += [Heading("Method and sources"),
               Points((f"{equation(stored.sender.kind)}.", *METHOD), "small")]
    return Document(f"Calibration of channel {stored.channel}", title(stored.sender.kind),
                    stored.made_by, tuple(blocks))


def _sentence(text: str) -> str:
    return capital(text) + ("" if text.endswith(".") else ".")


def _short(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(f"{v:g}" for v in value) or "none"
    return "not stated" if math.isinf(value) else f"{value:g}"


def _figures(found: Calibration) -> Figures:
    def curve(plot: pg.PlotItem) -> None:
        draw_points(plot, found, PAPER)

    def left(plot: pg.PlotItem) -> None:
        draw_residuals(plot, found, PAPER)

    # A page that is printed has one channel's figures only: the caption need not name it.
    return Figures((
        Figure(svg_of(curve, "Meter against channel, with the calibrated curve", SIZE),
               "Every point with the curve; a mark points the way its run went."),
        Figure(svg_of(left, "Meter less curve, with the 95 % limits of the curve", SIZE),
               "What is left over; dotted: 95 % limits of the curve without the meter's own "
               "scale and zero.")), SIZE[1] / SIZE[0])


def _points(found: Calibration, input_unit: str) -> Table:
    rows = []
    for k in range(found.points.count):
        predicted = found.predict(float(found.x[k]))
        rows.append((
            f"{found.points.volts[k]:.5g}", f"{found.x[k]:.5g}", f"{found.points.meter[k]:.6g}",
            f"{predicted.value:.6g}", residual_text(found, float(found.residuals[k])),
            f"{predicted.half_width:.2g}", "up" if found.points.way[k] > 0 else "down"))
    return Table(
        "Points, curve and intervals",
        (Column(f"At the input, {input_unit}", 0.15, True),
         Column(f"Shown, {found.x_unit}", 0.15, True),
         Column(f"Meter, {found.unit}", 0.15, True), Column(f"Curve, {found.unit}", 0.15, True),
         Column(f"Meter less curve, {found.unit}", 0.2, True), Column("± 95 %", 0.1, True),
         Column("Run", 0.1)), tuple(rows), named=False)


def _spread(found: Calibration) -> Text:
    seen = found.spread
    words = []
    if math.isfinite(seen.hysteresis):
        words.append(f"hysteresis {seen.hysteresis:.2g} {found.unit} "
                     f"({seen.hysteresis_percent:.2g} % of span) at {seen.hysteresis_at:.4g}")
    if math.isfinite(seen.repeatability):
        words.append(f"repeatability {seen.repeatability:.2g} {found.unit} "
                     f"({seen.repeatability_percent:.2g} % of span)")
    if not words:
        return Text("No test point was visited twice: hysteresis and repeatability are not known.",
                    "small")
    weak = f" From {many(seen.pairs, 'pair')} of runs; three are asked for." if seen.weak else ""
    return Text(f"{_sentence('; '.join(words))}{weak}")


def _covariance(found: Calibration) -> list[Block]:
    matrix = found.full_covariance()
    if not matrix.size:
        return []
    rows = "; ".join(", ".join(f"{v:.4g}" for v in row) for row in matrix)
    return [Text("Covariance of the coefficients, the meter's scale and zero counted: "
                 f"[{rows}]", "small")]
