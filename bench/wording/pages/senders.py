"""What the window's page Senders says; of senders themselves see bench/wording/senders."""

from collections.abc import Sequence

RESULT_NAME = "Result, with what it may be off by"
HOLD_STILL = "Hold it still: averaging…"
BOARD_FIRST = "Choose a board first."
STOP_FIRST = "Something is being recorded: stop that first."
START = "Say what is checked, then start."
START_MORE = "Measure with the meter before the lead goes onto the board."
NEXT = "Set the next value, wait until it is still, type what the meter shows."
SET = "Set a value, wait, type what the meter shows."
SET_MORE = "Three points at least; up and down shows hysteresis."
FIELDS_ABOUT = "Values as they stand on the part or in its leaflet; empty means as usual."


def of_channel(channel: str, points: int) -> str:
    """Return what was checked."""
    return f"Channel {channel}, {points} points"


def would_show(value: float) -> str:
    """Return what a meter would show at the simulated input."""
    return f"a meter would show {value:.2f}"


def taken(number: int, typed: str, steady: str) -> str:
    """Return the line of a point that was taken."""
    return f"{number}.  meter {typed}: {steady}"


def not_taken(why: str) -> str:
    """Return why a point was not taken."""
    return f"Not taken: {why}."


def kept(path: str) -> str:
    """Return where a calibration stands."""
    return f"Kept with its channel: {path}"


def leave_out(numbers: Sequence[int]) -> str:
    """Return the answer that points (numbers from 1) do not count; none named: the one asked of."""
    if not numbers:
        return "Leave it out"
    return f"Leave {'points' if len(numbers) > 1 else 'point'} {_both(numbers)} out"


def is_right(numbers: Sequence[int]) -> str:
    """Return the answer that points were looked at again and are right."""
    told = f"{_both(numbers)} {'are' if len(numbers) > 1 else 'is'}" if numbers else "it is"
    return f"Looked again: {told} right"


def _both(numbers: Sequence[int]) -> str:
    return " and ".join(map(str, numbers))
