"""Long work done in parts: between two of them whoever waits may look at it, or stop it."""

from collections.abc import Callable

# Called between two parts with the share done, 0 to 1; what it raises ends the work there.
Between = Callable[[float], None]


def go_on(_share: float) -> None:
    """Let the work go on: nobody waits for it."""
