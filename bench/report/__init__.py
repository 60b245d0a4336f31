"""The page for the car's folder: one content, laid out on paper or as a web page.

Loading this package loads Qt: load it only inside a function.
"""

from bench.report.calibration import calibration
from bench.report.content import Particulars, before_after, single
from bench.report.html import html_page
from bench.report.pdf import PAPERS, pdf_bytes
from bench.report.proof import proof_page

__all__ = [
    "PAPERS", "Particulars", "before_after", "calibration", "html_page", "pdf_bytes",
    "proof_page", "single",
]
