"""What the window's page In the car says."""

from bench.wording.face import capital
from bench.wording.limb import Limb

NOTHING_LOST = "Nothing logged is lost."
WAITS_FOR_KEY = "The log waits for the key."
CAUTIONS_FIRST = "Read the cautions for the car and see to them first."
CONNECT_MORE = "Both tracks, and the supply and the key line if you can."
CONTACTOR_FIRST = "Say what the contactor does at these key-ons."
CONTACTOR_FIRST_MORE = "And look whether this is the pedal of the sweep."
ANOTHER_PEDAL = "This is not the pedal of the sweep: the log will not count for its values."
JUDGED_BY_ANOTHER = "This log was judged by another sweep or other parameters, or by none."
JUDGED_BY_ANOTHER_MORE = "Judge it by the sweep on show if that is the pedal in this car."
NEVER_STARTED = "Nothing was logged: the log never started."


def logging(of: Limb) -> str:
    """Return that the log is under way, and that nobody is to be on the pedal."""
    return f"Logging: {of.off}."


def start(of: Limb) -> str:
    """Return what to do before the log is started."""
    return f"{capital(of.off)}, then start the log."
