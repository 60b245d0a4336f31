"""Recommended values as a sheet: in every format, in other units, in a template of one's own."""

from bench.files.exports import settings_formats
from bench.files.exports.brief_settings import brief_settings
from bench.files.exports.export_document import Sheet, sheet_of
from bench.files.exports.template import fill
from bench.files.exports.units import convert, units_of

__all__ = ["Sheet", "brief_settings", "convert", "fill", "settings_formats", "sheet_of",
           "units_of"]
