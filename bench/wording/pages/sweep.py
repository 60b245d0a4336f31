"""What the window's page Sweep says."""

from bench.wording.face import capital
from bench.wording.limb import Limb

LOUD_LINE = "What to do at the pedal, and the seconds left"
NO_TRACK = "Give at least one input the role track."
INPUTS_MORE = "Their names, roles and dividers are those of last time."
START_MORE = "You will be told what to do; being late by seconds does not matter."
WAITS = "Nothing recorded is lost; the recording waits."
RECORDING = "Recording."
NO_STEPS = "No steps: press Stop and keep when you are done."
FOLLOW = "Follow the words and the ribbon; being late does no harm."
STOP_ALREADY = "Stop already? It has only just begun, and goes on while you think."
THROW_AWAY = "Throw this recording away? It goes on while you think."
NO_PLAN = "No steps: it is recorded until it ends or you stop it."


def not_all_usable(why: str) -> str:
    """Return that the sweep just recorded cannot be used as a whole."""
    return f"Not all of it can be used: {why}."


def again(of: Limb) -> str:
    """Return what to do before the sweep is done again."""
    return f"{capital(of.off)}, then sweep again."


def start(of: Limb) -> str:
    """Return what to do before a sweep."""
    return f"{capital(of.off)}, then start."


def at_press(press: int, count: int, of: Limb) -> str:
    """Return how far the sweep has come."""
    return f"Recording: {of.press} {press} of {count}."


def no_folder(folder: str, why: str | None) -> str:
    """Return that a folder cannot be made."""
    return f"Cannot make the folder {folder} ({why}); choose another one."


def uncounted(rows: int) -> str:
    """Return what a sweep without prompts holds."""
    return f"{rows} rows, no steps to count by"


def together(first: str, path: str, of: Limb) -> str:
    """Return where a sweep stands together with the lift-offs that were added."""
    return f"{first} and the {of.lift_off}s together: {path}"


def trashed(name: str) -> str:
    """Return where a recording went that nobody wants."""
    return f"{name} went to the trash."


def put_aside(path: str) -> str:
    """Return where a recording went on a computer that has no trash."""
    return f"There is no trash here: it was put aside as {path}."
