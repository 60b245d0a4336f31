"""What is asked of the pedal's feed, where its supply reads the end of the input's range."""

from analysis.model.recording import Recording
from analysis.signal.reference import FED_BY, clipped_question, supply_at_end

FEEDS = {FED_BY[0]: "The board", FED_BY[1]: "A bench supply"}
NOT_SAID = "Not said"
TIP = ("The board's own supply rightly reads full scale. A bench supply that does may be higher "
       "than read: put a divider before that input.")


def feed_question(recording: Recording) -> str | None:
    """Return what is to be asked of this sweep in one line, answered by FEEDS; None for nothing."""
    if clipped_question(recording) is None or recording.supply is None:
        return None
    return (f"Input {recording.supply.column} reads full scale in "
            f"{100 * supply_at_end(recording):.0f} % of the sweep. What feeds the pedal? "
            "The answer is kept in a copy.")
