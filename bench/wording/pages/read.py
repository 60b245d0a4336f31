"""What the window's page Read says."""

COPY_TIP = "Copy what is picked, else all findings (Ctrl+C)"
OPEN_MORE = "Drop a recording anywhere on this window to read it."
PICK_A_FAULT = "Faults: pick one and every plot goes to it"
RESET = "&Reset: show it whole\tHome"
NO_FAULT_BUT_REPAIR = "No fault along the travel; see above what must be repaired."
NO_FAULT_BUT_UNPROVEN = "No fault along the travel; see above what is not proven."
NO_FAULT = "No fault along the travel."


def in_the_car(others: bool, trouble: str) -> str:
    """Return what a log says of the values; others: those judged there are not these."""
    return f"In the car, with {'the values judged there' if others else 'these values'}: {trouble}"


def to_repair(count: int) -> str:
    """Return how much is to be repaired."""
    return f"{count} to repair first"


def to_know(count: int) -> str:
    """Return how much is to be known."""
    return f"{count} to know of"
