"""What the window's page Wire up says."""

from bench.wording.face import capital
from bench.wording.limb import Limb

AGREED = "✓ Read and met, for this session."
ALL_MET = "All of these cautions are met"
SAYS_NOTHING = "Nothing yet: it is not connected."
SAYS_WAITING = "Connected; waiting for it to say what it is."
RECALLED = "▲ Names, roles and dividers below are those of last time: look at each."
RIGHT = "The inputs below are right as they are"
CAUTIONS_FIRST = "Read the cautions and see to them first."
CAUTIONS_FIRST_MORE = "Once per session; reading old recordings needs none of it."
PRESS_AGREE = "Read the cautions and press All of this is so first."
SILENT = "The board is silent."
CHOOSE = "Choose your board and connect it."
NAME_A_BOARD = "Name a board first: a port, a path, or simulated."
HELLO = "Waiting for the board to say what it is…"
HELLO_MORE = "Some boards take two seconds to start."
CHECK_CABLE = "Check its cable and its power. Numbers are dashes until it sends again."
STILL_RIGHT = "Are the inputs still what they were?"
PRESS_MORE = "Give each input its name and role, then go on."
ALL_MOVE = "Every track moves: go on to the sweep."
ALL_MOVE_MORE = "Are names and roles right?"
BOARD_ABOUT = ("Pick a port that was found, type a path or a COM name, or learn with the simulated "
               "pedal.")
BOARD_NAME = "Board: a port that was found, a typed path, or simulated"
STATE_SCALE = "The board does not say what its readings mean: state it here and connect."
NO_INPUTS = "The inputs appear here when a board is connected."
EXTREMES_TIP = "The ticks on the bars are the lowest and highest seen"


def of_last_time(board: str) -> str:
    """Return the question whether the board is the one of last time."""
    return f"{board} is the one of last time: is it the one before you?"


def went_silent(board: str) -> str:
    """Return that a board stopped sending."""
    return f"{board} is silent: it stopped sending."


def unmoved(tracks: tuple[str, ...] | list[str]) -> str:
    """Return which tracks have not moved since the board was connected."""
    return f"Track {', '.join(tracks)} has not moved yet."


def press(of: Limb) -> str:
    """Return what shows whether both tracks are wired."""
    return f"{capital(of.press_it)}: both tracks should move."


def unmoved_more(of: Limb) -> str:
    """Return what to do about a track that has not moved."""
    return f"{capital(of.press_it)}. If it stays, check that track's three wires and its input."


def rate(rows_per_second: float | None) -> str:
    """Return how often a board sends."""
    return f"{rows_per_second:g} rows a second" if rows_per_second else "rate not stated"


def scale(full_scale: float, reference_volts: float) -> str:
    """Return what a board's counts are worth."""
    return f"full scale {full_scale:g} counts at {reference_volts:g} V"


def no_number(text: str, whole: bool) -> str:
    """Return that what was typed is no number above 0."""
    return f"{text!r} is no {'whole ' * whole}number above 0; correct it."


def still_is(refused: str, kept: object) -> str:
    """Return why an edit of an input was not taken, and what stands."""
    return f"{refused}. Not taken: it is still {kept}."
