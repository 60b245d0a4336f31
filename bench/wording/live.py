"""A reading of now in a few signs: volts, ohms, or that a lead is open."""

import math

from bench.wording.face import Face
from bench.wording.hard_spaces import HARD


def live_level(value: float, unit: str, face: Face) -> str:
    """Return a level with its unit; unit: "V" or "ohm", of which inf is an open lead."""
    if unit == "V":
        return f"{value:.3f}{face.of(' ', HARD)}V"
    if math.isnan(value):
        return "no supply"
    return "open" if math.isinf(value) else f"{value:.0f}{face.of(' ohm', f'{HARD}Ω')}"


def live_line(levels: "list[tuple[str, float, str]]", face: Face) -> str:
    """Return all inputs in a line, the unit once where they share it; (name, value, unit) each."""
    if all(unit == "V" for _, _, unit in levels):
        return " ".join(f"{name} {value:.3f}" for name, value, _ in levels) + " V"
    return "  ".join(f"{name} {live_level(value, unit, face)}" for name, value, unit in levels)


def line_state(closed: bool) -> str:
    """Return what a line of a direction switch does now."""
    return "closed" if closed else "open"


BOTH_CLOSED = "Forward and reverse are closed at once."
BOTH_CLOSED_MORE = ("Look for leads that touch, and at the switch. Where a closed line reads high, "
                    "say so on the page Decide.")
