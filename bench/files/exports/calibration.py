"""A calibration for the car's folder: a page (HTML), a table (CSV), or JSON."""

import html
import json
import math
from typing import Any

import numpy as np

from analysis.model.number_format import in_span, rounded_pair
from analysis.senders.calibration import Calibration
from bench.files.calibration_store import MeterResult, StoredCalibration, calibration_object, plain
from bench.files.exports.csv_settings import csv_text
from bench.files.exports.text_layout import many
from bench.wording.shell_quote import without_controls

CSV_COLUMNS = ("volts", "volts_uncertainty", "shown", "shown_uncertainty", "meter", "curve",
               "residual", "half_width_95", "run")
_WIDE, _HIGH, _PAD = 640.0, 230.0, 56.0
_STYLE = """
body{font:15px/1.45 Georgia,'Times New Roman',serif;color:#1c1c1c;max-width:44rem;
margin:2rem auto;padding:0 1.2rem}
h1{font-size:1.55rem;margin:0 0 .2rem}h2{font-size:1.05rem;margin:1.6rem 0 .4rem;
border-bottom:1px solid #999}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
td,th{padding:.16rem .5rem;text-align:right;border-bottom:1px solid #ddd}
th{font-weight:600;border-bottom:1px solid #888}
caption{text-align:left;font-size:.85rem;color:#444;padding:.2rem 0}
.facts td,.facts th{text-align:left;border:0}.facts th{width:10rem;color:#555;font-weight:400}
.caution{border:1.5px solid #a33;padding:.5rem .8rem;margin:.6rem 0}
.result{font-size:1.15rem;margin:.4rem 0}svg{width:100%;height:auto}
.small{font-size:.85rem;color:#444}
@media print{body{margin:0;max-width:none}h2{break-after:avoid}table,svg{break-inside:avoid}}
"""


def calibration_json(result: MeterResult) -> str:
    """Return everything as one JSON document; NaN is null."""
    return json.dumps(result_object(result), indent=1, ensure_ascii=False) + "\n"


def result_object(result: MeterResult) -> dict[str, Any]:
    """Return what `calibration_json` writes, as plain dicts and lists."""
    found = result.stored.calibration
    ends = np.linspace(found.low, found.high, 11)
    document = calibration_object(result.stored)
    document["predictions"] = [
        {"shown": float(x), "value": p.value, "uncertainty": p.uncertainty, "low": p.low,
         "high": p.high} for x in ends for p in (found.predict(float(x)),)]
    document["diagnoses"] = [
        {"name": d.name, "value": d.value if math.isfinite(d.value) else None, "wrong": d.wrong,
         "text": d.text} for d in result.diagnoses]
    document["verdicts"] = [
        {"what": v.what, "result": v.result, "at": v.at, "deviation": v.deviation,
         "half_width": v.half_width, "tolerance": v.tolerance, "text": v.text}
        for v in result.verdicts]
    document["enough_points"] = {"enough": result.enough.enough, "text": result.enough.text}
    change = result.change
    document["change"] = None if change is None else {
        "since": result.changed_since, "difference": change.difference,
        "half_width": change.half_width, "real": change.real, "at_volts": change.at_volts,
        "text": change.text}
    document["cautions"] = list(result.cautions)
    document["notes"] = list(result.notes)
    whole: dict[str, Any] = plain(document)
    return whole


def calibration_csv(stored: StoredCalibration) -> str:
    """Return one line per point (RFC 4180)."""
    found = stored.calibration
    rows = []
    for k in range(found.points.count):
        predicted = found.predict(float(found.x[k]))
        rows.append((
            float(found.points.volts[k]), float(found.points.volts_uncertainty[k]),
            float(found.x[k]), float(found.x_uncertainty[k]), float(found.points.meter[k]),
            predicted.value, float(found.residuals[k]), predicted.half_width,
            "up" if found.points.way[k] > 0 else "down"))
    return csv_text(CSV_COLUMNS, rows)


def residual_text(found: Calibration, value: float) -> str:
    """Return a deviation with two digits, without the last bits of the arithmetic."""
    span = float(np.ptp(found.points.meter)) or 1.0
    return f"{0.0 if abs(value) < 1e-9 * span else value:+.2g}"


def valid_text(found: Calibration) -> str:
    """Return the calibrated range as text, to four digits of its span."""
    low, high = (in_span(v, found.high - found.low, 4) for v in (found.low, found.high))
    return f"valid from {low} to {high} {found.x_unit} shown"


