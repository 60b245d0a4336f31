"""What key-on does to the rest readings, and the proof that the dead band holds."""

from analysis.keyon.analyse import analyse_key_on
from analysis.keyon.results import KeyOnFindings

__all__ = ["KeyOnFindings", "analyse_key_on"]
