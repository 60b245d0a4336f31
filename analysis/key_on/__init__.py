"""What key-on does to the rest readings, and the proof that the dead band holds."""

from analysis.key_on.analyse import analyse_key_on
from analysis.key_on.results import KeyOnFindings

__all__ = ["KeyOnFindings", "analyse_key_on"]
