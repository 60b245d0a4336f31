"""A calibration as a table (CSV) or JSON, and its parts as text; `bench.report` has the page."""

import json
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from analysis.model.finding import Reason
from analysis.model.number_format import in_span, rounded_pair
from analysis.senders import Diagnosis
from analysis.senders.calibration import Calibration
from bench.files.calibration_store import (
    READ_AS,
    MeterResult,
    StoredCalibration,
    calibration_object,
    plain,
)
from bench.files.exports.csv_settings import csv_text
from bench.files.exports.reasons import reason_object
from bench.wording.reasons import in_words
from bench.wording.senders import caution_lines
from bench.wording.senders.verdict import change_line, verdict_line

CSV_COLUMNS = ("shown", "shown_uncertainty", "meter", "curve", "residual", "half_width_95", "run")


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
    document["diagnoses"] = [diagnosis_object(d) for d in result.diagnoses]
    document["verdicts"] = [
        {"what": v.what, "result": v.result, "at": v.at, "deviation": v.deviation,
         "half_width": v.half_width, "tolerance": v.tolerance, "text": verdict_line(v),
         "why": None if v.why is None else reason_object(v.why)}
        for v in result.verdicts]
    document["enough_points"] = {"enough": result.enough.enough,
                                 "text": in_words(result.enough.reason),
                                 **reason_object(result.enough.reason)}
    change = result.change
    document["change"] = None if change is None else {
        "since": result.changed_since, "difference": change.difference,
        "half_width": change.half_width, "real": change.real,
        f"at_{READ_AS[result.stored.sender.input_unit]}": change.at_volts,
        "text": change_line(change)}
    document |= told_object(result.cautions, result.notes)
    whole: dict[str, Any] = plain(document)
    return whole


def diagnosis_object(found: Diagnosis) -> dict[str, Any]:
    """Return what was recognised as plain dicts: its code and values beside its sentence."""
    return {"name": found.name, "value": found.value if math.isfinite(found.value) else None,
            "wrong": found.wrong, "text": in_words(found.reason), **reason_object(found.reason)}


def told_object(warned: Sequence[str], notes: Sequence[Reason]) -> dict[str, Any]:
    """Return cautions and notes as sentences, and as codes under names of their own."""
    return {"cautions": list(caution_lines(warned)), "notes": [in_words(n) for n in notes],
            "caution_codes": list(warned), "note_codes": [reason_object(n) for n in notes]}


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
    read_as = READ_AS[stored.sender.input_unit]
    return csv_text((read_as, f"{read_as}_uncertainty", *CSV_COLUMNS), rows)


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
    if curve.form == "kinked":
        knot = in_span(curve.centre + curve.scale * float(c[3]), found.high - found.low, 3)
        return (f"{unit} = {c[0]:.6g} + {c[1]:.6g} z + {c[2]:.6g} max(0, z - {c[3]:.4g}), z = "
                f"({found.x_unit} shown - {curve.centre:.6g}) / {curve.scale:.6g}: straight, with "
                f"a kink at {knot} {found.x_unit} shown")
    if curve.form in ("beta", "steinhart-hart"):
        names = ("", " ln R", " (ln R)^3")
        return "1/T = " + " + ".join(
            f"{v:.6g}{n}" for v, n in zip(c, names, strict=False)) + ", T in K, R in ohm"
    return f"straight pieces between {curve.knots_x.size} test points"
