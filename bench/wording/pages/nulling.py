"""What the window says while a potentiometer is turned by the needle."""

from bench.wording.limb import Limb

OF_THE_SWEEP = "where the other track rests in the sweep on show"
OF_DECIDE = "yours, from the page Decide"
CONNECT = "Waiting for readings: connect the board on the page Wire up."
SILENT = "No readings come: check the board's cable and its power."
NO_TARGET = "State the target at rest first: nothing says where this track is to sit."
ON_TARGET = "On target: tighten it, and watch that it stays."


def pressed(of: Limb) -> str:
    """Return that somebody is on the pedal."""
    return f"The {of.thing} is {of.pressed}: take the {of.limb} off, or pick the right track."


def moves(of: Limb) -> str:
    """Return that the reading has not come to rest."""
    return f"The reading moves: {of.limb} off, and let it come to rest."


def on_the_bench(volts: float) -> str:
    """Return where the target comes from: volts that the controller is to read."""
    return f"on the bench, for your {volts:.3f} V at the controller"


def turn(way: str, degrees: float) -> str:
    """Return which way to turn, and how far."""
    return f"Turn so that the reading {way}, about {degrees:.1f} degrees."


def small_print(level: float, target: float, scatter: float, element_degrees: float) -> str:
    """Return level and target in V, the scatter of single readings, and what degrees hold for."""
    return (f"reads {level:.4f} V, target {target:.4f} V, single readings scatter by "
            f"{1000 * scatter:.1f} mV; degrees hold for an element of {element_degrees:g} degrees")
