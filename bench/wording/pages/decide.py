"""What the window's page Decide says."""

from bench.wording.limb import Limb

PATTERNS = "Solid: measured, hatched: assumed, dotted: stated."
TURNING = "Turn the potentiometer until the needle stands on the target."
SAVED_SAYS_SO = "What is saved says so too."
COVERED = "These values cover everything known or assumed to lift the rest reading."
COVERED_MORE = "Move a slider and everything follows."
BOARD_FIRST = "Connect the board first; then come back to turn the track live."
SENSOR_SEEN_TO = "Have the sensor seen to, or accept more."
NOTHING_TO_TURN = "A Hall sensor has nothing to turn or to trim."
PICK_A_WAY = "Pick one of the three ways, or accept more."
THREE_WAYS = "The three ways stand on the left, each with its cost."
PICK = "Pick a value for its reason."
NO_VALUE = "There is no value to copy."
NO_WAYS = "Open a sweep: the three ways stand here with their costs."


def turning_more(of: Limb) -> str:
    """Return what to mind while a track is turned, and what proves it."""
    return f"{of.rests_off} Sweep again afterwards: only that proves it."


def values_then(what: str) -> str:
    """Return what is to be repaired first, and that the values found then are to be entered."""
    return f"{what} Enter the values found then, not these."


def costs_too_much(track: str, percent: float) -> str:
    """Return that a dead band costs more travel than is accepted."""
    return f"Track {track} would lose {percent:.1f} % of travel: more than you accept."


def hall_off_at_rest(track: str) -> str:
    """Return that a Hall sensor's track is off at rest, and what can be done."""
    return (f"Track {track} is off at rest: give each track its own start of travel, or have the "
            "sensor seen to.")


def off_at_rest(track: str) -> str:
    """Return that a track is off at rest, and the three ways."""
    return (f"Track {track} is off at rest: turn it, trim it, or give each track its own start of "
            "travel.")


def dead_band_costs(percent: float) -> str:
    """Return what the dearest dead band costs, for the rail."""
    return f"dead band costs {percent:.1f} %"


def has_no_dead_band(why: str) -> str:
    """Return why a track has no dead band."""
    return f"has no dead band: {why or 'the data do not suffice'}"


def costs(percent: float, over: bool) -> str:
    """Return what a track's dead band costs; over: more than is accepted."""
    return f"costs {percent:.1f} % of travel{' ▲ too much' if over else ''}"


def not_proven(doubt: str, cost: str) -> str:
    """Return why a track's dead band is not proven, beside its cost."""
    return f"is not proven: {doubt} · {cost}"


def passed_by_noise(cost: str, how_often: str, other: str) -> str:
    """Return a track's cost, and how seldom noise alone would pass its start of travel."""
    return f"{cost} · passed by noise alone in 1000 h: {how_often}{other}"


def key_of_bars(tracks: tuple[str, ...] | list[str], unit: str) -> str:
    """Return what the bars of the budget are; unit: of the numbers at the right, "" for none."""
    whose = f"Bars of {', '.join(tracks)} from top to bottom" if len(tracks) > 1 else ""
    numbers = f"{unit} at the right" if unit else ""
    return ". ".join(filter(None, (whose, numbers, PATTERNS)))


def with_yours(changed: str) -> str:
    """Return that the values are of parameters that are not the defaults."""
    return f"With parameters of yours: {changed}."


def copy_all_the_same(forbidden: str) -> str:
    """Return the question before a value is copied that must not be driven with."""
    return f"{forbidden} Copy a value all the same?"


def copied(text: str, doubted: str) -> str:
    """Return what is on the clipboard. doubted: what it is not, "" for nothing."""
    return f"Copied {text}, which is {doubted}." if doubted else f"Copied {text}."