def equation_text(found: Calibration) -> str:
    """Return the calibrated curve as an equation, with uncertainties where they say something."""
    curve, unit, x = found.curve, found.unit, f"({found.x_unit} shown)"
    if unit == found.x_unit == "unit":
        # A kind that leaves the unit open, and nobody stated one.
        unit, x = "quantity", "(shown)"
    c = curve.coefficients
    error = np.sqrt(np.diagonal(found.full_covariance())) if c.size else c
    if curve.form == "line":
        offset, slope = (rounded_pair(float(v), float(u)) for v, u in zip(c, error, strict=True))
        sign = "-" if slope[0].startswith("-") else "+"
        return (f"{unit} = {offset[0]} (u {offset[1]}) {sign} {slope[0].lstrip('-')} "
                f"(u {slope[1]}) × {x}")
    if curve.form == "polynomial":
        terms = " + ".join(f"{v:.6g} z^{k}" if k else f"{v:.6g}" for k, v in enumerate(c))
        return (f"{unit} = {terms}, z = ({found.x_unit} shown - {curve.centre:.6g}) / "
                f"{curve.scale:.6g}")
    if curve.form in ("beta", "steinhart-hart"):
        names = ("", " ln R", " (ln R)^3")
        return "1/T = " + " + ".join(
            f"{v:.6g}{n}" for v, n in zip(c, names, strict=False)) + ", T in K, R in ohm"
    return f"straight pieces between {curve.knots_x.size} test points"


