"""What the window's page Proof says around the proofs themselves: sentences, fields, notices."""

from bench.wording.cautions import CAR
from bench.wording.face import capital, listed, millivolts, small
from bench.wording.proof import TITLES, because_words, change_name, state_words

# What the car's own cautions are ticked with, all at once.
CAR_TICK = "All of the cautions for the car above are met now."
CAR_MET = "✓ The cautions for the car were read and met, for this session."
CAR_LINES = CAR
CHOOSE = "Choose the folder of this car's job, or make one."
CHOOSE_MORE = ("Sweep, key-on log, proofs, values and the signed page of one car lie in it. You "
               "can leave it at any step and come back days later.")
READING = "Reading the job…"
TICK_EACH = "Read the cautions of this step, tick each one that is so, and start."
CONNECT = "Connect a board first: both tracks, the supply, the key line, and what shows power."
START = "You are told what to do; nothing is commanded by this program."
INPUTS_FIRST = "Look at the inputs first: they are those of last time."
OTHER_RECORDING = "Something else is being recorded; this waits."
SIMULATED = "The simulated car goes on by itself."
NOTHING_LOST = "Nothing recorded is lost; the recording waits."
BY_HAND = ("No input shows power: say what power did with the two buttons. A hand cannot time "
           "100 ms, so only a failure can be told; a stop is proved by a current sensor alone.")
SWEEP_FIRST = ("A proof is judged by the limits of this pedal's sweep, so the sweep comes first.")
TYPE_BACK = "Type what the controller shows now, read from its own screen."
SIGN_FIRST = "Say whose name stands on the page."
SIGNED = "The page is signed, and nothing was done since. Pick a step to do it again."
STATES_OF_VALUES = {
    "as issued": "✓ as issued", "not typed": "not typed yet", "none issued": "none was issued"}
SETTINGS = {"start_of_travel": "start of travel", "full_travel": "full travel"}
UNITS = {"volts": "volts", "percent": "% of supply", "counts": "counts"}


def reading_of(column: str | None) -> str:
    """Return by which input power will be seen; None: by none."""
    return BY_HAND if column is None else f"Power is read from the input {column}."


def resistor_words(leads: str, ohms: float) -> str:
    """Return one resistor to be had ready."""
    return f"{ohms:g} ohm for {leads}"


def value_name(name: str) -> str:
    """Return a value's name, TRACK.SETTING, in words."""
    track, _, setting = name.rpartition(".")
    return f"{track}: {SETTINGS.get(setting, setting)}"


def typed_words(state: str, off_volts: float) -> tuple[str, str]:
    """Return what a value typed back is, and how it looks: kind of label."""
    if state == "unsafe side":
        return (f"■ {millivolts(abs(off_volts))} off on the unsafe side: enter the issued value",
                "grave")
    if state == "safe side":
        return f"▲ {millivolts(abs(off_volts))} off; costs travel", "mend"
    return STATES_OF_VALUES[state], "good" if state == "as issued" else "quiet"


def rail_words(states: list[tuple[str, str]]) -> str:
    """Return where a job stands in the few words of the rail; states: (step, state) of each."""
    failed = [TITLES[s].lower() for s, state in states if state == "failed"]
    if failed:
        return f"FAILED: {failed[0]}"
    proved = sum(state == "proved" for _, state in states)
    return f"{proved} of {len(states)} proved"


def state_line(step: str, state: str, because: tuple[str, ...], simulated: bool = False) -> str:
    """Return where one proof stands and why; simulated: nothing of it was seen on a car."""
    why = because_words(step, because)
    return f"{capital(state_words(state, simulated, step))}{f': {why}' if why else ''}"


def not_on_the_page(left: list[str]) -> str:
    """Return what the page to be signed will say is not proved; left: titles."""
    if not left:
        return "Everything before this was proved, and the page will say so."
    return f"The page will say that this was not proved: {listed([t.lower() for t in left])}."


def drift_taken_words(ppm: float, log: str) -> str:
    """Return that the sweep on show goes by the drift that its job measured."""
    return (f"The values of this sweep go by {ppm:g} ppm/K now, as measured in {log}, in place of "
            "the assumed drift with temperature.")


def first_words(repair: str, following: str) -> str:
    """Return what is to be mended before a failed step is done again, and what follows it."""
    return f"Mend first: {repair}." + (f" Then: {small(following)}" if following else "")


def kept_words(file: str, rows: int) -> str:
    """Return that a proof's recording is kept."""
    return f"Saved: {file} ({rows} rows)."


def noted_words(said: str) -> str:
    """Return that the person's word about power is in the log."""
    return f"Noted in the log: {said}."


def missing_inputs(names: tuple[str, ...]) -> str:
    """Return which inputs the board does not have."""
    return (f"No input is the track {listed(names)} of this job's sweep: name the inputs and give "
            "them the role track as in the sweep.")


def make_it(folder: str) -> str:
    """Return the question whether a folder is to be made."""
    return f"There is no folder {folder}. Make it?"


def step_of(at: int, count: int) -> str:
    """Return which prompt of how many is shown."""
    return f"Prompt {at} of {count}"


def changed_words(code: str, leads: tuple[str, ...]) -> str:
    """Return what is changed in the wiring while it is tried, "" for nothing; code: how."""
    kind = {"make open": "open", "make short": "short"}.get(code, "")
    return f"Now: {change_name(kind, leads)}." if kind else ""


def so_far_words(seconds: float) -> str:
    """Return for how long a prompt has stood that ends with Next."""
    return f"{seconds:.0f} s so far"


def then_words(following: str) -> str:
    """Return what is asked for next, "" for nothing."""
    return f"Then: {following}" if following else "Then it is over."
