"""Set two recordings side by side."""

from dataclasses import dataclass
from pathlib import Path

from analysis.parameters import Parameters
from analysis.pedal.compare import Comparison, compare
from analysis.pedal.findings import Findings
from bench.files.exports.brief_comparison import brief_comparison
from bench.files.exports.comparison import comparison_json, comparison_text
from bench.services.findings import open_findings

__all__ = [
    "Compared", "Comparison", "brief_comparison", "compare", "compare_files", "comparison_json",
    "comparison_text",
]


@dataclass(frozen=True)
class Compared:
    """Hold both findings and what differs between them."""

    before: Findings
    after: Findings
    comparison: Comparison


def compare_files(before: Path, after: Path, parameters: Parameters | None = None) -> Compared:
    """Return what differs between two recordings of one pedal.

    Raises BadFile or AnalysisError when one of them cannot be used.
    """
    first, second = open_findings(before, parameters), open_findings(after, parameters)
    return Compared(first, second, compare(first, second))