def calibration_html(result: MeterResult) -> str:
    """Return the page, self-contained, to be printed or kept."""
    stored, found = result.stored, result.stored.calibration
    esc = html.escape
    facts = [
        ("Channel", stored.channel), ("Sender", stored.sender.title), ("Date", stored.date),
        ("Meter", f"{found.meter.name or 'not named'}: {found.meter.text()}"),
        ("Board", stored.board), ("Points from", stored.source),
        ("SHA-256", stored.source_sha256), ("Note", stored.note), ("Made by", stored.made_by)]
    stated = "; ".join(f"{k} = {_short(v)}" for k, v in stored.sender.stated().items())
    parts = [
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\">"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">",
        f"<title>Calibration of {esc(stored.channel)}</title><style>{_STYLE}</style></head><body>"
        "<main>",
        f"<h1>Calibration of channel {esc(stored.channel)}</h1>",
        "<table class=\"facts\"><caption>What was calibrated</caption>",
        *(f"<tr><th scope=\"row\">{esc(k)}</th><td>{esc(v)}</td></tr>" for k, v in facts if v),
        "</table>",
        *(f"<p class=\"caution\">{esc(c)}</p>" for c in result.cautions),
        "<h2>Result</h2>", f"<p class=\"result\">{esc(equation_text(found))}</p>",
        f"<p>{esc(_sentence(found.reason))} {esc(_sentence(valid_text(found)))}</p>",
        *(f"<p><b>{esc(_sentence(v.text))}</b></p>" for v in result.verdicts),
        f"<p>{esc(_sentence(result.enough.text))}</p>",
        *([f"<p>{esc(_sentence(result.change.text))} (last: {esc(result.changed_since)})</p>"]
          if result.change else []),
        "<h2>Stated values</h2>", f"<p>{esc(stated)}</p>",
        *(f"<p>{'<b>' if d.wrong else ''}{esc(_sentence(d.text))}{'</b>' if d.wrong else ''}</p>"
          for d in result.diagnoses),
        "<h2>Points</h2>", _chart(found), _table(found), _spread(found), _covariance(found),
        *([
            "<h2>Notes</h2>", *(f"<p>{esc(_sentence(n))}</p>" for n in result.notes)]
          if result.notes else []),
        "<h2>Method</h2>",
        f"<p class=\"small\">{esc(stored.sender.equation)}. Line with uncertainty in both "
        "variables: ISO/TS 28037:2010, clauses 6 and 7. Intervals are for 95 %; the meter's "
        "limits count as uniform (JCGM 100:2008, 4.3.7; JCGM 101:2008). Verdicts count the "
        "uncertainty (JCGM 106:2012). This page is as good as the meter it was made with and is "
        "no certificate of an accredited laboratory.</p>",
        "</main></body></html>"]
    return without_controls("\n".join(parts) + "\n")


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _short(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(f"{v:g}" for v in value) or "none"
    return "not stated" if math.isinf(value) else f"{value:g}"


def _table(found: Calibration) -> str:
    head = ("at the input, V", f"shown, {found.x_unit}", f"meter, {found.unit}",
            f"curve, {found.unit}", f"meter less curve, {found.unit}", "± 95 %", "run")
    rows = []
    for k in range(found.points.count):
        predicted = found.predict(float(found.x[k]))
        cells = (f"{found.points.volts[k]:.5g}", f"{found.x[k]:.5g}",
                 f"{found.points.meter[k]:.6g}", f"{predicted.value:.6g}",
                 residual_text(found, float(found.residuals[k])), f"{predicted.half_width:.2g}",
                 "up" if found.points.way[k] > 0 else "down")
        rows.append("<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in cells) + "</tr>")
    return ("<table><caption>Points, curve and intervals</caption><thead><tr>"
            + "".join(f"<th scope=\"col\">{html.escape(h)}</th>" for h in head)
            + "</tr></thead><tbody>" + "".join(rows) + "</tbody></table>")


def _spread(found: Calibration) -> str:
    seen = found.spread
    words = []
    if math.isfinite(seen.hysteresis):
        words.append(f"Hysteresis {seen.hysteresis:.2g} {found.unit} "
                     f"({seen.hysteresis_percent:.2g} % of span) at {seen.hysteresis_at:.4g}")
    if math.isfinite(seen.repeatability):
        words.append(f"repeatability {seen.repeatability:.2g} {found.unit} "
                     f"({seen.repeatability_percent:.2g} % of span)")
    if not words:
        return "<p class=\"small\">No test point was visited twice: hysteresis and " \
               "repeatability are not known.</p>"
    weak = f" From {many(seen.pairs, 'pair')} of runs; three are asked for." if seen.weak else ""
    return f"<p>{html.escape('; '.join(words))}.{weak}</p>"


def _covariance(found: Calibration) -> str:
    matrix = found.full_covariance()
    if not matrix.size:
        return ""
    rows = "; ".join(", ".join(f"{v:.4g}" for v in row) for row in matrix)
    return (f"<p class=\"small\">Covariance of the coefficients, the meter's scale and zero "
            f"counted: [{rows}]</p>")


def _chart(found: Calibration) -> str:
    """Return two plots, curve and residuals, as SVG."""
    x, y = found.x, found.points.meter
    grid = np.linspace(found.low, found.high, 81)
    curve = found.curve.value(grid)
    half = np.array([found.predict(float(v)).half_width for v in grid])
    good = np.isfinite(curve)
    below = f"{found.x_unit} shown"
    first = _plot(x, y, found.points.way, grid[good], curve[good], None,
                  f"meter, {found.unit}", below)
    second = _plot(x, found.residuals, found.points.way, grid[good], 0.0 * grid[good],
                   half[good], f"meter less curve, {found.unit}, and the 95 % interval", below)
    return first + second


def _plot(x: np.ndarray, y: np.ndarray, way: np.ndarray, grid: np.ndarray, line: np.ndarray,
          half: np.ndarray | None, title: str, below: str) -> str:
    low_x, high_x = float(np.min(x)), float(np.max(x))
    spread = [y, line] + ([half, -half] if half is not None else [])
    low_y = float(min(np.min(v) for v in spread))
    high_y = float(max(np.max(v) for v in spread))
    room = 0.06 * (high_y - low_y) or 1.0
    low_y, high_y = low_y - room, high_y + room

    def px(v: float) -> float:
        return _PAD + (v - low_x) / ((high_x - low_x) or 1.0) * (_WIDE - _PAD - 28)

    def py(v: float) -> float:
        return _HIGH - 30 - (v - low_y) / (high_y - low_y) * (_HIGH - 52)

    def path(values: np.ndarray) -> str:
        return " ".join(f"{px(a):.1f},{py(b):.1f}" for a, b in zip(grid, values, strict=True))

    parts = [f'<svg viewBox="0 0 {_WIDE:.0f} {_HIGH:.0f}" font-family="sans-serif" '
             f'font-size="11" fill="#333" role="img" aria-label="{html.escape(title)}, over '
             f'{html.escape(below)}"><title>{html.escape(title)}</title>']
    if half is not None:
        back = " ".join(reversed(path(-half).split()))
        parts.append(f'<polygon points="{path(half)} {back}" fill="#d9e4ee"/>')
    parts.append(f'<polyline points="{path(line)}" fill="none" stroke="#1f5f99"/>')
    for a, b, w in zip(x, y, way, strict=True):
        shape = "-4,3 4,3 0,-4" if w > 0 else "-4,-3 4,-3 0,4"
        parts.append(f'<polygon points="{shape}" transform="translate({px(a):.1f},{py(b):.1f})" '
                     'fill="#b3401f"/>')
    bottom = _HIGH - 30
    parts.append(f'<path d="M{_PAD},12V{bottom}H{_WIDE - 20}" fill="none" stroke="#666"/>')
    for v in _ticks(low_x, high_x):
        parts.append(f'<text x="{px(v):.1f}" y="{bottom + 15}" text-anchor="middle">{v:.6g}</text>')
    for v in _ticks(low_y, high_y):
        parts.append(f'<text x="{_PAD - 5}" y="{py(v) + 4:.1f}" text-anchor="end">{v:.6g}</text>')
    parts.append(f'<text x="{_PAD + 6}" y="16">{html.escape(title)}</text>')
    parts.append(f'<text x="{_WIDE - 20}" y="{bottom - 6}" text-anchor="end" fill="#777">'
                 f'{html.escape(below)}</text></svg>')
    return "".join(parts)


def _ticks(low: float, high: float) -> np.ndarray:
    """Return four to ten round numbers between low and high."""
    span = high - low
    if not span > 0:
        return np.array([low])
    rough = span / 5.0
    power = 10.0 ** np.floor(np.log10(rough))
    step = power * next(m for m in (1.0, 2.0, 5.0, 10.0) if m * power >= 0.8 * rough)
    ticks = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return np.where(np.abs(ticks) < 1e-9 * span, 0.0, ticks)
