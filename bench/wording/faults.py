"""The faults of a sweep in words: what was seen, where, how often."""

from analysis.model.finding import Reason
from bench.wording.doubts import supply_is_another
from bench.wording.face import Face, Words
from bench.wording.reasons import in_words

WORDS: dict[str, Words] = {
    "mismatch": lambda v, face: (
        f"the tracks differ by {v['percent']:.1f} % of travel at {v['travel_percent']:z.0f} % of "
        f"travel, more than the limit of {v['limit_percent']:g} %"),
}


def fault_words(said: "Reason | str", face: Face) -> str:
    """Return what was seen of a fault, without a full stop."""
    if isinstance(said, Reason) and said.code == "supply is another":
        return supply_is_another(said.values, face)
    return in_words(said, face)
