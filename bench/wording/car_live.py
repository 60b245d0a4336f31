"""What is said in the car while a log runs, keyed by code; read from the driver's seat."""

from collections.abc import Mapping

from bench.wording.limb import FOOT, Limb
from bench.wording.state_bar import HARD

# The three answers, as large choices: what each means for what the log can give.
CONTACTOR_CHOICES: Mapping[str | None, tuple[str, str]] = {
    "open": ("Stays open", "The first log: the motor cannot move the car. What is assumed stands."),
    "closed": ("Closes", "After an open one was all well: only such a log may lower what is "
               "assumed."),
    None: ("Not known", "What is assumed stands, whatever the log shows."),
}
WAITING, BELOW = "Nothing judged yet.", "Below start of travel so far."
TURN_ON, LEAVE_ON = "Turn the key on.", "Leave the key on."
TURN_OFF, LEAVE_OFF = "Turn the key off.", "Leave the key off."

_OPEN = {
    "no readings now": lambda v: "no readings come now",
    "other pedal": lambda v: "this is not the pedal of the sweep",
    "no start of travel": lambda v: f"no start of travel for track {_listed(v['tracks'])}",
    "track not logged": lambda v: f"track {_listed(v['tracks'])} of the sweep is not logged",
    "supply not logged": lambda v: "the supply is not logged",
    "key not logged": lambda v: "no input tells when the key is on",
    "rate too low": lambda v: f"readings come only every {v['step_s']:.2f}{HARD}s",
    "rows lost": lambda v: f"no readings for {v['longest_s']:.2f}{HARD}s with the key on",
    "no reading": lambda v: f"track {_listed(v['tracks'])} gave no reading with the key on",
    "track clipped": lambda v: f"track {_listed(v['tracks'])} reads the end of its input's range",
    "supply clipped": lambda v: "the supply reads the end of its input's range",
}


def open_words(code: str, values: Mapping[str, object]) -> str:
    """Return what was not seen, for a code of `bench.services.car_live`, without a full stop."""
    return _OPEN[code](values)


def verdict_words(state: str, why: tuple[tuple[str, Mapping[str, object]], ...],
                  passed: tuple[str, ...]) -> str:
    """Return how a running log stands, in one line; passed: tracks that reached start of travel."""
    if state == "passed":
        return f"■ START OF TRAVEL PASSED: track {', '.join(passed)}"
    if state == "open":
        return f"▲ No verdict: {open_words(*why[0])}."
    return {"waiting": WAITING, "below": BELOW}[state]


def same_pedal_words(answer: str, missing: tuple[str, ...] = (), of: Limb = FOOT) -> str:
    """Return whether the pedal is that of the sweep, or why it cannot be told."""
    return {
        "yes": "Yes: it rests where the sweep's pedal rests.",
        "no": "No: it rests elsewhere. This log will not count for the sweep's values.",
        "no sweep": "Not known: no sweep is open. Open the one of this pedal, to be judged by it.",
        "sweep too thin": "Not known: the sweep on show has too few returns to tell by. Sweep "
                          "again, whole.",
        "no board": "Not known yet: no readings.",
        "other tracks": f"No: track {', '.join(missing)} of the sweep is not connected.",
        "no supply": "Not known yet: the pedal has no supply. If the key feeds it, the log tells.",
        "key on": "Not known yet: the key is on, and the car adds its part. Turn it off.",
        "moving": f"Not known yet: the readings move. {of.rests_off}",
    }[answer]


def rest_words(column: str, swept: float, now: float, off: float, allowed: float,
               of: Limb = FOOT) -> str:
    """Return one track's rest beside the sweep's: volts, and how far off it may be."""
    apart = abs(round(1e3 * off))
    where = ("no difference" if not apart else
             f"{apart}{HARD}mV further {of.towards if off > 0 else of.away}")
    return (f"{column}: now {now:.3f}{HARD}V, in the sweep {swept:.3f}{HARD}V: {where}; up to "
            f"{1e3 * allowed:.0f}{HARD}mV is the pedal's own.")


def _listed(tracks: object) -> str:
    assert isinstance(tracks, tuple)
    return ", ".join(tracks)
