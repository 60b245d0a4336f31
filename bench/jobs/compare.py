"""Set two recordings side by side."""

from dataclasses import dataclass
from pathlib import Path

from analysis.compare import Comparison, compare
from analysis.findings import Findings
from analysis.wishes import Wishes
from bench.jobs.findings import open_findings


@dataclass(frozen=True)
class Compared:
    """Hold both findings and what differs between them."""

    before: Findings
    after: Findings
    comparison: Comparison


def compare_files(before: Path, after: Path, wishes: Wishes | None = None) -> Compared:
    """Return what differs between two recordings of one pedal.

    Raises BadFile or AnalysisError when one of them cannot be used.
    """
    first, second = open_findings(before, wishes), open_findings(after, wishes)
    return Compared(first, second, compare(first, second))
