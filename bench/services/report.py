"""Write the report on one recording or on two of one pedal, and the page of a calibration."""

import datetime
import importlib
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

from analysis.parameters import Parameters
from analysis.pedal.compare import compare
from analysis.pedal.findings import Findings
from bench.errors import BadCall
from bench.files.calibration_store import MeterResult
from bench.files.exports.calibration import calibration_csv, calibration_json
from bench.files.exports.export_document import sheet_of
from bench.files.exports.files import refuse_existing, refuse_no_folder, write_output
from bench.files.job_standing import Proofs
from bench.services.findings import open_findings
from bench.services.key_on import open_in_car
from bench.services.warmth import warmed

ENDINGS = (".pdf", ".html", ".htm")
CALIBRATION_ENDINGS = (*ENDINGS, ".json", ".csv")


@dataclass(frozen=True)
class ReportOptions:
    """Hold what a report is to be made of, beside its recording.

    before: an earlier recording of the same pedal, for a report on what changed. key_on: a log
    of this pedal in its car, whose allowance the values are issued with; contactor: of that log.
    warm: a log whose measured drift with temperature they go by.
    by, vehicle, remark: what only the user knows; "" leaves a line. number: take the next free
    name when the report's is taken.
    """

    before: Path | None = None
    key_on: Path | None = None
    contactor: str | None = None
    by: str = ""
    vehicle: str = ""
    remark: str = ""
    paper: str = "a4"
    number: bool = False
    warm: Path | None = None


def write_report(source: Path, out: Path, parameters: Parameters | None = None,
                 options: ReportOptions | None = None) -> Path:
    """Write the report to `out` (.pdf or .html) and return where it lies.

    Raises BadCall on another ending or paper, BadFile or AnalysisError when a recording cannot
    be used, or when `out` is there already or cannot be written.
    """
    asked = options or ReportOptions()
    _check(out, asked)
    findings = (warmed(open_findings(source, parameters), asked.warm) if asked.key_on is None else
                open_in_car(source, asked.key_on, parameters, asked.contactor, asked.warm))
    earlier = None if asked.before is None else open_findings(asked.before, parameters)
    return write_report_of(findings, source, out, asked, earlier)


def write_report_of(findings: Findings, source: Path | None, out: Path, options: ReportOptions,
                    earlier: Findings | None = None) -> Path:
    """Write the report on findings as they are, to `out`, and return where it lies.

    source: the recording's file, None when it is there no more. earlier: what was found in the
    recording of `options.before`; `options.key_on` and its contactor are not read again, for the
    values were issued with them already.
    Raises BadCall on another ending or paper, BadFile when `out` cannot be written.
    """
    _check(out, options)
    report = _engine("'stillpedal findings'")
    particulars = report.Particulars(options.by, options.vehicle, options.remark)
    sheet = sheet_of(findings, source)
    if earlier is None:
        document = report.single(findings, sheet, particulars)
    else:
        document = report.before_after(
            earlier, findings, (sheet_of(earlier, options.before), sheet),
            compare(earlier, findings), particulars)
    on_paper = out.suffix.lower() == ".pdf"
    return write_output(out, report.pdf_bytes(document, options.paper) if on_paper
                        else report.html_page(document), options.number)


def _check(out: Path, options: ReportOptions) -> None:
    if out.suffix.lower() not in ENDINGS:
        raise BadCall(f"a report ends in .pdf or .html, not in {out.suffix or 'nothing'!r}; use "
                      f"--out {out.stem or 'report'}.pdf")
    if not options.number:
        refuse_existing(out)
    # Before anything is read and drawn: that takes seconds.
    refuse_no_folder(out)


def write_calibration(out: Path, result: MeterResult, paper: str = "a4") -> Path:
    """Write a calibration to `out` by its ending (`CALIBRATION_ENDINGS`); return where it lies.

    Raises BadCall on another ending or without Qt for a page, BadFile when it cannot be written.
    """
    ending = out.suffix.lower()
    if ending not in CALIBRATION_ENDINGS:
        raise BadCall(f"a calibration ends in {', '.join(CALIBRATION_ENDINGS)}, not in "
                      f"{ending or 'nothing'!r}")
    if ending == ".json":
        return write_output(out, calibration_json(result))
    if ending == ".csv":
        return write_output(out, calibration_csv(result.stored))
    report = _engine("--out with .json or .csv")
    document = report.calibration(result)
    return write_output(out, report.pdf_bytes(document, paper) if ending == ".pdf"
                        else report.html_page(document))


def write_proof_page(proofs: Proofs, out: Path, by: str, vehicle: str,
                     next_check: tuple[datetime.date, str]) -> Path:
    """Write the page of a job's proofs to `out` (.pdf or .html); return where it lies.

    Raises BadCall on another ending or without Qt, BadFile when it cannot be written.
    """
    _check(out, ReportOptions())
    report = _engine("'stillpedal prove --more'")
    document = report.proof_page(proofs, by, vehicle, datetime.date.today(), next_check)
    return write_output(out, report.pdf_bytes(document) if out.suffix.lower() == ".pdf"
                        else report.html_page(document))


def _engine(instead: str) -> ModuleType:
    """Return `bench.report`, which loads Qt; raise BadCall, naming what does without it."""
    try:
        return importlib.import_module("bench.report")
    except ImportError as error:
        raise BadCall(f"the report draws with Qt, which does not load here ({error}); install "
                      f"Qt's system libraries (the README lists them), or use {instead}, which "
                      "needs none") from None
