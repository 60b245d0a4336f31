"""Write the report on one recording, or on two of one pedal."""

from pathlib import Path

from analysis.parameters import Parameters
from analysis.pedal.compare import compare
from bench.errors import BadCall
from bench.files.exports.export_document import sheet_of
from bench.files.exports.files import refuse_existing, write_output
from bench.services.findings import open_findings
from bench.services.key_on import open_in_car

ENDINGS = (".pdf", ".html", ".htm")


def write_report(source: Path, out: Path, parameters: Parameters | None = None, *,
                 before: Path | None = None, by: str = "", vehicle: str = "", remark: str = "",
                 paper: str = "a4", key_on: Path | None = None,
                 contactor: str | None = None, number: bool = False) -> Path:
    """Write the report to `out` (.pdf or .html) and return where it lies.

    before: an earlier recording of the same pedal, for a report on what changed. key_on: a log
    of this pedal in its car, whose allowance the values are issued with; contactor: of that log.
    number: take the next free name when `out` is taken.
    Raises BadCall on another ending or paper, BadFile or AnalysisError when a recording cannot
    be used, or when `out` is there already or cannot be written.
    """
    if out.suffix.lower() not in ENDINGS:
        raise BadCall(f"a report ends in .pdf or .html, not in {out.suffix or 'nothing'!r}; use "
                      f"--out {out.stem or 'report'}.pdf")
    if not number:
        refuse_existing(out)
    findings = (open_findings(source, parameters) if key_on is None else
                open_in_car(source, key_on, parameters, contactor))
    earlier = open_findings(before, parameters) if before is not None else None
    try:
        from bench.report import Particulars, before_after, html_page, pdf_bytes, single
    except ImportError as error:
        raise BadCall(f"the report draws with Qt, which does not load here ({error}); install "
                      "Qt's system libraries (the README lists them), or use 'stillpedal "
                      "findings', which needs none") from None
    particulars = Particulars(by, vehicle, remark)
    sheet = sheet_of(findings, source)
    if earlier is None:
        document = single(findings, sheet, particulars)
    else:
        document = before_after(earlier, findings, (sheet_of(earlier, before), sheet),
                                compare(earlier, findings), particulars)
    on_paper = out.suffix.lower() == ".pdf"
    return write_output(
        out, pdf_bytes(document, paper) if on_paper else html_page(document), number)
