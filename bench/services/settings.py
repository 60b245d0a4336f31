"""Recommended values as a sheet: in every format, in other units, in a template of one's own."""

from dataclasses import replace

from analysis.pedal.findings import Findings
from analysis.pedal.response import map_points, responses
from bench.errors import BadCall
from bench.files.exports import settings_formats
from bench.files.exports.brief_settings import brief_settings
from bench.files.exports.export_document import Sheet, sheet_of
from bench.files.exports.template import fill
from bench.files.exports.units import convert, units_of

__all__ = ["Sheet", "brief_settings", "convert", "fill", "settings_formats", "sheet_of",
           "units_of", "with_map"]


def with_map(sheet: Sheet, findings: Findings, text: str) -> Sheet:
    """Return the sheet with the response along the points of a map, "0:0,30:10,100:100".

    Raise BadCall on what is no such map.
    """
    try:
        points = [(float(x), float(y)) for x, y in (each.split(":") for each in text.split(","))]
    except ValueError:
        raise BadCall(f"--map is {text!r}; give points INPUT:DEMAND in %, such as "
                      "0:0,30:10,100:100") from None
    known = responses(findings.tracks, findings.settings, replace(
        findings.parameters, pedal_kind=findings.recording.pedal.kind), map_points(points))
    return replace(sheet, responses=tuple(known.values()))
