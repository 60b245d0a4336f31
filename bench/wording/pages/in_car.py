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
NO_SCALE = "No scale without a start of travel: open a whole sweep of it."
KEY_NOT_ON = "left: the key was not on yet"
SOUND_TIP = ("The computer's alert sound, again and again, when start of travel is passed; silent "
             "where the desktop plays none.")
MARK_TIP = "Where no input tells when the key is turned, say it here"
NOW_TIP = "Log from now on, without waiting for the key"
LOUD_LINE = "What to do with the key, and the seconds left"
AGREED = "✓ Cautions read and met, for this session."
USE_TIP = "The page Decide then goes by it, for the sweep on show only"


def logging(of: Limb) -> str:
    """Return that the log is under way, and that nobody is to be on the pedal."""
    return f"Logging: {of.off}."


def start(of: Limb) -> str:
    """Return what to do before the log is started."""
    return f"{capital(of.off)}, then start the log."


def key_cycle(at: int, of: int) -> str:
    """Return how many key-ons there were."""
    return f"Key cycle {at} of {of}"


def waits_for(what: str) -> str:
    """Return what the log waits for."""
    return f"waits for {what}; what happens shortly before is kept"
